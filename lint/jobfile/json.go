package jobfile

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// readJSON scans RFC 8259 text strictly: no comments, no trailing commas, no lone surrogates, keys unique.
func readJSON(src *source, mem *Memory) (*Node, error) {
	s := &jsonScanner{builder: newBuilder(src, mem), data: string(src.data), line: src.before + 1,
		plain: !src.tabs && bytes.IndexByte(src.data, '\\') < 0, oneLine: bytes.IndexByte(src.data, '\n') < 0}
	n := s.value(1)
	if n != nil {
		s.next()
		if s.pos < len(s.data) {
			s.unexpected("only one value is allowed in a file")
			n = nil
		}
	}
	if err := s.problems.finish(); err != nil {
		return nil, err
	}
	return n, nil
}

type jsonScanner struct {
	builder
	data string // all of the file; texts and keys are parts of it
	pos  int

	plain   bool // no escapes and no tabs in the file
	oneLine bool // no line breaks

	line  int // 1-based
	start int // offset of the line
	extra int // bytes between start and pos beyond one for each character
}

// col is the 1-based column of the current place.
func (s *jsonScanner) col() int { return s.pos - s.start - s.extra + 1 }

func (s *jsonScanner) peek() byte { return s.at(s.pos) }

// at gives a byte of the file, 0 behind its end.
func (s *jsonScanner) at(offset int) byte {
	if offset < len(s.data) {
		return s.data[offset]
	}
	return 0
}

// next goes on over white space and gives the byte behind it, 0 at the end of the file.
func (s *jsonScanner) next() byte {
	if c := s.peek(); c > ' ' {
		return c
	}
	return s.spaces()
}

func (s *jsonScanner) spaces() byte {
	for s.pos < len(s.data) {
		switch s.data[s.pos] {
		case ' ', '\t', '\r':
			s.pos++
		case '\n':
			s.pos++
			s.line, s.start, s.extra = s.line+1, s.pos, 0
		default:
			return s.data[s.pos]
		}
	}
	return 0
}

// fail reports a problem at an offset and gives nil, so that the scan unwinds.
func (s *jsonScanner) fail(offset int, message string) *Node {
	p := s.src.problemAt(offset, message)
	s.problems = append(s.problems, *p)
	return nil
}

// unexpected reports what stands at the current place instead of what is expected.
func (s *jsonScanner) unexpected(expected string) *Node {
	if s.pos >= len(s.data) {
		return s.fail(s.pos, "the file ends too early: "+expected)
	}
	rest := s.data[s.pos:]
	switch c := rest[0]; {
	case c == '#', c == '/' && len(rest) > 1 && (rest[1] == '/' || rest[1] == '*'):
		return s.fail(s.pos, "comments are not allowed in JSON; delete the comment or use a .yaml file")
	case c == '\'':
		return s.fail(s.pos, `JSON texts stand in double quotes ("), not in single ones: `+expected)
	}
	r, _ := utf8.DecodeRuneInString(rest)
	return s.fail(s.pos, fmt.Sprintf("found %q: %s", string(r), expected))
}

// value reads the value that comes next.
func (s *jsonScanner) value(depth int) *Node {
	c := s.peek()
	if c <= ' ' {
		c = s.spaces()
	}
	switch {
	case c == '{':
		return s.object(depth)
	case c == '[':
		return s.array(depth)
	case c == '"':
		col := s.col()
		text, ok := s.text()
		if !ok {
			return nil
		}
		n := s.scalar(String, col)
		if n != nil {
			n.Text = text
		}
		return n
	case c == '-' || c == '+' || c == '.' || c >= '0' && c <= '9':
		return s.number()
	case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_':
		return s.word()
	}
	return s.unexpected("a value is expected here")
}

// scalar makes a node that ends at the current place.
func (s *jsonScanner) scalar(kind Kind, col int) *Node {
	n := s.node(kind, s.line, col)
	if n == nil {
		s.report(s.line, col, tooManyNodes())
		return nil
	}
	n.EndCol = int32(s.col())
	return n
}

// token runs over the characters of a bare word or number.
func (s *jsonScanner) token() (string, int) {
	start := s.pos
	for s.pos < len(s.data) && inToken(s.data[s.pos]) {
		s.pos++
	}
	return s.data[start:s.pos], start
}

// inToken tells whether a character goes on with a bare word or number.
func inToken(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' ||
		c == '_' || c == '.' || c == '+' || c == '-' || c >= utf8.RuneSelf
}

func (s *jsonScanner) number() *Node {
	col := s.col()
	v, end := leadingNumber(s.data[s.pos:])
	if end += s.pos; end > s.pos && !inToken(s.at(end)) { // as a rule
		text := s.data[s.pos:end]
		s.pos = end
		n := s.scalar(Number, col)
		if n != nil {
			n.Text, n.Num = text, v
		}
		return n
	}
	text, start := s.token()
	v, ok := shortNumber(text)
	if !ok {
		if !isPlainNumber(text) {
			return s.fail(start, fmt.Sprintf("%s is not a plain number; %s", quoteText(text), plainNumberHint))
		}
		var wrong string
		if v, wrong = parseNumber(text); wrong != "" {
			return s.fail(start, wrong)
		}
	}
	n := s.scalar(Number, col)
	if n != nil {
		n.Text, n.Num = text, v
	}
	return n
}

func (s *jsonScanner) word() *Node {
	col := s.col()
	text, start := s.token()
	kind := Null
	switch text {
	case "true", "false":
		kind = Bool
	case "null":
	case "True", "TRUE", "False", "FALSE", "yes", "no", "on", "off":
		return s.fail(start, fmt.Sprintf("%s is not a value; write true or false in lower case", quoteText(text)))
	case "NaN", "Infinity", "nan", "inf", "Inf":
		return s.fail(start, fmt.Sprintf("%s is not a number; leave out a value that is not known", quoteText(text)))
	default:
		return s.fail(start, fmt.Sprintf("%s is not a value; put a text in double quotes", quoteText(text)))
	}
	n := s.scalar(kind, col)
	if n != nil {
		n.Text, n.Bool = text, text == "true"
	}
	return n
}

func (s *jsonScanner) open(kind Kind, depth int) *Node {
	col := s.col()
	if depth > MaxDepth {
		s.report(s.line, col, tooDeep())
		return nil
	}
	n := s.node(kind, s.line, col)
	if n == nil {
		s.report(s.line, col, tooManyNodes())
		return nil
	}
	s.pos++
	return n
}

func (s *jsonScanner) array(depth int) *Node {
	n := s.open(List, depth)
	if n == nil {
		return nil
	}
	if s.next() == ']' {
		s.pos++
		return n
	}
	base := len(s.mem.openItems)
	for {
		item := s.value(depth + 1)
		if item == nil {
			return nil
		}
		s.mem.openItems = append(s.mem.openItems, item)
		switch s.next() {
		case ',':
			comma := s.pos
			s.pos++
			if s.next() == ']' {
				return s.fail(comma, "a comma after the last item; delete it")
			}
		case ']':
			s.pos++
			s.finishList(n, base)
			return n
		default:
			return s.unexpected("a comma or ] is expected after an item of the list")
		}
	}
}

func (s *jsonScanner) object(depth int) *Node {
	n := s.open(Map, depth)
	if n == nil {
		return nil
	}
	if s.next() == '}' {
		s.pos++
		return n
	}
	base := len(s.mem.openMembers)
	var k keyNum
	comma := -1
	for {
		c := s.peek()
		if c <= ' ' {
			c = s.spaces()
		}
		switch {
		case c == '}' && comma >= 0:
			return s.fail(comma, "a comma after the last key; delete it")
		case c != '"':
			return s.unexpected("a key in double quotes is expected here")
		}
		line, col := s.line, s.col()
		var key string
		if next := s.mem.next[k&(keysInSet-1)]; strings.HasPrefix(s.data[s.pos:], s.known.quoted[next]) {
			k = next
			s.pos += len(s.known.quoted[next])
		} else {
			var ok bool
			if key, ok = s.text(); !ok {
				return nil
			}
			k = s.keyNumber(k, key)
			if s.next() != ':' {
				return s.unexpected("a colon is expected after a key")
			}
			s.pos++
		}
		v := s.value(depth + 1)
		if v == nil {
			return nil
		}
		s.add(key, k, line, col, v)
		if c = s.peek(); c <= ' ' {
			c = s.spaces()
		}
		switch c {
		case ',':
			comma = s.pos
			s.pos++
		case '}':
			s.pos++
			if s.finishMap(n, base) {
				s.duplicates(n.Members())
			}
			return n
		default:
			return s.unexpected("a comma or } is expected after a value")
		}
	}
}

// plainInText are the bytes that stand for themselves in a string. Control characters are in no file that is scanned, but tabs and line breaks.
var plainInText = func() (plain [256]bool) {
	for c := ' '; c < 256; c++ {
		plain[c] = c != '"' && c != '\\'
	}
	return plain
}()

// text reads a string in double quotes.
func (s *jsonScanner) text() (string, bool) {
	if !s.plain {
		return s.anyText()
	}
	rest := s.data[s.pos+1:]
	n := strings.IndexByte(rest, '"')
	if n < 0 || n > MaxStringBytes || !s.oneLine && strings.IndexByte(rest[:n], '\n') >= 0 {
		return s.anyText()
	}
	if s.pos += n + 2; !s.src.ascii {
		s.extra += beyond(rest[:n])
	}
	return rest[:n], true
}

// anyText does so with escapes, and says what is wrong with it.
func (s *jsonScanner) anyText() (string, bool) {
	start := s.pos
	s.pos++
	plain := s.pos
	var buf []byte
	for {
		for s.pos < len(s.data) && plainInText[s.data[s.pos]] {
			s.pos++
		}
		if s.pos >= len(s.data) || s.data[s.pos] == '\n' || s.data[s.pos] == '\r' {
			s.fail(start, `the text that begins here is not closed with " on its line`)
			return "", false
		}
		switch c := s.data[s.pos]; {
		case c == '"':
			text := s.data[plain:s.pos]
			if buf != nil {
				text = string(append(buf, text...))
			}
			if buf != nil || len(text) > MaxStringBytes { // what stands in the file has been checked
				if wrong := checkText(text); wrong != "" {
					s.fail(start, wrong)
					return "", false
				}
			}
			s.pos++
			if !s.src.ascii {
				s.extra += beyond(s.data[start:s.pos])
			}
			return text, true
		case c == '\\':
			buf = append(buf, s.data[plain:s.pos]...)
			r, ok := s.escape()
			if !ok {
				return "", false
			}
			buf = utf8.AppendRune(buf, r)
			plain = s.pos
		case c < ' ':
			s.fail(s.pos, `a tab inside a text; write it as \t`)
			return "", false
		}
	}
}

// escape reads one escape, or two that make a surrogate pair.
func (s *jsonScanner) escape() (rune, bool) {
	start := s.pos
	s.pos++
	c := s.peek()
	s.pos++
	switch c {
	case '"', '\\', '/':
		return rune(c), true
	case 'b':
		return '\b', true
	case 'f':
		return '\f', true
	case 'n':
		return '\n', true
	case 'r':
		return '\r', true
	case 't':
		return '\t', true
	case 'u':
		r, ok := s.hex4()
		if !ok {
			s.fail(start, `\u needs four hexadecimal digits`)
			return 0, false
		}
		if !utf16.IsSurrogate(r) {
			return r, true
		}
		if s.peek() == '\\' && s.pos+1 < len(s.data) && s.data[s.pos+1] == 'u' {
			s.pos += 2
			if low, ok := s.hex4(); ok {
				if full := utf16.DecodeRune(r, low); full != utf8.RuneError {
					return full, true
				}
			}
		}
		s.fail(start, `half of a surrogate pair; write both halves or the character itself`)
		return 0, false
	}
	s.fail(start, `unknown escape after \; write \\ for a backslash`)
	return 0, false
}

func (s *jsonScanner) hex4() (rune, bool) {
	if s.pos+4 > len(s.data) {
		return 0, false
	}
	var r rune
	for _, c := range []byte(s.data[s.pos : s.pos+4]) {
		switch {
		case c >= '0' && c <= '9':
			r = r<<4 | rune(c-'0')
		case c >= 'a' && c <= 'f':
			r = r<<4 | rune(c-'a'+10)
		case c >= 'A' && c <= 'F':
			r = r<<4 | rune(c-'A'+10)
		default:
			return 0, false
		}
	}
	s.pos += 4
	return r, true
}
