package jobfile

import (
	"fmt"
	"unicode/utf16"
	"unicode/utf8"
)

// readJSON scans RFC 8259 text strictly: no comments, no trailing commas, no lone surrogates, keys unique.
func readJSON(src *source) (*Node, error) {
	s := &jsonScanner{builder: builder{src: src, cur: newCursor(src)}, data: string(src.data)}
	s.space()
	n := s.value(1)
	if n != nil {
		s.space()
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
}

func (s *jsonScanner) peek() byte {
	if s.pos < len(s.data) {
		return s.data[s.pos]
	}
	return 0
}

func (s *jsonScanner) space() {
	for s.pos < len(s.data) {
		switch s.data[s.pos] {
		case ' ', '\t', '\n', '\r':
			s.pos++
		default:
			return
		}
	}
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

func (s *jsonScanner) value(depth int) *Node {
	start := s.pos
	switch c := s.peek(); {
	case c == '{':
		return s.object(depth)
	case c == '[':
		return s.array(depth)
	case c == '"':
		line, col := s.cur.position(start)
		text, ok := s.text()
		if !ok {
			return nil
		}
		n := s.scalar(String, line, col)
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
func (s *jsonScanner) scalar(kind Kind, line, col int) *Node {
	n := s.node(kind, line, col)
	if n == nil {
		s.report(line, col, tooManyNodes())
		return nil
	}
	_, n.EndCol = s.cur.position(s.pos)
	return n
}

// token runs over the characters of a bare word or number.
func (s *jsonScanner) token() (string, int) {
	start := s.pos
	for s.pos < len(s.data) {
		c := s.data[s.pos]
		if c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' ||
			c == '_' || c == '.' || c == '+' || c == '-' || c >= utf8.RuneSelf {
			s.pos++
			continue
		}
		break
	}
	return s.data[start:s.pos], start
}

func (s *jsonScanner) number() *Node {
	line, col := s.cur.position(s.pos)
	text, start := s.token()
	if !isPlainNumber(text) {
		return s.fail(start, fmt.Sprintf("%s is not a plain number; %s", quoteText(text), plainNumberHint))
	}
	v, wrong := parseNumber(text)
	if wrong != "" {
		return s.fail(start, wrong)
	}
	n := s.scalar(Number, line, col)
	if n != nil {
		n.Text, n.Num = text, v
	}
	return n
}

func (s *jsonScanner) word() *Node {
	line, col := s.cur.position(s.pos)
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
	n := s.scalar(kind, line, col)
	if n != nil {
		n.Text, n.Bool = text, text == "true"
	}
	return n
}

func (s *jsonScanner) open(kind Kind, depth int) *Node {
	line, col := s.cur.position(s.pos)
	if depth > MaxDepth {
		s.report(line, col, tooDeep())
		return nil
	}
	n := s.node(kind, line, col)
	if n == nil {
		s.report(line, col, tooManyNodes())
		return nil
	}
	s.pos++
	s.space()
	return n
}

func (s *jsonScanner) array(depth int) *Node {
	n := s.open(List, depth)
	if n == nil {
		return nil
	}
	if s.peek() == ']' {
		s.pos++
		return n
	}
	base := len(s.items)
	for {
		item := s.value(depth + 1)
		if item == nil {
			return nil
		}
		s.items = append(s.items, item)
		s.space()
		switch s.peek() {
		case ',':
			comma := s.pos
			s.pos++
			s.space()
			if s.peek() == ']' {
				return s.fail(comma, "a comma after the last item; delete it")
			}
		case ']':
			s.pos++
			n.Items = s.cutItems(base)
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
	if s.peek() == '}' {
		s.pos++
		return n
	}
	base := len(s.members)
	for {
		if s.peek() != '"' {
			return s.unexpected("a key in double quotes is expected here")
		}
		line, col := s.cur.position(s.pos)
		key, ok := s.text()
		if !ok {
			return nil
		}
		s.space()
		if s.peek() != ':' {
			return s.unexpected("a colon is expected after a key")
		}
		s.pos++
		s.space()
		v := s.value(depth + 1)
		if v == nil {
			return nil
		}
		s.members = append(s.members, Member{Key: key, KeyLine: line, KeyCol: col, Value: v})
		s.space()
		switch s.peek() {
		case ',':
			comma := s.pos
			s.pos++
			s.space()
			if s.peek() == '}' {
				return s.fail(comma, "a comma after the last key; delete it")
			}
		case '}':
			s.pos++
			n.Members = s.cutMembers(base)
			s.duplicates(n.Members)
			return n
		default:
			return s.unexpected("a comma or } is expected after a value")
		}
	}
}

// text reads a string in double quotes.
func (s *jsonScanner) text() (string, bool) {
	start := s.pos
	s.pos++
	plain := s.pos
	var buf []byte
	for {
		if s.pos >= len(s.data) || s.data[s.pos] == '\n' || s.data[s.pos] == '\r' {
			s.fail(start, `the text that begins here is not closed with " on its line`)
			return "", false
		}
		switch c := s.data[s.pos]; {
		case c == '"':
			var text string
			if buf == nil {
				text = s.data[plain:s.pos]
			} else {
				text = string(append(buf, s.data[plain:s.pos]...))
			}
			s.pos++
			if wrong := checkText(text); wrong != "" {
				s.fail(start, wrong)
				return "", false
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
		default:
			s.pos++
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
