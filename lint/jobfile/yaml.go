package jobfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// readYAML reads one YAML 1.2 document through the library's node tree, so that every value keeps its place and
// nothing is resolved behind our back.
func readYAML(src *source, mem *Memory) (*Node, error) {
	if n := readPlain(src, mem); n != nil {
		return n, nil
	}
	return readLibrary(src, mem)
}

// readLibrary reads any YAML.
func readLibrary(src *source, mem *Memory) (*Node, error) {
	if p := src.scanYAML(); p != nil {
		return nil, Problems{*p}
	}
	root, second, message := parseYAML(src.data)
	if message != "" {
		return nil, Problems{*src.yamlProblem(message)}
	}
	if second != nil {
		return nil, Problems{{File: src.file, Line: min(second.Line, len(src.lines())), Col: second.Column,
			Message: "a second document begins here; write one document in a file"}}
	}
	if root == nil || len(root.Content) != 1 {
		return nil, Problems{{File: src.file, Message: "the file is empty"}}
	}
	if top := root.Content[0]; top.Kind == yaml.ScalarNode && top.Value == "" && top.Style == 0 && top.Tag == "!!null" && top.Anchor == "" {
		return nil, Problems{{File: src.file, Message: "the file is empty"}}
	}
	b := &yamlBuilder{builder: newBuilder(src, mem), cur: newCursor(src)}
	n := b.convert(root.Content[0], 1)
	if err := b.problems.finish(); err != nil {
		return nil, err
	}
	return n, nil
}

// scanYAML refuses levels that would make the parser slow, without knowing YAML.
func (s *source) scanYAML() *Problem {
	var indents []int
	brackets := 0
	for i, start := range s.lines() {
		end := len(s.data)
		if i+1 < len(s.lines()) {
			end = s.lines()[i+1]
		}
		line := s.data[start:end]
		at := 0
		for at < len(line) && line[at] == ' ' {
			at++
		}
		if at > scanMaxIndent {
			return s.problemAt(start+at, fmt.Sprintf("indented by more than %d spaces", scanMaxIndent))
		}
		if at < len(line) && line[at] != '#' && line[at] != '\n' && line[at] != '\r' {
			for len(indents) > 0 && indents[len(indents)-1] >= at {
				indents = indents[:len(indents)-1]
			}
			indents = append(indents, at)
			// Markers in front of the text open levels too: `- - x`, `? ? x`.
			for next := at; next+1 < len(line) && (line[next] == '-' || line[next] == '?' || line[next] == ':'); {
				next++
				space := next
				for next < len(line) && (line[next] == ' ' || line[next] == '\t') {
					next++
				}
				if next == space {
					break
				}
				indents = append(indents, next)
			}
			if len(indents) > scanMaxBlockLevels {
				return s.problemAt(start+at, tooDeep())
			}
		}
		for j, c := range line {
			switch c {
			case '[', '{':
				if brackets++; brackets > scanMaxBrackets {
					return s.problemAt(start+j, tooDeep())
				}
			case ']', '}':
				brackets = max(brackets-1, 0)
			}
		}
	}
	return nil
}

// parseYAML gives the document node and, when there is one, the node of a second document. The message is what the
// library says is wrong, without its prefix.
func parseYAML(data []byte) (doc, second *yaml.Node, message string) {
	defer func() {
		// The library panics on its own bugs; a file must never bring the program down.
		if r := recover(); r != nil {
			doc, second, message = nil, nil, fmt.Sprintf("the YAML reader broke down: %v", r)
		}
	}()
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	first := new(yaml.Node)
	switch err := decoder.Decode(first); {
	case errors.Is(err, io.EOF):
		return nil, nil, ""
	case err != nil:
		return nil, nil, libraryMessage(err)
	}
	next := new(yaml.Node)
	switch err := decoder.Decode(next); {
	case errors.Is(err, io.EOF):
		return first, nil, ""
	case err != nil:
		return nil, nil, libraryMessage(err)
	}
	return first, next, ""
}

var libraryPrefix = regexp.MustCompile(`^yaml: (line \d+: )?`)

func libraryMessage(err error) string {
	return libraryPrefix.ReplaceAllString(err.Error(), "")
}

// yamlWords are the library's messages in our words. The place is the character at which it gives up.
var yamlWords = map[string]string{
	"mapping values are not allowed in this context":               "a colon that cannot stand here; put a text with a colon in quotes, or check the indentation",
	"did not find expected key":                                    "a key is expected here; check the indentation and the quotes",
	"could not find expected ':'":                                  "a colon is missing after the key",
	"did not find expected '-' indicator":                          `a list item ("- ") is expected here; check the indentation`,
	"block sequence entries are not allowed in this context":       `a list item ("- ") cannot stand here; begin the list on a new line`,
	"did not find expected node content":                           "a value is expected here",
	"did not find expected ',' or ']'":                             "a list in brackets is not closed or lacks a comma",
	"did not find expected ',' or '}'":                             "a set of keys in braces is not closed or lacks a comma",
	"found unexpected end of stream":                               "the quotes that open here are not closed",
	"found unexpected document indicator":                          "the quotes are not closed before the document ends",
	"found unknown escape character":                               `unknown escape after \ in double quotes; use single quotes or write \\`,
	"did not find expected hexdecimal number":                      "hexadecimal digits are expected in this escape",
	"found invalid Unicode character escape code":                  "this escape is not a character",
	"found character that cannot start any token":                  "a text cannot begin with this character; put it in quotes",
	"did not find expected <document start>":                       "text after the end of the document; write one document in a file",
	"did not find expected alphabetic or numeric character":        "& and * begin anchors and aliases, which are not allowed; put a text that begins so in quotes",
	"did not find expected comment or line break":                  "nothing may follow the sign of a block text on its line",
	"found incompatible YAML document":                             "this YAML version is not supported; delete the %YAML line",
	"found undefined tag handle":                                   "tags (!) are not allowed; put a text that begins with ! in quotes",
	"mapping keys are not allowed in this context":                 `a "? " key cannot stand here`,
	"found unknown directive name":                                 "lines that begin with % are not allowed",
	"found a tab character where an indentation space is expected": tabHint,
	"found a tab character that violates indentation":              tabHint,
}

const tabHint = "a tab in the indentation; use spaces"

const aliasHint = "anchors and aliases (& and *) are not allowed; write the value out, or put a text that begins so in quotes"

// yamlProblem finds the place of a library message. The library's own line is that of some enclosing block and often
// one off, so the place is found by looking for the shortest beginning of the file that fails with the same message.
func (s *source) yamlProblem(message string) *Problem {
	const largest = 256 << 10 // bytes; above it the search would take too long
	words, known := yamlWords[message]
	anchor, isAlias := strings.CutPrefix(message, "unknown anchor '")
	switch {
	case known:
	case isAlias:
		words = aliasHint
	case strings.HasPrefix(message, "exceeded max depth"):
		words = tooDeep()
	default:
		words = "the YAML cannot be read: " + message
	}
	if len(s.data) > largest {
		if p := s.firstTab(); p != nil && strings.Contains(message, "tab") {
			return p
		}
		return &Problem{File: s.file, Message: words}
	}
	fails := func(end int) bool {
		_, _, m := parseYAML(s.data[:end])
		return m == message
	}
	// Whole lines first, then characters.
	low, high := 0, len(s.lines()) // lines[:high] fail
	ends := func(lines int) int {
		if lines < len(s.lines()) {
			return s.lines()[lines]
		}
		return len(s.data)
	}
	for low+1 < high {
		if middle := (low + high) / 2; fails(ends(middle)) {
			high = middle
		} else {
			low = middle
		}
	}
	from, to := ends(high-1), ends(high)
	for from+1 < to {
		if middle := (from + to) / 2; fails(middle) {
			to = middle
		} else {
			from = middle
		}
	}
	at := max(to-1, 0)
	for at > 0 && !utf8.RuneStart(s.data[at]) {
		at--
	}
	if isAlias {
		at = max(at-len(strings.TrimSuffix(anchor, "' referenced")), 0)
	}
	line, col := s.position(at)
	indent := s.line(line)
	indent = indent[:len(indent)-len(bytes.TrimLeft(indent, " \t"))]
	if tab := bytes.IndexByte(indent, '\t'); tab >= 0 {
		return &Problem{File: s.file, Line: line, Col: tab + 1, Message: tabHint}
	}
	return &Problem{File: s.file, Line: line, Col: col, Message: words}
}

// firstTab gives the first line that is indented with a tab.
func (s *source) firstTab() *Problem {
	for i, start := range s.lines() {
		for at := start; at < len(s.data) && (s.data[at] == ' ' || s.data[at] == '\t'); at++ {
			if s.data[at] == '\t' {
				return &Problem{File: s.file, Line: i + 1, Col: at - start + 1, Message: tabHint}
			}
		}
	}
	return nil
}

// yamlBuilder turns the library's tree into ours and refuses what YAML allows and we do not.
type yamlBuilder struct {
	builder
	cur cursor
}

// convert gives nil when it has reported a problem from which there is no going on.
func (b *yamlBuilder) convert(y *yaml.Node, depth int) *Node {
	offset := b.place(y)
	if !b.plainSyntax(y, offset) {
		return nil
	}
	switch y.Kind {
	case yaml.ScalarNode:
		return b.scalar(y, offset)
	case yaml.MappingNode, yaml.SequenceNode:
	default:
		b.report(y.Line, y.Column, "this YAML construct is not allowed")
		return nil
	}
	if depth > MaxDepth {
		b.report(y.Line, y.Column, tooDeep())
		return nil
	}
	kind := Map
	if y.Kind == yaml.SequenceNode {
		kind = List
	}
	n := b.node(kind, y.Line, y.Column)
	if n == nil {
		b.tooMany(y)
		return nil
	}
	if kind == List {
		base := len(b.mem.openItems)
		for _, item := range y.Content {
			if v := b.convert(item, depth+1); v != nil {
				b.mem.openItems = append(b.mem.openItems, v)
			} else if b.count >= MaxNodes {
				return nil
			}
		}
		b.finishList(n, base)
		return n
	}
	base := len(b.mem.openMembers)
	for i := 0; i+1 < len(y.Content); i += 2 {
		key := y.Content[i]
		if b.key(key) {
			if v := b.convert(y.Content[i+1], depth+1); v != nil {
				b.add(key.Value, b.known.find(key.Value), key.Line, key.Column, v)
			} else if b.count >= MaxNodes {
				return nil
			}
		}
	}
	if b.finishMap(n, base) {
		b.duplicates(n.Members())
	}
	return n
}

// place gives the offset of a library node. The library puts an empty value at the end of a file without a last line
// break on a line that does not exist; such a node is moved to the end of the text.
func (b *yamlBuilder) place(y *yaml.Node) int {
	offset := b.cur.offset(y.Line, y.Column)
	if offset < 0 {
		offset = len(b.src.data)
		y.Line, y.Column = b.src.position(offset)
	}
	return offset
}

// tooMany reports the limit once; the conversion stops at it.
func (b *yamlBuilder) tooMany(y *yaml.Node) {
	b.report(y.Line, y.Column, tooManyNodes())
}

// plainSyntax refuses anchors, aliases and tags.
func (b *yamlBuilder) plainSyntax(y *yaml.Node, offset int) bool {
	// A lone ! leaves no trace in the library's node, only in the text.
	lone := offset < len(b.src.data) && b.src.data[offset] == '!'
	switch {
	case y.Kind == yaml.AliasNode || y.Anchor != "":
		b.report(y.Line, y.Column, aliasHint)
	case y.Style&yaml.TaggedStyle != 0 || lone:
		b.report(y.Line, y.Column, "tags (!) are not allowed; write the plain value, a text in quotes")
	default:
		return true
	}
	return false
}

// key refuses every key that is not text.
func (b *yamlBuilder) key(y *yaml.Node) bool {
	if !b.plainSyntax(y, b.place(y)) {
		return false
	}
	if y.Kind != yaml.ScalarNode {
		b.report(y.Line, y.Column, "a key must be a plain text")
		return false
	}
	switch y.Tag {
	case "!!str", "!!timestamp":
	case "!!merge":
		b.report(y.Line, y.Column, "merge keys (<<) are not allowed; write the keys out")
		return false
	case "!!null":
		b.report(y.Line, y.Column, "a key must be a plain text, found nothing")
		return false
	default:
		b.report(y.Line, y.Column, fmt.Sprintf("a key must be a plain text, found %s; put it in quotes if it is meant", quoteText(y.Value)))
		return false
	}
	if wrong := checkText(y.Value); wrong != "" {
		b.report(y.Line, y.Column, wrong)
		return false
	}
	return true
}

func (b *yamlBuilder) scalar(y *yaml.Node, offset int) *Node {
	kind, number := String, 0.0
	refuse := func(message string) *Node {
		b.report(y.Line, y.Column, message)
		return nil
	}
	if y.Style == 0 {
		switch {
		case isPlainNumber(y.Value):
			// Also what the library takes for text, such as 1e400.
			v, wrong := parseNumber(y.Value)
			if wrong != "" {
				return refuse(wrong)
			}
			kind, number = Number, v
		case y.Tag == "!!int" || y.Tag == "!!float":
			return refuse(fmt.Sprintf("%s is not a plain number; %s, or put a text in quotes", quoteText(y.Value), plainNumberHint))
		case y.Tag == "!!bool":
			if y.Value != "true" && y.Value != "false" {
				return refuse(fmt.Sprintf("%s is not a value; write true or false in lower case, or put a text in quotes", quoteText(y.Value)))
			}
			kind = Bool
		case y.Tag == "!!null":
			kind = Null
		case y.Tag == "!!merge":
			return refuse("merge keys (<<) are not allowed; write the keys out")
		}
	}
	if kind == String {
		if wrong := checkText(y.Value); wrong != "" {
			return refuse(wrong)
		}
	}
	n := b.node(kind, y.Line, y.Column)
	if n == nil {
		b.tooMany(y)
		return nil
	}
	n.Text, n.Num, n.Bool = y.Value, number, kind == Bool && y.Value == "true"
	n.EndCol = int32(b.endCol(y, offset))
	return n
}

// endCol gives the column behind a scalar that ends on its line, or 0.
func (b *yamlBuilder) endCol(y *yaml.Node, offset int) int {
	rest := b.src.data[offset:]
	switch {
	case y.Style == 0:
		// A text over several lines is joined with spaces and so differs from the file, except by chance of an
		// empty value, which ends where it begins.
		if len(rest) < len(y.Value) || string(rest[:len(y.Value)]) != y.Value {
			return 0
		}
		if b.src.ascii {
			return y.Column + len(y.Value)
		}
		return y.Column + utf8.RuneCountInString(y.Value)
	case y.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 && len(rest) > 0:
		quote := rest[0]
		for i := 1; i < len(rest) && rest[i] != '\n'; i++ {
			switch {
			case rest[i] == '\\' && quote == '"':
				if i++; i < len(rest) && rest[i] == '\n' {
					return 0 // the break is escaped, and the text goes on below
				}
			case rest[i] == quote && quote == '\'' && i+1 < len(rest) && rest[i+1] == '\'':
				i++
			case rest[i] == quote:
				return y.Column + utf8.RuneCount(rest[:i+1])
			}
		}
	}
	return 0
}
