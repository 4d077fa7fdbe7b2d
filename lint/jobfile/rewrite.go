package jobfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Edit is one change to the text of a file. The pointer names a value by RFC 6901; "-" in the place of an index stands for the element behind
// the last one, as in RFC 6902. Maps and lists that are missing on the way are made. A nil value takes the value away.
type Edit struct {
	Pointer string
	Value   *Node
}

// Rewrite carries out edits, one after the other, on the text of a file that Read accepts. Of a YAML file, comments, order and the style of
// maps and lists are kept, and blank lines where the line behind them is still there. A JSON file is written anew with two spaces a level. A value that is
// taken away from a list moves those behind it up, so edits of one list go from its end to its beginning.
func Rewrite(file string, data []byte, edits []Edit) ([]byte, error) {
	root, err := Read(file, data)
	if err != nil {
		return nil, err
	}
	if first := bytes.TrimLeft(root.source().data, " \t\r\n"); first[0] == '{' || first[0] == '[' {
		tree := root.Clone()
		for _, e := range edits {
			if err := e.tree(tree); err != nil {
				return nil, err
			}
		}
		var b bytes.Buffer
		if err := json.Indent(&b, tree.json(nil), "", "  "); err != nil {
			return nil, err
		}
		b.WriteByte('\n')
		return b.Bytes(), nil
	}
	doc, _, message := parseYAML(root.source().data)
	if message != "" {
		return nil, Problems{{File: file, Message: message}}
	}
	for _, e := range edits {
		if err := e.yaml(doc.Content[0]); err != nil {
			return nil, err
		}
	}
	var b bytes.Buffer
	enc := yaml.NewEncoder(&b)
	enc.SetIndent(2)
	if err := enc.Encode(doc); err != nil {
		return nil, err
	}
	if err := enc.Close(); err != nil {
		return nil, err
	}
	return withBlankLines(file, root.source().data, b.Bytes()), nil
}

// withBlankLines puts blank lines back that the library's writer drops: before a line that stands once in the old text
// and once in the new. Where that would change what the text says, it is left as it is.
func withBlankLines(file string, before, after []byte) []byte {
	old, lines := strings.Split(string(before), "\n"), strings.Split(string(after), "\n")
	seen := map[string]int{}
	for _, l := range old {
		seen[strings.TrimRight(l, " \r")]++
	}
	again := map[string]int{}
	for _, l := range lines {
		again[l]++
	}
	blank := map[string]bool{}
	for i := 1; i < len(old); i++ {
		if l := strings.TrimRight(old[i], " \r"); l != "" && strings.TrimSpace(old[i-1]) == "" && seen[l] == 1 && again[l] == 1 {
			blank[l] = true
		}
	}
	var out []string
	for i, l := range lines {
		if blank[l] && i > 0 && lines[i-1] != "" {
			out = append(out, "")
		}
		out = append(out, l)
	}
	spaced := []byte(strings.Join(out, "\n"))
	a, err := Read(file, after)
	if err != nil {
		return after
	}
	if b, err := Read(file, spaced); err != nil || !bytes.Equal(a.json(nil), b.json(nil)) {
		return after
	}
	return spaced
}

func (e Edit) tokens() []string {
	tokens := strings.Split(strings.TrimPrefix(e.Pointer, "/"), "/")
	for i := range tokens {
		tokens[i] = unescapeToken(tokens[i])
	}
	return tokens
}

func (e Edit) lost(token string) error {
	return fmt.Errorf("%s cannot be changed: there is no %q", e.Pointer, token)
}

// tree carries out an edit on a tree.
func (e Edit) tree(n *Node) error {
	tokens := e.tokens()
	for i, token := range tokens {
		last := i == len(tokens)-1
		switch {
		case n.Kind == Map:
			m := n.member(token)
			switch {
			case last && e.Value == nil && m != nil:
				for k := range n.Members() {
					if n.Members()[k].Key == token {
						n.SetMembers(append(n.Members()[:k], n.Members()[k+1:]...))
						return nil
					}
				}
			case last && e.Value == nil:
				return e.lost(token)
			case m == nil || last || m.Value.Kind == Null:
				v := e.Value
				if !last {
					v = e.made(tokens[i+1])
				}
				if m == nil {
					n.SetMembers(append(n.Members(), Member{Key: token, Value: v}))
					m = &n.Members()[len(n.Members())-1]
				} else {
					m.Value = v
				}
			}
			if last {
				return nil
			}
			n = m.Value
		case n.Kind == List:
			k, ok := listIndex(token)
			switch {
			case token == "-" && last && e.Value != nil:
				n.SetItems(append(n.Items(), e.Value))
				return nil
			case !ok || k >= len(n.Items()):
				return e.lost(token)
			case last && e.Value == nil:
				n.SetItems(append(n.Items()[:k], n.Items()[k+1:]...))
				return nil
			case last:
				n.Items()[k] = e.Value
				return nil
			}
			n = n.Items()[k]
		default:
			return e.lost(token)
		}
	}
	return nil
}

// made is what is made where a value is missing: a list when an element follows, else a map.
func (e Edit) made(next string) *Node {
	if next == "-" {
		return &Node{Kind: List}
	}
	return &Node{Kind: Map}
}

// yaml carries out an edit on the library's tree. Read has seen to it that there are no aliases and no merged keys.
func (e Edit) yaml(n *yaml.Node) error {
	tokens := e.tokens()
	for i, token := range tokens {
		last := i == len(tokens)-1
		switch n.Kind {
		case yaml.MappingNode:
			at := -1
			for k := 0; k+1 < len(n.Content); k += 2 {
				if n.Content[k].Value == token {
					at = k
				}
			}
			switch {
			case last && e.Value == nil && at >= 0:
				n.Content = append(n.Content[:at], n.Content[at+2:]...)
				return nil
			case last && e.Value == nil:
				return e.lost(token)
			case at < 0 || last || n.Content[at+1].Tag == "!!null":
				v := e.Value
				if !last {
					v = e.made(tokens[i+1])
				}
				flow := n.Style&yaml.FlowStyle != 0 || len(tokens) > 1
				made := v.yaml(flow)
				if at < 0 {
					n.Content = append(n.Content, yamlText(token), made)
					at = len(n.Content) - 2
				} else {
					made.LineComment, made.FootComment = n.Content[at+1].LineComment, n.Content[at+1].FootComment
					n.Content[at+1] = made
				}
				if !last && v.Kind == List && n.Style&yaml.FlowStyle == 0 {
					made.Style = 0 // a new list of things has a line for each
				}
			}
			if last {
				return nil
			}
			n = n.Content[at+1]
		case yaml.SequenceNode:
			k, ok := listIndex(token)
			switch {
			case token == "-" && last && e.Value != nil:
				n.Content = append(n.Content, e.Value.yaml(true))
				return nil
			case !ok || k >= len(n.Content):
				return e.lost(token)
			case last && e.Value == nil:
				n.Content = append(n.Content[:k], n.Content[k+1:]...)
				return nil
			case last:
				n.Content[k] = e.Value.yaml(true)
				return nil
			}
			n = n.Content[k]
		default:
			return e.lost(token)
		}
	}
	return nil
}

// yaml gives a value to the library's writer.
func (n *Node) yaml(flow bool) *yaml.Node {
	out := &yaml.Node{}
	if flow {
		out.Style = yaml.FlowStyle
	}
	switch n.Kind {
	case Map:
		out.Kind, out.Tag = yaml.MappingNode, "!!map"
		for _, m := range n.Members() {
			out.Content = append(out.Content, yamlText(m.Key), m.Value.yaml(flow))
		}
	case List:
		out.Kind, out.Tag = yaml.SequenceNode, "!!seq"
		for _, x := range n.Items() {
			out.Content = append(out.Content, x.yaml(flow))
		}
	case String:
		return yamlText(n.Text)
	default:
		out.Kind, out.Style = yaml.ScalarNode, 0
		switch n.Kind {
		case Number:
			out.Tag, out.Value = "!!float", n.literal()
			if !strings.ContainsAny(out.Value, ".eE") {
				out.Tag = "!!int"
			}
		case Bool:
			out.Tag, out.Value = "!!bool", strconv.FormatBool(n.Bool)
		default:
			out.Tag, out.Value = "!!null", "null"
		}
	}
	return out
}

// yamlText is a text for the library's writer, which quotes it where that is needed.
func yamlText(s string) *yaml.Node {
	n := &yaml.Node{}
	n.SetString(s)
	if looksLikeMore(s) {
		n.Style = yaml.DoubleQuotedStyle
	}
	return n
}

// looksLikeMore says whether a text without quotes would be read as something else by this reader or by older ones: dates and times
// among them.
func looksLikeMore(s string) bool {
	return s == "" || s[0] >= '0' && s[0] <= '9' || strings.ContainsAny(s[:1], "+-.~<=")
}

// literal is a number as it was written.
func (n *Node) literal() string {
	if n.Text != "" {
		return n.Text
	}
	return strconv.FormatFloat(n.Num, 'f', -1, 64)
}

// json writes a value as JSON in the order of its members.
func (n *Node) json(b []byte) []byte {
	switch n.Kind {
	case Map:
		b = append(b, '{')
		for i, m := range n.Members() {
			if i > 0 {
				b = append(b, ',')
			}
			b = append(jsonText(b, m.Key), ':')
			b = m.Value.json(b)
		}
		return append(b, '}')
	case List:
		b = append(b, '[')
		for i, x := range n.Items() {
			if i > 0 {
				b = append(b, ',')
			}
			b = x.json(b)
		}
		return append(b, ']')
	case String:
		return jsonText(b, n.Text)
	case Number:
		return append(b, n.literal()...)
	case Bool:
		return strconv.AppendBool(b, n.Bool)
	}
	return append(b, "null"...)
}

func jsonText(b []byte, s string) []byte {
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(s) // a text never fails
	return append(b, bytes.TrimRight(out.Bytes(), "\n")...)
}
