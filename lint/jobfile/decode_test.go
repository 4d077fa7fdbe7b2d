package jobfile

import (
	"errors"
	"fmt"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
)

type millimetres struct{ whole int }

func (m *millimetres) DecodeNode(n *Node) error {
	switch {
	case n.Kind != Number:
		return errors.New("not a length")
	case n.Num < 0:
		return Problem{File: n.File(), Line: int(n.Line), Col: int(n.Col), Message: "below nought"}
	case n.Num > 1000:
		return Problems{{Message: "one"}, {Message: "two"}}
	}
	m.whole = int(n.Num)
	return nil
}

type word string

type placed struct {
	Pos *Node   `json:"-"`
	X   float64 `json:"x_mm"`
	ID  string  `json:"id"`
}

type Deep struct {
	Depth *int `json:"depth"`
}

type wide struct {
	placed
	*Deep
	ID       word                   `json:"id"` // nearer than the embedded one
	On       *bool                  `json:"on"`
	Off      bool                   `json:"off"`
	Count    int                    `json:"count"`
	Small    int8                   `json:"small"`
	Plus     uint16                 `json:"plus"`
	Half     float32                `json:"half"`
	Tags     []string               `json:"tags,omitempty"`
	Sizes    []float64              `json:"sizes"`
	Runs     [][][2]float64         `json:"runs"`
	Triple   [3]int                 `json:"triple"`
	ByName   map[string]placed      `json:"by_name"`
	ByWord   map[word]*placed       `json:"by_word"`
	Node     *Node                  `json:"node"`
	Any      any                    `json:"any"`
	Length   millimetres            `json:"length"`
	Lengths  []millimetres          `json:"lengths"`
	Maybe    *millimetres           `json:"maybe"`
	ByLength map[string]millimetres `json:"by_length"`
	Parts    []placed               `json:"parts"`
	Skipped  string                 `json:"-"`
	Untagged string
}

const wideText = `id: w
x_mm: 1.5
depth: 3
on: false
off: true
count: 12
small: -7
plus: 65535
half: 0.5
tags: [a, b]
sizes: [1, 2.5]
runs: [[[0, 1], [2, 3]], []]
triple: [1, 2, 3]
by_name: {a: {x_mm: 1}, b: {x_mm: 2}}
by_word: {k: {id: z}, none: }
node: {whatever: [1]}
any: {a: [1, x, null, true]}
length: 5
lengths: [6, 7]
maybe: 8
by_length: {a: 9}
parts:
  - id: p
    x_mm: 4
  - x_mm: 5
Skipped: no
Untagged: no
unknown: no
`

func TestDecodeEveryKindOfField(t *testing.T) {
	n := read(t, "j.yaml", wideText)
	var w wide
	require.NoError(t, Decode(n, &w))
	require.Same(t, n, w.Pos, "an embedded Pos too")
	require.Equal(t, word("w"), w.ID)
	require.Empty(t, w.placed.ID)
	require.Equal(t, 1.5, w.X)
	require.Equal(t, 3, *w.Depth)
	require.False(t, *w.On)
	require.True(t, w.Off)
	require.Equal(t, 12, w.Count)
	require.Equal(t, int8(-7), w.Small)
	require.Equal(t, uint16(65535), w.Plus)
	require.Equal(t, float32(0.5), w.Half)
	require.Equal(t, []string{"a", "b"}, w.Tags)
	require.Equal(t, []float64{1, 2.5}, w.Sizes)
	require.Equal(t, [][][2]float64{{{0, 1}, {2, 3}}, {}}, w.Runs)
	require.Equal(t, [3]int{1, 2, 3}, w.Triple)
	require.Equal(t, 2.0, w.ByName["b"].X)
	require.Same(t, n.At("/by_name/b"), w.ByName["b"].Pos)
	require.Equal(t, "z", w.ByWord["k"].ID)
	require.Contains(t, w.ByWord, word("none"))
	require.Nil(t, w.ByWord["none"])
	require.Same(t, n.Get("node"), w.Node)
	require.Equal(t, map[string]any{"a": []any{1.0, "x", nil, true}}, w.Any)
	require.Equal(t, 5, w.Length.whole)
	require.Equal(t, []millimetres{{6}, {7}}, w.Lengths)
	require.Equal(t, 8, w.Maybe.whole)
	require.Equal(t, 9, w.ByLength["a"].whole)
	require.Same(t, n.At("/parts/0"), w.Parts[0].Pos)
	require.Same(t, n.At("/parts/1"), w.Parts[1].Pos)
	require.Equal(t, 5.0, w.Parts[1].X)
	require.Empty(t, w.Skipped+w.Untagged)
}

func TestDecodeMissingAndEmptyValues(t *testing.T) {
	var w wide
	require.NoError(t, Decode(read(t, "j.yaml", "on:\ntags:\nby_name:\nmaybe:\nany:\nnode:\n"), &w))
	require.Nil(t, w.On)
	require.Nil(t, w.Tags)
	require.Nil(t, w.ByName)
	require.Nil(t, w.Maybe)
	require.Nil(t, w.Any)
	require.Nil(t, w.Deep, "no key of it is given")
	require.Equal(t, Null, w.Node.Kind)
}

func TestDecodeMismatches(t *testing.T) {
	for text, want := range map[string]string{
		"x_mm: far":             `j.yaml:1:7: expected a number, found text "far"`,
		"x_mm:":                 `j.yaml:1:6: expected a number, found nothing`,
		"id: 5":                 `j.yaml:1:5: expected text, found the number 5`,
		"on: 1":                 `j.yaml:1:5: expected true or false, found the number 1`,
		"count: 1.5":            `j.yaml:1:8: expected a whole number, found the number 1.5`,
		"small: 200":            `j.yaml:1:8: number 200 is out of range`,
		"plus: -1":              `j.yaml:1:7: number -1 is out of range`,
		"plus: 70000":           `j.yaml:1:7: number 70000 is out of range`,
		"tags: x":               `j.yaml:1:7: expected a list, found text "x"`,
		"sizes: [1, x]":         `j.yaml:1:12: expected a number, found text "x"`,
		"runs: [[[1, 2, 3]]]":   `j.yaml:1:9: expected a list of 2, found 3`,
		"runs: [[[1, a]]]":      `j.yaml:1:13: expected a number, found text "a"`,
		"runs: [[5]]":           `j.yaml:1:9: expected a list of 2, found the number 5`,
		"triple: {a: 1}":        `j.yaml:1:9: expected a list of 3, found a set of keys`,
		"by_name: [1]":          `j.yaml:1:10: expected a set of keys, found a list`,
		"parts: [{x_mm: x}]":    `j.yaml:1:16: expected a number, found text "x"`,
		"parts: [1]":            `j.yaml:1:9: expected a set of keys, found the number 1`,
		"length: x":             `j.yaml:1:9: not a length`,
		"length:":               `j.yaml:1:8: not a length`,
		"lengths: [1, -1]":      `j.yaml:1:14: below nought`,
		"maybe: 2000":           "one\ntwo",
		"on: 1\noff: 2":         "j.yaml:1:5: expected true or false, found the number 1\nj.yaml:2:6: expected true or false, found the number 2",
		"[1]":                   `j.yaml:1:1: expected a set of keys, found a list`,
		"by_name: {a: {id: 1}}": `j.yaml:1:19: expected text, found the number 1`,
	} {
		var w wide
		require.EqualError(t, Decode(read(t, "j.yaml", text), &w), want, text)
	}
	var w wide
	err := Decode(read(t, "j.yaml", "by_name: {a/b: {id: 1}}\nruns: [[], [[1, a]]]"), &w)
	ps := err.(Problems)
	require.Equal(t, "/by_name/a~1b/id", ps[0].Pointer)
	require.Equal(t, "/runs/1/0/1", ps[1].Pointer)
}

func TestDecodeRefusesWhatItCannotFill(t *testing.T) {
	n := read(t, "j.yaml", "a: 1")
	require.EqualError(t, Decode(n, nil), "jobfile.Decode needs a pointer to fill, got <nil>")
	require.EqualError(t, Decode(n, wide{}), "jobfile.Decode needs a pointer to fill, got jobfile.wide")
	require.EqualError(t, Decode(n, (*wide)(nil)), "jobfile.Decode needs a pointer to fill, got *jobfile.wide")
	require.EqualError(t, Decode(nil, &wide{}), "there is nothing to decode")
	require.EqualError(t, Decode(NewList(nil), &[]any{}), "there is nothing to decode")
	for _, into := range []any{
		&struct {
			A chan int `json:"a"`
		}{}, &struct {
			A func() `json:"a"`
		}{}, &struct {
			A error `json:"a"`
		}{}, &struct {
			A map[int]int `json:"a"`
		}{}, &struct {
			A complex128 `json:"a"`
		}{},
	} {
		require.ErrorContains(t, Decode(n, into), "j.yaml:1:4: cannot decode into ")
	}
	twice := reflect.StructOf([]reflect.StructField{
		{Name: "A", Type: reflect.TypeFor[int](), Tag: `json:"a"`},
		{Name: "B", Type: reflect.TypeFor[int](), Tag: `json:"a"`},
	})
	require.ErrorContains(t, Decode(n, reflect.New(twice).Interface()), `has two fields for the key "a"`)
}

type loop struct {
	*loop
	Next *loop `json:"next"`
	N    int   `json:"n"`
}

func TestDecodeRecursiveTypes(t *testing.T) {
	var l loop
	require.NoError(t, Decode(read(t, "j.yaml", "n: 1\nnext: {n: 2, next: {n: 3}}"), &l))
	require.Equal(t, 3, l.Next.Next.N)
}

func TestDecodeIntoPlainTypes(t *testing.T) {
	n := read(t, "j.yaml", "[1, 2]")
	var list []int
	require.NoError(t, Decode(n, &list))
	require.Equal(t, []int{1, 2}, list)
	var value any
	require.NoError(t, Decode(n, &value))
	require.Equal(t, []any{1.0, 2.0}, value)
	var node *Node
	require.NoError(t, Decode(n, &node))
	require.Same(t, n, node)
}

type benchItem struct {
	Pos      *Node      `json:"-"`
	ID       string     `json:"id"`
	Kind     string     `json:"kind"`
	Face     string     `json:"face"`
	X        *float64   `json:"x_mm"`
	Y        *float64   `json:"y_mm"`
	Diameter *float64   `json:"diameter_mm"`
	IPMark   string     `json:"ip_mark"`
	Guarded  *bool      `json:"guarded"`
	FixedOn  string     `json:"fixed_on"`
	Size     [2]float64 `json:"size_mm"`
	Note     string     `json:"note"`
}

func BenchmarkDecode(b *testing.B) {
	n := read(b, "j.yaml", benchJob())
	b.ReportAllocs()
	for b.Loop() {
		var job struct {
			Pos       *Node       `json:"-"`
			Reference string      `json:"reference"`
			Items     []benchItem `json:"items"`
		}
		if err := Decode(n, &job); err != nil {
			b.Fatal(err)
		}
		if len(job.Items) != 40 || job.Items[39].Pos == nil {
			b.Fatal(fmt.Sprint(len(job.Items)))
		}
	}
}
