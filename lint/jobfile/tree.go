package jobfile

import (
	"strconv"
	"strings"
)

// Kind says what a node is.
type Kind uint8

// The kinds of node. Dates are Strings: they keep the text as written.
const (
	Null Kind = iota
	Bool
	Number
	String
	Map
	List
)

// String names the kind in plain words.
func (k Kind) String() string {
	switch k {
	case Null:
		return "nothing"
	case Bool:
		return "true or false"
	case Number:
		return "a number"
	case String:
		return "text"
	case Map:
		return "a set of keys"
	case List:
		return "a list"
	}
	return "an unknown kind"
}

// Node is one value of a file with its position. All methods work on a nil node, which stands for a missing value.
// A file has a thousand of them and a review little else that is as large, so a node is kept small: it takes 48 bytes.
type Node struct {
	Kind Kind
	Bool bool // the value of a Bool
	// Line and Col are the 1-based position of the value itself; columns count Unicode code points.
	// EndCol is the column just behind a scalar that ends on its first line, otherwise 0.
	Line, Col, EndCol int32

	Text string  // the text of a scalar; a number keeps its literal
	Num  float64 // the value of a Number, always finite

	in *inner // nil for a scalar made by hand
}

// inner is what a Map or List holds. All other nodes of a file share one that holds nothing.
type inner struct {
	src     *source
	members []Member
	items   []*Node
}

// Member is one key of a Map with its value and the position of the key. Another key is a new Member: one that was read knows the number of its key.
type Member struct {
	Key             string
	KeyLine, KeyCol int32
	Value           *Node
	key             keyNum // 0 when it was made by hand
}

// Members are the members of a Map in file order, keys unique.
func (n *Node) Members() []Member {
	if n == nil || n.in == nil {
		return nil
	}
	return n.in.members
}

// Items are the items of a List.
func (n *Node) Items() []*Node {
	if n == nil || n.in == nil {
		return nil
	}
	return n.in.items
}

// SetMembers gives a Map other members. A copy of the node keeps its own.
func (n *Node) SetMembers(members []Member) { n.in = &inner{src: n.source(), members: members} }

// SetItems gives a List other items. A copy of the node keeps its own.
func (n *Node) SetItems(items []*Node) { n.in = &inner{src: n.source(), items: items} }

// NewText makes a text that stands in no file.
func NewText(text string) *Node { return &Node{Kind: String, Text: text} }

// NewList makes a list that stands in no file.
func NewList(items ...*Node) *Node { return &Node{Kind: List, in: &inner{items: items}} }

func (n *Node) source() *source {
	if n == nil || n.in == nil {
		return nil
	}
	return n.in.src
}

// File names the file that the node was read from, or "" for a node made by hand.
func (n *Node) File() string {
	if src := n.source(); src != nil {
		return src.file
	}
	return ""
}

// Get gives the value of a key of a Map, or nil.
func (n *Node) Get(key string) *Node {
	if m := n.member(key); m != nil {
		return m.Value
	}
	return nil
}

func (n *Node) member(key string) *Member {
	if n == nil || n.Kind != Map {
		return nil
	}
	members := n.Members()
	for i := range members {
		if members[i].Key == key {
			return &members[i]
		}
	}
	return nil
}

// GetNear is Get for the same key of many maps: it looks first where the key stood in the one before, as things of one kind are mostly written alike.
func (n *Node) GetNear(key string, at *int) *Node {
	if n == nil || n.Kind != Map {
		return nil
	}
	members := n.Members()
	if i := *at; i < len(members) && members[i].Key == key {
		return members[i].Value
	}
	for i := range members {
		if members[i].Key == key {
			*at = i
			return members[i].Value
		}
	}
	return nil
}

// child gives the member or item that one unescaped pointer token names, or nil.
func (n *Node) child(token string) *Node {
	switch {
	case n == nil:
		return nil
	case n.Kind == Map:
		return n.Get(token)
	case n.Kind == List:
		if i, ok := listIndex(token); ok && i < len(n.Items()) {
			return n.Items()[i]
		}
	}
	return nil
}

// listIndex reads a list index as RFC 6901 writes it: digits without leading zeros.
func listIndex(token string) (int, bool) {
	if token == "" || len(token) > 9 || len(token) > 1 && token[0] == '0' {
		return 0, false
	}
	for i := 0; i < len(token); i++ {
		if token[i] < '0' || token[i] > '9' {
			return 0, false
		}
	}
	i, err := strconv.Atoi(token)
	return i, err == nil
}

// At gives the node that a JSON Pointer (RFC 6901) names, or nil. The empty pointer is the node itself.
func (n *Node) At(pointer string) *Node {
	if found, exact := n.Nearest(pointer); exact {
		return found
	}
	return nil
}

// Nearest gives the deepest node that exists on the way of a JSON Pointer, and whether it is the one named.
// A missing value so points at its parent.
func (n *Node) Nearest(pointer string) (*Node, bool) {
	if n == nil {
		return nil, false
	}
	if pointer == "" {
		return n, true
	}
	if pointer[0] != '/' {
		return n, false
	}
	for rest, more := pointer[1:], true; more; {
		var token string
		token, rest, more = strings.Cut(rest, "/")
		next := n.child(unescapeToken(token))
		if next == nil {
			return n, false
		}
		n = next
	}
	return n, true
}

// Value gives plain Go values: map[string]any, []any, string, float64, bool and nil.
func (n *Node) Value() any {
	if n == nil {
		return nil
	}
	switch n.Kind {
	case Bool:
		return n.Bool
	case Number:
		return n.Num
	case String:
		return n.Text
	case Map:
		m := make(map[string]any, len(n.Members()))
		for _, member := range n.Members() {
			m[member.Key] = member.Value.Value()
		}
		return m
	case List:
		l := make([]any, len(n.Items()))
		for i, item := range n.Items() {
			l[i] = item.Value()
		}
		return l
	}
	return nil
}

// problem makes a problem at the node's own position.
func (n *Node) problem(pointer, message string) Problem {
	p := Problem{Pointer: pointer, Message: message}
	if n != nil {
		p.File, p.Line, p.Col = n.File(), int(n.Line), int(n.Col)
	}
	return p
}

var (
	tokenEscaper   = strings.NewReplacer("~", "~0", "/", "~1")
	tokenUnescaper = strings.NewReplacer("~1", "/", "~0", "~")
)

func escapeToken(token string) string {
	if strings.ContainsAny(token, "~/") {
		return tokenEscaper.Replace(token)
	}
	return token
}

func unescapeToken(token string) string {
	if strings.IndexByte(token, '~') >= 0 {
		return tokenUnescaper.Replace(token)
	}
	return token
}

// Path writes a JSON Pointer as people read it: `/items/1/x_mm` becomes `items[1].x_mm`. The root is "".
func (n *Node) Path(pointer string) string {
	if pointer == "" || pointer[0] != '/' {
		return ""
	}
	var b strings.Builder
	for _, token := range strings.Split(pointer[1:], "/") {
		token = unescapeToken(token)
		_, index := listIndex(token)
		// A key made of digits is only told from an index by looking at its parent.
		if n != nil && n.Kind == Map {
			index = false
		}
		switch {
		case index:
			b.WriteString("[" + token + "]")
		case isPlainKey(token):
			if b.Len() > 0 {
				b.WriteByte('.')
			}
			b.WriteString(token)
		default:
			b.WriteString("[" + quoteText(token) + "]")
		}
		n = n.child(token)
	}
	return b.String()
}

func isPlainKey(key string) bool {
	for i := 0; i < len(key); i++ {
		c := key[i]
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' || c == '-'
		if !letter && (i == 0 || c < '0' || c > '9') {
			return false
		}
	}
	return key != ""
}

// quoteText puts a text in quotes for a message, on one line and not longer than about 40 characters.
func quoteText(text string) string {
	const most = 40
	count := 0
	for i := range text {
		if count == most {
			text = text[:i] + "…"
			break
		}
		count++
	}
	return strconv.Quote(text)
}
