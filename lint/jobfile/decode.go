package jobfile

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// NodeDecoder is a type that decodes itself. The node is never nil. A Problem or Problems keeps its own position; any
// other error is placed at the node.
type NodeDecoder interface {
	DecodeNode(n *Node) error
}

// Decode fills a Go value from a node, driven by `json:"name"` tags. Fields without a tag are left alone, keys without
// a field are ignored (the schema has refused them). A missing key leaves its field as it is. A pointer, slice or map
// becomes nil for an empty value; any other field cannot take one.
//
//   - numbers go into float and integer types (whole and in range), text into strings, true and false into bools
//   - lists go into slices, and into arrays of exactly that length; maps into structs and maps with string keys
//   - a *Node field receives the node itself, an `any` field the plain Go value
//   - a type with DecodeNode decodes itself
//   - embedded structs are flattened
//   - a field `Pos *Node` tagged `json:"-"` receives the node of its own struct
//
// What does not fit is told as Problems with positions.
func Decode(n *Node, into any) error { return new(Memory).decode(n, into) }

// decode does what Decode does, with what this memory has for it.
func (m *Memory) decode(n *Node, into any) error {
	v := reflect.ValueOf(into)
	if v.Kind() != reflect.Pointer || v.IsNil() {
		return fmt.Errorf("jobfile.Decode needs a pointer to fill, got %T", into)
	}
	if n == nil {
		return Problems{{Message: "there is nothing to decode"}}
	}
	m.floats.least, m.bools.least, m.texts.least, m.pairs.least = 64, 64, 64, 64
	d := decoder{Memory: m}
	d.decode(n, v.Elem(), infoOf(v.Type().Elem()))
	return d.problems.finish()
}

type decoder struct {
	*Memory
	problems Problems
}

// step is a key, or an index when that is not negative.
type step struct {
	key   string
	index int
}

func (d *decoder) report(n *Node, message string) {
	pointer := ""
	for _, s := range d.path {
		token := escapeToken(s.key)
		if s.index >= 0 {
			token = strconv.Itoa(s.index)
		}
		pointer += "/" + token
	}
	d.problems = append(d.problems, n.problem(pointer, message))
}

// one makes a pointer to a value.
func one[T any](s *slab[T], v T) *T {
	p := s.one()
	*p = v
	return p
}

// fill fills what most fields of a job are. It gives false for a value that does not fit.
func (d *decoder) fill(n *Node, v reflect.Value, how filling) bool {
	switch how {
	case fillText:
		if n.Kind == String {
			v.SetString(n.Text)
			return true
		}
		return false
	case fillNumber:
		if n.Kind == Number && v.IsNil() {
			v.Set(reflect.ValueOf(one(&d.floats, n.Num)))
			return true
		}
		return false
	case fillBool:
		if n.Kind == Bool && v.IsNil() {
			v.Set(reflect.ValueOf(one(&d.bools, n.Bool)))
			return true
		}
		return false
	}
	switch p := v.Addr().Interface().(type) {
	case *float64:
		if n.Kind == Number {
			*p = n.Num
			return true
		}
	case *bool:
		if n.Kind == Bool {
			*p = n.Bool
			return true
		}
	case **Node:
		*p = n
		return true
	case *[]string:
		if all(n, String) {
			list := d.texts.cut(len(n.Items()))
			for i, item := range n.Items() {
				list[i] = item.Text
			}
			*p = list
			return true
		}
	case *[]float64:
		if all(n, Number) {
			list := d.floats.cut(len(n.Items()))
			for i, item := range n.Items() {
				list[i] = item.Num
			}
			*p = list
			return true
		}
	case *[2]float64:
		if isPair(n) {
			*p = pair(n)
			return true
		}
	case *[][2]float64:
		if n.Kind == List && !slices.ContainsFunc(n.Items(), func(item *Node) bool { return !isPair(item) }) {
			list := d.pairs.cut(len(n.Items()))
			for i, item := range n.Items() {
				list[i] = pair(item)
			}
			*p = list
			return true
		}
	}
	return false
}

// all tells whether a node is a list of one kind.
func all(n *Node, kind Kind) bool {
	if n.Kind != List {
		return false
	}
	for _, item := range n.Items() {
		if item == nil || item.Kind != kind {
			return false
		}
	}
	return true
}

func isPair(n *Node) bool { return n != nil && len(n.Items()) == 2 && all(n, Number) }

func pair(n *Node) [2]float64 { return [2]float64{n.Items()[0].Num, n.Items()[1].Num} }

func (d *decoder) expected(n *Node, what string) {
	d.report(n, "expected "+what+", found "+found(n))
}

var (
	nodeType        = reflect.TypeFor[*Node]()
	nodeDecoderType = reflect.TypeFor[NodeDecoder]()
)

// filling is how fill fills a type, 0 for types that it does not know.
type filling uint8

const (
	fillText   filling = iota + 1
	fillNumber         // behind a pointer
	fillBool           // behind a pointer
	fillOther
)

var fillings = map[reflect.Type]filling{
	reflect.TypeFor[string]():   fillText,
	reflect.TypeFor[*float64](): fillNumber,
	reflect.TypeFor[*bool]():    fillBool,

	nodeType: fillOther, reflect.TypeFor[float64](): fillOther, reflect.TypeFor[bool](): fillOther,
	reflect.TypeFor[[]string](): fillOther, reflect.TypeFor[[]float64](): fillOther,
	reflect.TypeFor[[2]float64](): fillOther, reflect.TypeFor[[][2]float64](): fillOther,
}

// typeInfo is what Decode has to know of a type, found once, so that nothing is asked of a type for each value.
type typeInfo struct {
	kind    reflect.Kind
	number  int          // of a struct or list, from 1
	typ     reflect.Type // likewise
	fill    filling
	decodes bool      // the pointer to the type decodes itself
	elem    *typeInfo // of a pointer, slice, array or map

	// Where the keys of a map go in a struct.
	keys     *keyTable[field]
	fields   map[string]field // what keys is made of
	pos      [][]int          // the Pos fields, also of embedded structs
	conflict string
}

type field struct {
	index []int
	own   int // the index when it is no field of an embedded struct, else -1
	info  *typeInfo
}

var (
	typeInfos  = map[reflect.Type]*typeInfo{}
	numbered   int // how many of them have a number
	typeInfoMu sync.Mutex
)

func infoOf(t reflect.Type) *typeInfo {
	typeInfoMu.Lock()
	defer typeInfoMu.Unlock()
	return makeInfo(t)
}

func makeInfo(t reflect.Type) *typeInfo {
	if info, ok := typeInfos[t]; ok {
		return info
	}
	info := &typeInfo{kind: t.Kind(), fill: fillings[t]}
	typeInfos[t] = info // before the rest: types may be recursive
	// Only named types have methods of their own.
	info.decodes = t.Name() != "" && t.PkgPath() != "" && reflect.PointerTo(t).Implements(nodeDecoderType)
	if info.fill == 0 && (info.kind == reflect.Struct || info.kind == reflect.Slice) {
		numbered++
		info.number, info.typ = numbered, t
	}
	switch info.kind {
	case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		info.elem = makeInfo(t.Elem())
	case reflect.Struct:
		info.fields = map[string]field{}
		info.collect(t, nil, map[reflect.Type]bool{})
		for name, f := range info.fields {
			f.info = makeInfo(t.FieldByIndex(f.index).Type)
			if f.own = -1; len(f.index) == 1 {
				f.own = f.index[0]
			}
			info.fields[name] = f
		}
		info.keys = newKeyTable(info.fields).numbered()
	}
	return info
}

func (info *typeInfo) collect(t reflect.Type, at []int, seen map[reflect.Type]bool) {
	if seen[t] {
		return // a struct that embeds itself through a pointer
	}
	seen[t] = true
	defer delete(seen, t)
	var embedded []reflect.StructField
	for i := range t.NumField() {
		f := t.Field(i)
		tag, tagged := f.Tag.Lookup("json")
		name, _, _ := strings.Cut(tag, ",")
		index := append(append([]int(nil), at...), i)
		switch {
		case f.Name == "Pos" && f.Type == nodeType && name == "-":
			info.pos = append(info.pos, index)
		case name == "-":
		case f.Anonymous && name == "":
			f.Index = index
			embedded = append(embedded, f)
		case f.IsExported() && tagged && name != "":
			switch other, taken := info.fields[name]; {
			case !taken || len(other.index) > len(index):
				info.fields[name] = field{index: index}
			case len(other.index) == len(index):
				info.conflict = name
			}
		}
	}
	// Deeper fields come last, so that the nearer one keeps a name.
	for _, f := range embedded {
		inner := f.Type
		if inner.Kind() == reflect.Pointer {
			if !f.IsExported() {
				continue // reflection cannot allocate it
			}
			inner = inner.Elem()
		}
		if inner.Kind() == reflect.Struct {
			info.collect(inner, f.Index, seen)
		}
	}
}

// fieldAt walks to a field and allocates embedded pointers on the way.
func fieldAt(v reflect.Value, index []int) reflect.Value {
	if len(index) == 1 {
		return v.Field(index[0])
	}
	for _, i := range index {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				v.Set(reflect.New(v.Type().Elem()))
			}
			v = v.Elem()
		}
		v = v.Field(i)
	}
	return v
}

func (d *decoder) decode(n *Node, v reflect.Value, info *typeInfo) {
	if n == nil { // only in a tree made by hand
		d.report(n, "there is nothing to decode")
		return
	}
	if info.fill != 0 && d.fill(n, v, info.fill) {
		return
	}
	if info.kind == reflect.Pointer {
		if n.Kind == Null {
			v.SetZero()
			return
		}
		if v.IsNil() {
			d.point(v, info.elem)
		}
		d.decode(n, v.Elem(), info.elem)
		return
	}
	if info.decodes {
		d.self(n, v)
		return
	}
	switch info.kind {
	case reflect.Bool:
		if n.Kind != Bool {
			d.expected(n, Bool.String())
			return
		}
		v.SetBool(n.Bool)
	case reflect.Float64, reflect.Float32:
		if n.Kind != Number {
			d.expected(n, Number.String())
			return
		}
		v.SetFloat(n.Num)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		if whole, ok := d.whole(n); ok {
			if v.OverflowInt(whole) {
				d.report(n, "number "+n.Text+" is out of range")
				return
			}
			v.SetInt(whole)
		}
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		if whole, ok := d.whole(n); ok {
			if whole < 0 || v.OverflowUint(uint64(whole)) {
				d.report(n, "number "+n.Text+" is out of range")
				return
			}
			v.SetUint(uint64(whole))
		}
	case reflect.String:
		if n.Kind != String {
			d.expected(n, String.String())
			return
		}
		v.SetString(n.Text)
	case reflect.Slice:
		d.slice(n, v, info)
	case reflect.Array:
		d.array(n, v, info)
	case reflect.Map:
		d.stringMap(n, v, info)
	case reflect.Struct:
		d.structure(n, v, info)
	case reflect.Interface:
		if v.Type().NumMethod() != 0 {
			d.report(n, "cannot decode into "+v.Type().String())
			return
		}
		if value := n.Value(); value != nil {
			v.Set(reflect.ValueOf(value))
		} else {
			v.SetZero()
		}
	default:
		d.report(n, "cannot decode into "+v.Type().String())
	}
}

func (d *decoder) self(n *Node, v reflect.Value) {
	if !v.CanAddr() {
		d.report(n, "cannot decode into "+v.Type().String())
		return
	}
	err := v.Addr().Interface().(NodeDecoder).DecodeNode(n)
	if err == nil {
		return
	}
	var many Problems
	var one Problem
	switch {
	case errors.As(err, &many):
		d.problems = append(d.problems, many...)
	case errors.As(err, &one):
		d.problems = append(d.problems, one)
	default:
		d.report(n, err.Error())
	}
}

func (d *decoder) whole(n *Node) (int64, bool) {
	// MaxNumber keeps whole numbers exact and far inside an int64, but a node can also be made by hand.
	if n.Kind != Number || n.Num != math.Trunc(n.Num) || math.Abs(n.Num) > MaxNumber {
		d.expected(n, "a whole number")
		return 0, false
	}
	return int64(n.Num), true
}

func (d *decoder) items(n *Node, v reflect.Value, info *typeInfo) {
	for i, item := range n.Items() {
		d.path = append(d.path, step{index: i})
		d.decode(item, v.Index(i), info.elem)
		d.path = d.path[:len(d.path)-1]
	}
}

func (d *decoder) slice(n *Node, v reflect.Value, info *typeInfo) {
	switch n.Kind {
	case Null:
		v.SetZero()
		return
	case List:
	default:
		d.expected(n, List.String())
		return
	}
	if count := len(n.Items()); d.again && info.elem.number > 0 {
		v.Set(d.slabOf(info.elem).cut(count, info.elem))
	} else {
		v.Set(reflect.MakeSlice(v.Type(), count, count))
	}
	d.items(n, v, info)
}

// point gives a pointer something to point to.
func (d *decoder) point(v reflect.Value, elem *typeInfo) {
	if d.again && elem.number > 0 {
		v.Set(d.slabOf(elem).one(elem))
	} else {
		v.Set(reflect.New(v.Type().Elem()))
	}
}

func (d *decoder) array(n *Node, v reflect.Value, info *typeInfo) {
	if n.Kind != List {
		d.expected(n, fmt.Sprintf("a list of %d", v.Len()))
		return
	}
	if len(n.Items()) != v.Len() {
		d.report(n, fmt.Sprintf("expected a list of %d, found %d", v.Len(), len(n.Items())))
		return
	}
	d.items(n, v, info)
}

func (d *decoder) stringMap(n *Node, v reflect.Value, info *typeInfo) {
	t := v.Type()
	switch {
	case t.Key().Kind() != reflect.String:
		d.report(n, "cannot decode into "+t.String())
		return
	case n.Kind == Null:
		v.SetZero()
		return
	case n.Kind != Map:
		d.expected(n, Map.String())
		return
	}
	m := reflect.MakeMapWithSize(t, len(n.Members()))
	for i := range n.Members() {
		member := &n.Members()[i]
		d.path = append(d.path, step{member.Key, -1})
		value := reflect.New(t.Elem()).Elem()
		d.decode(member.Value, value, info.elem)
		m.SetMapIndex(reflect.ValueOf(member.Key).Convert(t.Key()), value)
		d.path = d.path[:len(d.path)-1]
	}
	v.Set(m)
}

func (d *decoder) structure(n *Node, v reflect.Value, info *typeInfo) {
	if n.Kind != Map {
		d.expected(n, Map.String())
		return
	}
	if info.conflict != "" {
		d.report(n, fmt.Sprintf("%s has two fields for the key %q", v.Type(), info.conflict))
		return
	}
	for _, index := range info.pos {
		fieldAt(v, index).Set(reflect.ValueOf(n))
	}
	members := n.Members()
	for i := range members {
		member := &members[i]
		f := info.keys.of(member)
		if f == nil {
			continue
		}
		var into reflect.Value
		if f.own >= 0 {
			into = v.Field(f.own)
		} else {
			into = fieldAt(v, f.index)
		}
		if n := member.Value; f.info.fill == fillText && n != nil && n.Kind == String {
			into.SetString(n.Text)
			continue
		} else if f.info.fill != 0 && n != nil && d.fill(n, into, f.info.fill) {
			continue
		}
		d.path = append(d.path, step{member.Key, -1})
		d.decode(member.Value, into, f.info)
		d.path = d.path[:len(d.path)-1]
	}
}

// found describes a value in a message.
func found(n *Node) string {
	if n == nil {
		return "nothing"
	}
	switch n.Kind {
	case Null:
		return "nothing"
	case Bool:
		return strconv.FormatBool(n.Bool)
	case Number:
		return "the number " + numberText(n)
	case String:
		return "text " + quoteText(n.Text)
	case Map:
		return "a set of keys"
	}
	return "a list"
}

func numberText(n *Node) string {
	if n.Text != "" && len(n.Text) <= 40 {
		return n.Text
	}
	return strconv.FormatFloat(n.Num, 'g', -1, 64)
}
