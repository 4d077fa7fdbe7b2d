package jobfile

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// This file reads the part of YAML that job files and rulebooks are written in, straight into the tree and a dozen times faster
// than the library: block maps and lists, flow maps and lists, comments, and scalars on one line, plain or in quotes. It never
// decides anything else. Whatever it is not sure of, and every file that is at fault, it leaves to the library, so that errors and odd files
// are the library's. A fuzz target holds it against the library: the same tree with the same places, or nothing.

// Limits of what is read here. They lie below those of scanYAML and of the library's simple keys, and above any usual file.
const (
	plainMaxIndent   = 128  // spaces, on lines without content too
	plainMaxKey      = 128  // bytes
	plainMaxBrackets = 1024 // in the whole file, in texts too; with more of them scanYAML has to look
)

// readPlain gives the tree of a file, or nil when the library has to read it.
func readPlain(src *source, mem *Memory) *Node {
	if src.tabs {
		return nil
	}
	if bytes.Count(src.data, []byte{'['})+bytes.Count(src.data, []byte{'{'}) > plainMaxBrackets && src.scanYAML() != nil {
		return nil
	}
	r := plainReader{builder: newBuilder(src, mem), text: string(src.data), line: 1}
	if !r.toContent() || r.indent < 0 {
		return nil
	}
	root := r.block(1)
	if root == nil || r.indent >= 0 || root.Kind != Map && root.Kind != List {
		return nil
	}
	return root
}

type plainReader struct {
	builder
	text string // all of the file; texts and keys are parts of it

	pos   int
	line  int // 1-based
	start int // offset of the line
	extra int // bytes between start and pos beyond one for each character

	// indent is the indentation of the content at which toContent stopped, -1 at the end of the file.
	indent int
}

// col is the 1-based column of an offset on the current line. All bytes up to it have been looked at.
func (r *plainReader) col(offset int) int { return offset - r.start - r.extra + 1 }

// beyond counts the bytes of a part of the text beyond one for each character.
func beyond(s string) int { return len(s) - utf8.RuneCountInString(s) }

// atEnd tells whether the line or the file ends at an offset.
func (r *plainReader) atEnd(i int) bool {
	return i >= len(r.text) || r.text[i] == '\n' || r.text[i] == '\r'
}

// spaces goes on to what follows on the line.
func (r *plainReader) spaces() {
	for r.pos < len(r.text) && r.text[r.pos] == ' ' {
		r.pos++
	}
}

// nextLine goes on behind the next line break. It gives false at the end of the file.
func (r *plainReader) nextLine() bool {
	i := strings.IndexByte(r.text[r.pos:], '\n')
	if i < 0 {
		r.pos = len(r.text)
		return false
	}
	r.pos += i + 1
	r.line, r.start, r.extra = r.line+1, r.pos, 0
	return true
}

// toContent goes on from the start of a line to the next content. It gives false for what the library has to read.
func (r *plainReader) toContent() bool {
	for {
		r.spaces()
		if r.pos-r.start > plainMaxIndent {
			return false
		}
		switch {
		case r.pos >= len(r.text):
			r.indent = -1
			return true
		case r.atEnd(r.pos) || r.text[r.pos] == '#':
			if !r.nextLine() {
				r.indent = -1
				return true
			}
		default:
			r.indent = r.pos - r.start
			return true
		}
	}
}

// endLine expects that nothing but a comment follows on the line, and goes on to the next content.
func (r *plainReader) endLine() bool {
	from := r.pos
	r.spaces()
	if !r.atEnd(r.pos) && (r.text[r.pos] != '#' || r.pos == from) {
		return false
	}
	if !r.nextLine() {
		r.indent = -1
		return true
	}
	return r.toContent()
}

// entry tells whether an item of a block list begins here.
func (r *plainReader) entry() bool {
	return r.text[r.pos] == '-' && (r.atEnd(r.pos+1) || r.text[r.pos+1] == ' ')
}

// block reads the value that begins here, and goes on to the next content behind it. The caller sees to it that the content belongs
// to one of the blocks around: anything deeper would go on with this value.
func (r *plainReader) block(depth int) *Node {
	if r.entry() {
		return r.blockList(depth, false)
	}
	if colon := r.colon(); colon >= 0 {
		return r.blockMap(depth, colon)
	}
	n := r.inline(depth)
	if n == nil || !r.endLine() {
		return nil
	}
	return n
}

// key is a key with its place.
type key struct {
	text      string
	number    keyNum
	line, col int
}

// expectedKey takes the key that comes behind another as a rule, with its colon, if it stands here.
func (r *plainReader) expectedKey(k *key) bool {
	number := r.mem.next[k.number&(keysInSet-1)]
	key := r.known.plain[number]
	if !strings.HasPrefix(r.text[r.pos:], key) {
		return false
	}
	behind := r.pos + len(key)
	if behind < len(r.text) && r.text[behind] != ' ' && !r.atEnd(behind) {
		return false
	}
	k.number, k.line, k.col = number, r.line, r.col(r.pos)
	r.pos = behind
	return true
}

// colon gives the offset of the colon when a plain key and a colon stand here, or -1.
func (r *plainReader) colon() int {
	text := r.text
	if !r.startsPlain() {
		return -1
	}
	for i := r.pos + 1; i < len(text); i++ {
		for i < len(text) && plainChars[text[i]]&keyChar != 0 {
			i++
		}
		if i == len(text) {
			break
		}
		switch c := text[i]; {
		case c == ':' && (r.atEnd(i+1) || text[i+1] == ' '):
			return i
		case c == '\n' || c == '#' && text[i-1] == ' ':
			return -1
		}
	}
	return -1
}

// takeKey takes the key in front of a colon, behind another key or behind none. It gives false for what is not surely a text.
func (r *plainReader) takeKey(k *key, colon int) bool {
	text := r.text[r.pos:colon]
	if len(text) > plainMaxKey || text[len(text)-1] == ' ' {
		return false
	}
	if plainChars[text[0]]&textChar == 0 {
		if kind, _, sure := resolvePlain(text); !sure || kind != String {
			return false
		}
	}
	*k = key{text, r.keyNumber(k.number, text), r.line, r.col(r.pos)}
	if !r.src.ascii {
		r.extra += beyond(text)
	}
	r.pos = colon + 1
	return true
}

func (r *plainReader) blockMap(depth, colon int) *Node {
	if depth > MaxDepth {
		return nil
	}
	n := r.node(Map, r.line, r.col(r.pos))
	if n == nil {
		return nil
	}
	column := r.pos - r.start // only spaces and dashes stand before it
	base := len(r.mem.openMembers)
	var k key
	if !r.takeKey(&k, colon) {
		return nil
	}
	for {
		r.spaces()
		var value *Node
		switch {
		case !r.atEnd(r.pos) && r.text[r.pos] != '#':
			value = r.inline(depth + 1)
			if value == nil || !r.endLine() {
				return nil
			}
		case !r.nextLine() || !r.toContent():
			return nil
		case r.indent > column:
			value = r.block(depth + 1)
		case r.indent == column && r.entry():
			value = r.blockList(depth+1, true)
		default:
			return nil // nothing is a value too, but its place is the library's business
		}
		if value == nil || r.indent > column {
			return nil
		}
		r.add(k.text, k.number, k.line, k.col, value)
		if r.indent < column {
			break
		}
		if !r.expectedKey(&k) {
			if colon = r.colon(); colon < 0 || !r.takeKey(&k, colon) {
				return nil
			}
		}
	}
	return r.endMap(n, base)
}

// blockList reads a list whose dashes stand at the current column. One that stands no deeper than the key in front of it ends with a line
// that is no item.
func (r *plainReader) blockList(depth int, besideKey bool) *Node {
	if depth > MaxDepth {
		return nil
	}
	n := r.node(List, r.line, r.col(r.pos))
	if n == nil {
		return nil
	}
	column := r.pos - r.start
	base := len(r.mem.openItems)
	for {
		r.pos++
		r.spaces()
		if r.atEnd(r.pos) || r.text[r.pos] == '#' {
			if !r.nextLine() || !r.toContent() || r.indent <= column {
				return nil
			}
		}
		item := r.block(depth + 1)
		if item == nil || r.indent > column {
			return nil
		}
		r.mem.openItems = append(r.mem.openItems, item)
		if r.indent < column {
			break
		}
		if !r.entry() {
			if besideKey {
				break
			}
			return nil
		}
	}
	r.finishList(n, base)
	return n
}

// endMap gives a map its members, or nil when two keys are equal.
func (r *plainReader) endMap(n *Node, base int) *Node {
	if r.finishMap(n, base) {
		return nil
	}
	return n
}

// inline reads a value that begins on the current line: a scalar that ends on it, or a flow map or list.
func (r *plainReader) inline(depth int) *Node {
	switch r.text[r.pos] {
	case '{':
		return r.flowMap(depth)
	case '[':
		return r.flowList(depth)
	case '"', '\'':
		return r.quoted()
	}
	if v, end := leadingNumber(r.text[r.pos:]); end > 0 && r.atEnd(r.pos+end) {
		return r.scalar(Number, v, r.pos+end)
	}
	if !r.startsPlain() {
		return nil
	}
	text := r.text
	i := r.pos + 1
	for ; i < len(text); i++ {
		c := text[i]
		if plainChars[c]&blockChar != 0 {
			continue
		}
		if c == '\n' || c == '\r' || c == '#' && text[i-1] == ' ' {
			break
		}
		if c == ':' && (r.atEnd(i+1) || text[i+1] == ' ') {
			return nil
		}
	}
	return r.plain(i)
}

// startsPlain tells whether a plain scalar surely begins here.
func (r *plainReader) startsPlain() bool {
	c := r.text[r.pos]
	if c == '-' || c == '.' { // not the marks of a document
		return r.pos+1 < len(r.text) && plainChars[r.text[r.pos+1]]&wordChar != 0
	}
	return plainStart[c]
}

// plain makes the scalar from here to an offset, without the spaces in front of it.
func (r *plainReader) plain(end int) *Node {
	text := r.text[r.pos:end]
	for text[len(text)-1] == ' ' {
		text = text[:len(text)-1]
	}
	kind, number := String, 0.0
	if plainChars[text[0]]&textChar == 0 {
		var sure bool
		if kind, number, sure = resolvePlain(text); !sure {
			return nil
		}
	}
	if len(text) > MaxStringBytes {
		return nil
	}
	return r.scalar(kind, number, r.pos+len(text))
}

// scalar makes the scalar from here to an offset.
func (r *plainReader) scalar(kind Kind, number float64, end int) *Node {
	n := r.node(kind, r.line, r.col(r.pos))
	if n == nil {
		return nil
	}
	text := r.text[r.pos:end]
	if !r.src.ascii {
		r.extra += beyond(text)
	}
	r.pos = end
	n.Text, n.Num, n.Bool, n.EndCol = text, number, kind == Bool && text == "true", int32(r.col(end))
	return n
}

// quoted reads a text in quotes that ends on its line and has no escapes but doubled single quotes.
func (r *plainReader) quoted() *Node {
	quote := r.text[r.pos]
	i := r.pos + 1
	doubled := false
	for ; ; i++ {
		for i < len(r.text) && plainChars[r.text[i]]&quotedChar != 0 {
			i++
		}
		if r.atEnd(i) || r.text[i] == '\\' && quote == '"' {
			return nil
		}
		if r.text[i] == quote {
			if quote == '"' || i+1 >= len(r.text) || r.text[i+1] != '\'' {
				break
			}
			doubled = true
			i++
		}
	}
	text := r.text[r.pos+1 : i]
	if len(text) > MaxStringBytes {
		return nil
	}
	n := r.node(String, r.line, r.col(r.pos))
	if n == nil {
		return nil
	}
	if !r.src.ascii {
		r.extra += beyond(text)
	}
	if doubled {
		text = strings.ReplaceAll(text, "''", "'")
	}
	r.pos = i + 1
	n.Text, n.EndCol = text, int32(r.col(r.pos))
	return n
}

// space goes on over the one space that as a rule stands between parts inside brackets.
func (r *plainReader) space() bool {
	at := r.pos + 1
	if at < len(r.text) && r.text[at] > '#' && r.text[r.pos] == ' ' {
		r.pos = at
		return true
	}
	return false
}

// far goes on over spaces, line breaks and comments inside brackets. It gives false at the end of the file, and for what the library
// has to read.
func (r *plainReader) far() bool {
	for {
		from := r.pos
		r.spaces()
		if r.pos >= len(r.text) {
			return false
		}
		switch c := r.text[r.pos]; {
		case c == '#' && r.pos == from && r.pos != r.start:
			return false
		case c == '#' || c == '\n' || c == '\r':
			if !r.nextLine() {
				return false
			}
			at := r.pos
			r.spaces()
			if r.pos-at > plainMaxIndent {
				return false
			}
			r.pos = at
		default:
			return true
		}
	}
}

// behind gives the character behind a value inside brackets, 0 at the end of the file and for what the library has to read.
func (r *plainReader) behind() byte {
	if r.pos < len(r.text) {
		if c := r.text[r.pos]; c == ',' || c == '}' || c == ']' {
			return c
		}
	}
	if !r.space() && !r.far() {
		return 0
	}
	return r.text[r.pos]
}

func (r *plainReader) flowList(depth int) *Node {
	if depth > MaxDepth {
		return nil
	}
	n := r.node(List, r.line, r.col(r.pos))
	if n == nil {
		return nil
	}
	r.pos++
	if !r.space() && !r.far() {
		return nil
	}
	if r.text[r.pos] == ']' {
		r.pos++
		return n
	}
	base := len(r.mem.openItems)
	for {
		item := r.flow(depth + 1)
		if item == nil {
			return nil
		}
		r.mem.openItems = append(r.mem.openItems, item)
		switch r.behind() {
		case ']':
			r.pos++
			r.finishList(n, base)
			return n
		case ',':
			r.pos++
			if !r.space() && !r.far() {
				return nil
			}
		default:
			return nil
		}
	}
}

func (r *plainReader) flowMap(depth int) *Node {
	if depth > MaxDepth {
		return nil
	}
	n := r.node(Map, r.line, r.col(r.pos))
	if n == nil {
		return nil
	}
	r.pos++
	if !r.space() && !r.far() {
		return nil
	}
	if r.text[r.pos] == '}' {
		r.pos++
		return n
	}
	base := len(r.mem.openMembers)
	var k key
	for {
		if !r.expectedKey(&k) {
			if !r.startsPlain() {
				return nil
			}
			end := r.flowPlain()
			if end < 0 || r.text[end] != ':' || !r.takeKey(&k, end) {
				return nil
			}
		}
		if !r.space() && !r.far() {
			return nil
		}
		value := r.flow(depth + 1)
		if value == nil {
			return nil
		}
		r.add(k.text, k.number, k.line, k.col, value)
		switch r.behind() {
		case '}':
			r.pos++
			return r.endMap(n, base)
		case ',':
			r.pos++
			if !r.space() && !r.far() {
				return nil
			}
		default:
			return nil
		}
	}
}

// flow reads a value inside brackets.
func (r *plainReader) flow(depth int) *Node {
	switch r.text[r.pos] {
	case '{':
		return r.flowMap(depth)
	case '[':
		return r.flowList(depth)
	case '"', '\'':
		return r.quoted()
	}
	if r.text[r.pos] > '9' { // no number
	} else if v, end := leadingNumber(r.text[r.pos:]); end > 0 {
		if end += r.pos; end < len(r.text) && (r.text[end] == ',' || r.text[end] == '}' || r.text[end] == ']') {
			return r.scalar(Number, v, end)
		}
	}
	if !r.startsPlain() {
		return nil
	}
	end := r.flowPlain()
	if end < 0 || r.text[end] == ':' {
		return nil
	}
	return r.plain(end)
}

// flowPlain gives the offset at which a plain scalar inside brackets ends: at a bracket, a comma, a comment, a line break, or at the colon
// behind a key. It gives -1 for what the library has to read.
func (r *plainReader) flowPlain() int {
	text := r.text
	for i := r.pos + 1; i < len(text); i++ {
		for i < len(text) && plainChars[text[i]]&flowChar != 0 {
			i++
		}
		if i == len(text) {
			break
		}
		switch c := text[i]; c {
		case ',', ']', '}', '\n', '\r':
			return i
		case '#':
			if text[i-1] == ' ' {
				return i
			}
		case ':':
			if r.atEnd(i+1) || text[i+1] == ' ' {
				return i
			}
			if plainChars[text[i+1]]&wordChar == 0 && text[i+1] != '/' {
				return -1
			}
		default: // [ { ?
			return -1
		}
	}
	return -1
}

// What a character is inside a plain scalar.
const (
	blockChar  = 1 << iota // nothing special outside brackets
	flowChar               // nothing special inside brackets
	keyChar                // nothing special in a key
	wordChar               // a letter or digit, or not ASCII
	textChar               // begins a text and nothing else
	quotedChar             // nothing special in quotes
)

// plainChars tells what characters are; plainStart tells with which ones a plain scalar may begin here. The library lets it begin with more.
var plainChars, plainStart = func() (chars [256]uint8, start [256]bool) {
	for c := range 256 {
		chars[c] = blockChar | flowChar | keyChar | quotedChar
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c >= utf8.RuneSelf
		if letter {
			chars[c] |= wordChar
		}
		if letter && (c > '9' || c < '0') && strings.IndexByte("tfnTFN", byte(c)) < 0 || c == '_' {
			chars[c] |= textChar // neither a number nor true, false or null
		}
		start[c] = letter || c == '_' || c == '/' || c == '(' || c == '+' || c == '~' || c == '$'
	}
	for _, c := range "\n\r:#" {
		chars[c] &= quotedChar
	}
	for _, c := range "\n\r\"'\\" {
		chars[c] &^= quotedChar
	}
	for _, c := range ",[]{}?" {
		chars[c] &^= flowChar
	}
	return chars, start
}()

// resolvePlain tells what a plain scalar is. It is not sure of what the library takes for a value and we refuse, such as 010 or True.
func resolvePlain(text string) (kind Kind, number float64, sure bool) {
	switch c := text[0]; {
	case c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.':
		if v, ok := shortNumber(text); ok {
			return Number, v, true
		}
		if isPlainNumber(text) {
			v, wrong := parseNumber(text)
			return Number, v, wrong == ""
		}
		if surelyText(text) {
			return String, 0, true
		}
		switch (&yaml.Node{Kind: yaml.ScalarNode, Value: text}).ShortTag() {
		case "!!str", "!!timestamp":
			return String, 0, true
		}
		return 0, 0, false
	case c == '~':
		return Null, 0, text == "~"
	}
	switch text {
	case "true", "false":
		return Bool, 0, true
	case "null", "Null", "NULL":
		return Null, 0, true
	case "True", "TRUE", "False", "FALSE":
		return 0, 0, false
	}
	return String, 0, true
}

// surelyText tells texts that begin like a number apart: no form of a number has one of their characters.
func surelyText(text string) bool {
	for i := 1; i < len(text); i++ {
		switch c := text[i]; {
		case c >= '0' && c <= '9' || c == '.' || c == '+' || c == '_':
		case strings.IndexByte("abcdefxoinABCDEFXOIN", c) >= 0: // of 0x1F, 0o17, 0b1, 1e5, .inf and .nan
		case c == '-':
			// Dates are texts, and a minus stands in a number at its start and behind its e alone.
			if text[i-1] >= '0' && text[i-1] <= '9' {
				return true
			}
		default:
			return true
		}
	}
	return false
}

var tenths = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// shortNumber reads a plain number of at most 15 digits without an exponent. Both the digits and the power of ten are exact, so their
// quotient is the nearest float64.
func shortNumber(text string) (float64, bool) {
	v, end := leadingNumber(text)
	return v, end > 0 && end == len(text)
}

// leadingNumber does so for the number that a text begins with. It gives the offset behind it, or 0.
func leadingNumber(text string) (v float64, end int) {
	i := 0
	if text != "" && text[0] == '-' {
		i = 1
	}
	first := i
	digits := uint64(0)
	for i < len(text) && text[i]-'0' <= 9 && i-first <= 15 {
		digits = digits*10 + uint64(text[i]-'0')
		i++
	}
	whole := i - first
	if whole == 0 || whole > 15 || whole > 1 && text[first] == '0' {
		return 0, 0
	}
	v = float64(digits)
	if i < len(text) && text[i] == '.' {
		i++
		point := i
		for i < len(text) && text[i]-'0' <= 9 && i-first <= 16 {
			digits = digits*10 + uint64(text[i]-'0')
			i++
		}
		if i == point || whole+i-point > 15 {
			return 0, 0
		}
		v = float64(digits) / tenths[i-point]
	}
	if first == 1 && digits != 0 { // never minus zero
		v = -v
	}
	return v, i
}
