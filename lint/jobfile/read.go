// Package jobfile reads job files and rulebook files: YAML or JSON into one tree with positions, checked against
// JSON Schema, decoded into Go types.
//
// The reader is stricter than YAML. Where YAML would guess (010 is eight, a second document is dropped, of two equal
// keys one wins), it refuses and says what to write instead.
package jobfile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/bits"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Limits of a file. They bound time and memory; no real job comes near them.
const (
	MaxFileBytes   = 1 << 20  // bytes in one file
	MaxDepth       = 64       // maps and lists inside one another
	MaxNodes       = 100_000  // values in one file
	MaxStringBytes = 64 << 10 // bytes in one text or key
	MaxNumber      = 1e15     // largest magnitude of a number; every whole number up to it is exact in a float64
)

// The byte scan before the YAML parser only has to keep its cost down (it is quadratic in the depth of block
// levels), so it is looser than MaxDepth: it does not know text from structure. The tree is held to MaxDepth.
const (
	scanMaxBlockLevels = 4 * MaxDepth
	scanMaxIndent      = 1000 // spaces
	scanMaxBrackets    = 16 * MaxDepth
)

// Read parses a job or rulebook file. A name that ends in .json is JSON, one that ends in .yaml or .yml is YAML. Any
// other content is tried as JSON when it begins with a bracket, and is YAML otherwise. Every error is a Problems.
func Read(file string, data []byte) (*Node, error) { return new(Memory).Read(file, data) }

// Read does what the function Read does, into this memory.
func (m *Memory) Read(file string, data []byte) (*Node, error) {
	m.begin()
	if len(data) > MaxFileBytes {
		return nil, Problems{{File: file, Message: fmt.Sprintf("the file is larger than %d bytes", MaxFileBytes)}}
	}
	src := &source{file: file, data: data}
	if p := src.scan(); p != nil {
		return nil, Problems{*p}
	}
	first := bytes.TrimLeft(src.data, " \t\r\n")
	if len(first) == 0 {
		return nil, Problems{{File: file, Message: "the file is empty"}}
	}
	switch strings.ToLower(filepath.Ext(file)) {
	case ".json":
		return readJSON(src, m)
	case ".yaml", ".yml":
		return readYAML(src, m)
	}
	if first[0] == '{' || first[0] == '[' {
		n, err := readJSON(src, m)
		if err == nil {
			return n, nil
		}
		// YAML's flow style looks like JSON too.
		if n, yamlErr := readYAML(src, m); yamlErr == nil {
			return n, nil
		}
		return nil, err
	}
	return readYAML(src, m)
}

// Text checks that the bytes of a file are text as files of jobs are: UTF-8 without control characters. It gives the text without a byte order mark.
func Text(file string, data []byte) (string, error) {
	src := &source{file: file, data: data}
	if p := src.scan(); p != nil {
		return "", Problems{*p}
	}
	return string(src.data), nil
}

// source is the text of a file.
type source struct {
	file  string
	data  []byte // without a byte order mark
	ascii bool
	tabs  bool

	before int   // how many lines of the file stand before the data
	starts []int // offset of each line, once somebody has asked
}

// lines gives the offset of each line. Only the library and messages need them.
func (s *source) lines() []int {
	if s.starts == nil {
		s.starts = append(make([]int, 0, bytes.Count(s.data, []byte{'\n'})+1), 0)
		for i, c := range s.data {
			if c == '\n' {
				s.starts = append(s.starts, i+1)
			}
		}
	}
	return s.starts
}

// scan checks the bytes and strips a byte order mark.
func (s *source) scan() *Problem {
	data := s.data
	if bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) {
		data = data[3:]
	}
	s.data, s.ascii = data, true
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return &Problem{File: s.file, Line: 1, Col: 1, Message: "the file is UTF-16 text; save it as UTF-8"}
	}
	for i := 0; i < len(data); {
		if i += usual(data[i:]); i == len(data) {
			break
		}
		c := data[i]
		if c >= ' ' && c < 0x7f || c == '\n' {
			i++
			continue
		}
		if c < utf8.RuneSelf {
			switch {
			case c == '\t':
				s.tabs = true
			case c == '\r' && i+1 < len(data) && data[i+1] == '\n':
			case c == '\r':
				return s.problemAt(i, "a carriage return without a line feed; end lines with LF or CRLF")
			default:
				return s.problemAt(i, fmt.Sprintf("control character U+%04X in the file", c))
			}
			i++
			continue
		}
		s.ascii = false
		r, size := utf8.DecodeRune(data[i:])
		switch {
		case r == utf8.RuneError && size <= 1:
			return s.problemAt(i, fmt.Sprintf("byte 0x%02X is not valid UTF-8; save the file as UTF-8", c))
		case r >= 0x80 && r < 0xa0:
			return s.problemAt(i, fmt.Sprintf("control character U+%04X in the file", r))
		case r == 0xfeff:
			return s.problemAt(i, "a byte order mark inside the file; delete this invisible character")
		case r == 0x2028 || r == 0x2029:
			// YAML takes them for line breaks and editors do not, so positions would differ.
			return s.problemAt(i, fmt.Sprintf("invisible line separator U+%04X; use a normal line break", r))
		case r == 0xfffe || r == 0xffff:
			return s.problemAt(i, fmt.Sprintf("U+%04X is not a character", r))
		}
		i += size
	}
	return nil
}

// usual tells how many bytes come before the first one that is not ASCII or a control character but the line feed; near the end it may stop earlier.
func usual(data []byte) int {
	rest := data
	for len(rest) >= 32 && odd(rest[:8])|odd(rest[8:16])|odd(rest[16:24])|odd(rest[24:32]) == 0 {
		rest = rest[32:]
	}
	for len(rest) >= 8 {
		n := bits.TrailingZeros64(odd(rest)) / 8
		if rest = rest[n:]; n < 8 {
			break
		}
	}
	return len(data) - len(rest)
}

// odd gives the highest bit of those of eight bytes that are not ASCII or a control character but the line feed. Bytes that are not ASCII may carry
// over to those behind them.
func odd(eight []byte) uint64 {
	x := binary.LittleEndian.Uint64(eight)
	const ones, highs = 0x0101010101010101, 0x8080808080808080
	noControl, noLineFeed := x+ones*(0x80-' '), (x^ones*'\n')+ones*0x7f
	return (x | (x + ones) | ^(noControl | ^noLineFeed)) & highs
}

// position gives the 1-based line and column of an offset.
func (s *source) position(offset int) (line, col int) {
	lines := s.lines()
	i, found := slices.BinarySearch(lines, offset)
	if !found {
		i--
	}
	return s.before + i + 1, utf8.RuneCount(s.data[lines[i]:offset]) + 1
}

func (s *source) problemAt(offset int, message string) *Problem {
	line, col := s.position(offset)
	return &Problem{File: s.file, Line: line, Col: col, Message: message}
}

// line gives the text of a 1-based line without its line break.
func (s *source) line(number int) []byte {
	lines := s.lines()
	if number < 1 || number > len(lines) {
		return nil
	}
	end := len(s.data)
	if number < len(lines) {
		end = lines[number] - 1
	}
	return bytes.TrimSuffix(s.data[lines[number-1]:end], []byte("\r"))
}

// cursor turns positions into offsets, cheap as long as they come in file order.
type cursor struct {
	src              *source
	line, col, where int // where is the offset of (line, col)
}

func newCursor(src *source) cursor { return cursor{src: src, line: 1, col: 1} }

// offset gives the offset of a position, or -1 when there is no such place.
func (c *cursor) offset(line, col int) int {
	lines, data := c.src.lines(), c.src.data
	if line < 1 || line > len(lines) || col < 1 {
		return -1
	}
	if c.src.ascii {
		if o := lines[line-1] + col - 1; o <= len(data) {
			return o
		}
		return -1
	}
	if line != c.line || col < c.col {
		c.line, c.col, c.where = line, 1, lines[line-1]
	}
	for c.col < col {
		if c.where >= len(data) {
			return -1
		}
		_, size := utf8.DecodeRune(data[c.where:])
		c.where += size
		c.col++
	}
	return c.where
}

// isPlainNumber tells whether a text is a number as JSON writes it: -?(0|[1-9]\d*)(\.\d+)?([eE][+-]?\d+)?
func isPlainNumber[T string | []byte](s T) bool {
	i := 0
	digits := func() bool {
		start := i
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
		return i > start
	}
	if i < len(s) && s[i] == '-' {
		i++
	}
	if i < len(s) && s[i] == '0' {
		i++
	} else if !digits() {
		return false
	}
	if i < len(s) && s[i] == '.' {
		i++
		if !digits() {
			return false
		}
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		i++
		if i < len(s) && (s[i] == '+' || s[i] == '-') {
			i++
		}
		if !digits() {
			return false
		}
	}
	return i == len(s)
}

const plainNumberHint = "write a plain number such as 12, -3 or 0.5"

// parseNumber gives the value of a plain number, or what is wrong with it. The value is always finite.
func parseNumber(text string) (float64, string) {
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil || math.IsInf(v, 0) || math.IsNaN(v) || math.Abs(v) > MaxNumber:
		return 0, fmt.Sprintf("number %s is out of range; the largest is 1e15", quoteText(text))
	case v == 0:
		mantissa, _, _ := strings.Cut(strings.ToLower(text), "e")
		if strings.ContainsAny(mantissa, "123456789") {
			return 0, fmt.Sprintf("number %s is too small to be told from 0", quoteText(text))
		}
		return 0, "" // also for -0
	}
	return v, ""
}

// checkText gives what is wrong with a text or key after escapes are resolved, or "".
func checkText(text string) string {
	if len(text) > MaxStringBytes {
		return fmt.Sprintf("text of %d bytes; the limit is %d", len(text), MaxStringBytes)
	}
	for i := 0; i < len(text); i++ {
		c := text[i]
		if c < ' ' && c != '\n' && c != '\t' && c != '\r' || c == 0x7f {
			return fmt.Sprintf("control character U+%04X in a text", c)
		}
		if c == 0xc2 && i+1 < len(text) && text[i+1] < 0xa0 {
			return fmt.Sprintf("control character U+%04X in a text", text[i+1])
		}
	}
	return ""
}

// builder holds what both readers share: the memory of the tree, the limits and the problems found so far.
type builder struct {
	src      *source
	mem      *Memory
	known    *keyList // of the job format
	count    int
	problems Problems
	keys     map[string]int // scratch for large maps
	empty    *inner         // of all nodes that hold nothing
}

func newBuilder(src *source, mem *Memory) builder {
	if mem.next == nil {
		mem.next = new([keysInSet]keyNum)
	}
	clear(mem.next[:])
	mem.openMembers, mem.openItems = mem.openMembers[:0], mem.openItems[:0]
	// How much to make at once when a usual file has one in so many bytes. No more than a slab of 8 kB is more than is needed.
	usual := func(bytes, most int) int { return min(len(src.data)/bytes+4, most) }
	mem.nodes.least, mem.inners.least = usual(16, 170), usual(100, 72)
	mem.members.least, mem.items.least = usual(24, 204), usual(80, 256)
	b := builder{src: src, mem: mem, known: jobKeys()}
	b.empty = b.inner()
	return b
}

// node gives a fresh node, or nil when the file has too many.
func (b *builder) node(kind Kind, line, col int) *Node {
	if b.count >= MaxNodes {
		return nil
	}
	b.count++
	n := b.mem.nodes.one()
	n.Kind, n.Line, n.Col, n.in = kind, int32(line), int32(col), b.empty
	return n
}

func (b *builder) inner() *inner {
	in := b.mem.inners.one()
	in.src = b.src
	return in
}

// finishMap gives a map the members from base on. It tells whether two keys are equal.
func (b *builder) finishMap(n *Node, base int) (repeats bool) {
	members := b.mem.openMembers[base:]
	n.in = b.inner()
	n.in.members = b.mem.members.cut(len(members))
	copy(n.in.members, members)
	b.mem.openMembers = b.mem.openMembers[:base]
	return b.repeats(n.in.members)
}

// finishList gives a list the items from base on.
func (b *builder) finishList(n *Node, base int) {
	items := b.mem.openItems[base:]
	n.in = b.inner()
	n.in.items = b.mem.items.cut(len(items))
	copy(n.in.items, items)
	b.mem.openItems = b.mem.openItems[:base]
}

func (b *builder) report(line, col int, message string) {
	b.problems = append(b.problems, Problem{File: b.src.file, Line: line, Col: col, Message: message})
}

func tooManyNodes() string {
	return fmt.Sprintf("more than %d values in the file", MaxNodes)
}

func tooDeep() string {
	return fmt.Sprintf("nested more than %d levels deep", MaxDepth)
}

// keyNumber gives the number of a key that comes behind another.
func (b *builder) keyNumber(last keyNum, key string) keyNum {
	k := b.known.find(key)
	b.mem.next[last&(keysInSet-1)] = k
	return k
}

// add adds a member to those of the map that is read.
func (b *builder) add(key string, k keyNum, line, col int, value *Node) {
	if k != 0 {
		key = b.known.names[k] // does not keep the file
	}
	b.mem.openMembers = append(b.mem.openMembers, Member{Key: key, KeyLine: int32(line), KeyCol: int32(col), Value: value, key: k})
}

// repeats tells whether two keys are equal.
func (b *builder) repeats(members []Member) bool {
	var seen keySet
	again := false
	others := 0 // keys of no job
	for i := range members {
		if k := members[i].key; k != 0 {
			again = seen.add(k) || again
		} else {
			others++
		}
	}
	return again || others > 1 && b.othersRepeat(members)
}

// othersRepeat tells whether two keys that are not of the job format are equal.
func (b *builder) othersRepeat(members []Member) bool {
	if len(members) > 64 {
		if b.keys == nil {
			b.keys = make(map[string]int, len(members))
		}
		clear(b.keys)
		for i := range members {
			b.keys[members[i].Key] = i
		}
		return len(b.keys) < len(members)
	}
	var seen uint64 // one bit for a few keys each
	for i := range members {
		key := members[i].Key
		bit := uint64(1) << (keyHash(key) & 63)
		if seen&bit != 0 {
			for j := range i {
				if members[j].Key == key {
					return true
				}
			}
		}
		seen |= bit
	}
	return false
}

// duplicates reports keys that come twice, at the second place.
func (b *builder) duplicates(members []Member) {
	const few = 24 // below it, comparing all pairs is faster than a map
	if len(members) <= few {
		for i := 1; i < len(members); i++ {
			for j := 0; j < i; j++ {
				if members[i].Key == members[j].Key {
					b.duplicate(&members[i], &members[j])
					break
				}
			}
		}
		return
	}
	if b.keys == nil {
		b.keys = make(map[string]int, len(members))
	}
	clear(b.keys)
	for i := range members {
		if first, ok := b.keys[members[i].Key]; ok {
			b.duplicate(&members[i], &members[first])
			continue
		}
		b.keys[members[i].Key] = i
	}
}

func (b *builder) duplicate(second, first *Member) {
	b.report(int(second.KeyLine), int(second.KeyCol), fmt.Sprintf("key %s is already used at %d:%d; keep one of them",
		quoteText(second.Key), first.KeyLine, first.KeyCol))
}
