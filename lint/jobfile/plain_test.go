package jobfile

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"go.yaml.in/yaml/v3"

	"wetrule/policies"
	"wetrule/schema"
)

// bothReaders reads a text with the plain reader and with the library. plain is nil when it has left the text to the library.
func bothReaders(text string) (plain, library *Node, err error) {
	src := func() *source { return &source{file: "j.yaml", data: []byte(text)} }
	first := src()
	if p := first.scan(); p != nil {
		return nil, nil, Problems{*p}
	}
	plain = readPlain(first, new(Memory))
	second := src()
	second.scan()
	library, err = readLibrary(second, new(Memory))
	return plain, library, err
}

// sameTree tells where two trees differ, or gives "".
func sameTree(a, b *Node) string {
	switch {
	case a.Kind != b.Kind || a.Text != b.Text || a.Num != b.Num || a.Bool != b.Bool:
		return "value of " + outline(a) + " and " + outline(b)
	case place(a) != place(b):
		return "place of " + outline(a) + " and " + outline(b)
	case len(a.Members()) != len(b.Members()) || len(a.Items()) != len(b.Items()):
		return "size of " + outline(a) + " and " + outline(b)
	}
	for i := range a.Members() {
		x, y := a.Members()[i], b.Members()[i]
		if x.Key != y.Key || x.KeyLine != y.KeyLine || x.KeyCol != y.KeyCol {
			return "key " + x.Key + " of " + outline(a) + " and " + outline(b)
		}
		if d := sameTree(x.Value, y.Value); d != "" {
			return d
		}
	}
	for i := range a.Items() {
		if d := sameTree(a.Items()[i], b.Items()[i]); d != "" {
			return d
		}
	}
	return ""
}

// requireSameReading holds the plain reader against the library and tells whether the plain reader read the text.
func requireSameReading(t require.TestingT, text string) bool {
	plain, library, err := bothReaders(text)
	if plain == nil {
		return false
	}
	require.NoError(t, err, "the plain reader accepts %q", text)
	if d := sameTree(plain, library); d != "" {
		require.Fail(t, "the readers differ", "%s\n%q", d, text)
	}
	return true
}

// plainHazards are texts at the edge of what the plain reader takes. Those marked it must read itself, so that it is of use; the others it may leave
// to the library, and must where the library refuses them.
var plainHazards = []struct {
	text string
	own  bool
}{
	{"a: 1\n", true},
	{"a: 1", true},
	{"a: 1\r\nb: 2\r\n", true},
	{"\ufeffa: 1\n", true},
	{"# c\n\n  # d\na: b # e\n\n# f", true},
	{"a:\n  b: 1\n  c:\n    d: 2\ne: 3\n", true},
	{"a:\n- 1\n- 2\nb: 3\n", true},
	{"a:\n  - 1\n  - b: 2\n    c: 3\n  -   d: 4\n      e: 5\n", true},
	{"- - a\n  - b\n- - - c\n", true},
	{"- a:\n  - b\n  - c\n  d: e\n", true},
	{"-\n  a: 1\n-\n  - b\n", true},
	{"- # c\n  a: 1\n- # d\n  b\n", true},
	{"a:\n  b\nc:\n  {d: 1}\n", true},
	{"a: # c\n  b: 1\n", true},
	{"a: [1, {b: c, d: [e]}, 'f', \"g\"]\n", true},
	{"a: [1,\n  2, # c\n  {b: 1,\n# d\nc: 2}\n]\nb: 1\n", true},
	{"a: {}\nb: []\nc: [ ]\nd: { }\n", true},
	{"[a, b]", true},
	{"{a: 1}", true},
	{"{\n}\n", true},
	{"a: {b:\n  c}\n", true},
	{"é: [ñ, x, {日本: 'ü', z: 1}] # ü\nb: ö\n", true},
	{"a: it's\nb: say \"x\" now\nc: a#b\nd: http://x.y/z?q=1#r\ne: a:b\nf: x, y [z] {w}\n", true},
	{"a: 'it''s'\nb: ''\nc: \"\"\nd: ' a '\ne: \"# no\"\nf: ': no'\n", true},
	{"start: 2026-02-01T08:00:00Z\na: [2026-02-01T08:00:00+01:00]\nb: 2026-02-01\nc: 12:30\n", true},
	{"a: 1.5\nb: -0\nc: -0.0\nd: 1e3\ne: 123456789012345\nf: 100000000000.125\ng: 0.1\nh: 1E-2\ni: 999999999999999.9\n", true},
	{"a: true\nb: false\nc: null\nd: ~\ne: Null\nf: NULL\n", true},
	{"a: yes\nb: no\nc: on\nd: off\ne: y\nf: N\n", true},
	{"a: 5 mm\nb: 50x50\nc: 1-2\nd: 3/4\ne: 5%\nf: 12:30\ng: 1.2.3\nh: -x\ni: +49 1\nj: 0x1G\nk: 0b2\n", true},
	{"a b: 1\nc-d_e.f/g: 2\nx,y: 3\n1a: 4\n2026-01-01: 5\na:b: 6\n", true},
	{"yes: 1\nno: 2\nnull_: 3\ntrue_: 4\n", true},
	{"  a: 1\n  b: 2\n", true},

	{"a: b # c#d\ne: f #\n", true},
	{"a:\tb\n", false},
	{"a: b\t# c\n", false},
	{"# a\tb\na: 1\n", false},
	{"\ta: 1\n", false},
	{"? a\n: b\n", false},
	{"a: &x 1\nb: *x\n", false},
	{"a: !x 1\n", false},
	{"a: ! x\n", false},
	{"a: |\n  x\n", false},
	{"a: >-\n  x\n  y\n", false},
	{"a: b\n  c\n", false},
	{"a: 'b\n  c'\n", false},
	{"a: \"b\\n\"\n", false},
	{"a: [b\n  c]\n", false},
	{"a: [b c\n, d]\n", true},
	{"'a': 1\n\"b\": 2\n", false},
	{"a : 1\n", false},
	{"a: [b : 1]\n", false},
	{"a: [b: 1]\n", false},
	{"a: {b}\n", false},
	{"a: {b: , c: 1}\n", false},
	{"a: {b:}\n", false},
	{"a: {b:1}\n", false},
	{"a: {\"b\":1}\n", false},
	{"a: [1,]\n", false},
	{"a: {b: 1,}\n", false},
	{"a: [,]\n", false},
	{"a: [1, , 2]\n", false},
	{"[a]: 1\n", false},
	{"{a: 1}: 1\n", false},
	{"a: [1] x\n", false},
	{"a: [1]# c\n", false},
	{"a: 'b'# c\n", false},
	{"a: 'b' c\n", false},
	{"a: 'b': c\n", false},
	{"a:\n", false},
	{"a:\nb: 1\n", false},
	{"a: # c\nb: 1\n", false},
	{"- \n- 1\n", false},
	{"-\n", false},
	{"a: - b\n", false},
	{"a:\n  b: 1\n c: 2\n", false},
	{"a:\n    b: 1\n  c: 2\n", false},
	{"a:\n- 1\n - 2\n", false},
	{"a:\n - 1\n- 2\n", false},
	{"- 1\na: 2\n", false},
	{"a: 1\n- 2\n", false},
	{"a: 1\na: 2\n", false},
	{"a: {b: 1, b: 2}\n", false},
	{"a: 010\n", false},
	{"a: 1_000\n", false},
	{"a: .nan\n", false},
	{"a: -.inf\n", false},
	{"a: .5\n", false},
	{"a: 5.\n", false},
	{"a: +5\n", false},
	{"a: 0x1F\n", false},
	{"a: 0o17\n", false},
	{"a: 0b1\n", false},
	{"a: 1e400\n", false},
	{"a: 1e-400\n", false},
	{"a: 1000000000000001\n", false},
	{"a: True\n", false},
	{"a: FALSE\n", false},
	{"1: a\n", false},
	{"true: a\n", false},
	{"~: a\n", false},
	{"<<: {a: 1}\n", false},
	{"a: <<\n", false},
	{": a\n", false},
	{"a: b: c\n", false},
	{"a: b:\n", false},
	{"a: [b:]\n", false},
	{"a: [b?c]\n", false},
	{"a: [?b]\n", false},
	{"a: [- b]\n", false},
	{"a: [-b, -1]\n", true},
	{"a: @b\n", false},
	{"a: `b`\n", false},
	{"a: %b\n", false},
	{"%YAML 1.2\n---\na: 1\n", false},
	{"---\na: 1\n", false},
	{"a: 1\n...\n", false},
	{"a: 1\n---\nb: 2\n", false},
	{"a: [b,\n---\n]\n", false},
	{"a: [b,\n...\n]\n", false},
	{"a: [b,\n... c\n]\n", false},
	{"a: [b,\n...: c\n]\n", false},
	{"... x: 1\n", false},
	{"a: [1\n", false},
	{"a: {b: 1\n", false},
	{"a: 1]\n", true},
	{"a\n", false},
	{"a", false},
	{"", false},
	{"#", false},
	{"a: b\n # c\n d: e\n", false},
	{"a: b\n # c\nd: e\n", true},
	{"a:\n # c\n  b: 1\n# d\n  c: 2\n   # e\nd: 3\n", true},
	{"a: [#c\n1]\n", false},
	{"a: [ #c\n1\n#d\n]\n", true},
	{strings.Repeat("k", 128) + ": 1\n", true},
	{strings.Repeat("k", 129) + ": 1\n", false},
	{strings.Repeat("k", 1100) + ": 1\n", false},
	{"a: " + strings.Repeat("v", 2000) + "\n", true},
	{"a: " + strings.Repeat("v", MaxStringBytes+1) + "\n", false},
	{"a: '" + strings.Repeat("v", MaxStringBytes+1) + "'\n", false},
	{"a: " + strings.Repeat("[", MaxDepth-1) + strings.Repeat("]", MaxDepth-1) + "\n", true},
	{"a: " + strings.Repeat("[", MaxDepth) + strings.Repeat("]", MaxDepth) + "\n", false},
	{strings.Repeat("- ", MaxDepth) + "a\n", true},
	{strings.Repeat("- ", MaxDepth+1) + "a\n", false},
	{strings.Repeat(" ", 128) + "a: 1\n", true},
	{strings.Repeat(" ", 129) + "a: 1\n", false},
	{"a: 1\n" + strings.Repeat(" ", 1001) + "\n", false},
	{"a: 1\n" + strings.Repeat(" ", 1001), false},
	{"a: [1,\n" + strings.Repeat(" ", 1001) + "2]\n", false},
	{"a: '" + strings.Repeat("[", 1025) + "'\n", false},
	{"a: [" + strings.Repeat("[], ", 1025) + "1]\n", true},
	{"- " + strings.Repeat("\n- ", 5) + "\n", false},
	{"a:\n\n\n  b: 1\n\n\n\nc: 2\n\n", true},
	{"a: b   \nc: d   # e\n", true},
	{manyKeys(200, -1), true},
	{manyKeys(200, 7), false},
	{manyKeys(64, -1), true},
	{manyKeys(64, 7), false},
	{"a: b\r\n\r\n# c\r\nd:\r\n  - e\r\n", true},
}

// manyKeys writes a map of n keys, of which the last repeats another unless that is negative.
func manyKeys(n, repeated int) string {
	var b strings.Builder
	for i := range n {
		if i == n-1 && repeated >= 0 {
			i = repeated
		}
		fmt.Fprintf(&b, "key_%d: %d\n", i, i)
	}
	return b.String()
}

func TestPlainReaderAtItsEdges(t *testing.T) {
	for _, c := range plainHazards {
		for _, text := range []string{c.text, strings.ReplaceAll(strings.ReplaceAll(c.text, "\r\n", "\n"), "\n", "\r\n")} {
			require.Equal(t, c.own, requireSameReading(t, text), "%q", text)
		}
	}
	// What the YAML of the tests of hazards and of the fuzz targets holds.
	for _, text := range readSeeds {
		requireSameReading(t, text)
	}
}

// shippedYAML lists the YAML files that come with wetrule.
func shippedYAML(t testing.TB) map[string]string {
	t.Helper()
	out := map[string]string{"starter": string(schema.Starter)}
	for _, name := range policies.Books() {
		fsys, _ := policies.Book(name)
		require.NoError(t, fs.WalkDir(fsys, ".", func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || filepath.Ext(path) != ".yaml" {
				return err
			}
			text, err := fs.ReadFile(fsys, path)
			out[name+"/"+path] = string(text)
			return err
		}))
	}
	demo, err := filepath.Glob("../../fixtures/demo/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, demo)
	for _, path := range demo {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		out[path] = string(text)
	}
	return out
}

func TestPlainReaderReadsWhatComesWithWetrule(t *testing.T) {
	own, all := 0, 0
	files := shippedYAML(t)
	for _, name := range sortedKeys(files) {
		all += len(files[name])
		if requireSameReading(t, files[name]) {
			own += len(files[name])
			continue
		}
		t.Log("left to the library:", name)
		require.NotContains(t, name, "demo")
		require.NotContains(t, name, "base.yaml")
	}
	require.Greater(t, float64(own), 0.5*float64(all))
}

// anyYAML draws a text of lines that often are YAML, and often are not quite.
func anyYAML(t *rapid.T) string {
	indent := rapid.SampledFrom([]string{"", "", "  ", "  ", "    ", " ", "   ", "      "})
	mark := rapid.SampledFrom([]string{"", "", "", "- ", "- ", "- - ", "-   ", "-", "? "})
	key := rapid.SampledFrom([]string{"a: ", "b: ", "c:", "é ü: ", "x_mm:  ", "a:b: ", "'q': ", "", "", "1: ", "true: ", "a : ", "k#k: "})
	value := rapid.SampledFrom([]string{"", "", "1", "x", "two words", "é", "'q'", "\"d\"", "'it''s'", "true", "~", "010", "2026-01-01", "a:b", "a#b", "a: b", "-1", "- x", "|", ">", "&a", "*a", "!t x", "1_0", ".5", "5mm", "@", "?",
		"[1, 2]", "{a: 1, b: x}", "[", "]", "{", "}", "[a, {b: [c]}]", "[a,", "{a: 1,", "[[1], []]", "{}", "{a: }", "[a b, c ]", "{a: b }", "[ 1 , 2 ]", "{a: 1, a: 2}", "x]", ", y", "---", "...", "%", "[a: b]", "{'a': 1}", "\"a\\\"b\""})
	tail := rapid.SampledFrom([]string{"", "", "", "", " ", " # c", "# c", " #", "  # é", ":", "\r"})
	var b strings.Builder
	for range rapid.IntRange(1, 8).Draw(t, "lines") {
		if rapid.IntRange(0, 9).Draw(t, "other line") == 0 {
			b.WriteString(rapid.SampledFrom([]string{"", "# c", "  # d", "      # e", "---", "...", "   ", "\t"}).Draw(t, "line"))
		} else {
			b.WriteString(indent.Draw(t, "indent") + mark.Draw(t, "mark") + key.Draw(t, "key") + value.Draw(t, "value") + tail.Draw(t, "tail"))
		}
		b.WriteString(rapid.SampledFrom([]string{"\n", "\n", "\n", "\n", "\r\n", "\n\n", ""}).Draw(t, "break"))
	}
	return b.String()
}

func TestPlainReaderAgainstTheLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for range 50 {
			requireSameReading(t, anyYAML(t))
		}
	})
}

// TestPlainReaderOnDamagedFiles changes a few bytes of real files.
func TestPlainReaderOnDamagedFiles(t *testing.T) {
	files := shippedYAML(t)
	names := sortedKeys(files)
	part := rapid.SampledFrom([]string{" ", "  ", "\n", "\n  ", "#", " #", ":", ": ", "-", "- ", ",", "[", "]", "{", "}", "'", "\"", "\\", "|", ">", "&", "*", "!", "%", "@", "?", "? ", "\t", "\r\n", "é", "0", "1", "_", ".", "~", "<<"})
	rapid.Check(t, func(t *rapid.T) {
		lines := strings.SplitAfter(files[rapid.SampledFrom(names).Draw(t, "file")], "\n")
		from := rapid.IntRange(0, len(lines)-1).Draw(t, "from")
		lines = lines[from:min(len(lines), from+rapid.IntRange(1, 40).Draw(t, "lines"))]
		text := strings.Join(lines, "")
		for range 10 {
			at := rapid.IntRange(0, len(text)).Draw(t, "at")
			cut := min(len(text), at+rapid.IntRange(0, 3).Draw(t, "cut"))
			damaged := text[:at] + part.Draw(t, "part") + text[cut:]
			requireSameReading(t, damaged)
		}
	})
}

// FuzzPlainYAML holds the plain reader against the library: the same tree with the same places, or nothing.
func FuzzPlainYAML(f *testing.F) {
	for _, c := range plainHazards {
		if len(c.text) < 500 {
			f.Add(c.text)
		}
	}
	for _, s := range readSeeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) < 4096 { // the library is slow on what the limits allow
			requireSameReading(t, text)
		}
	})
}

func libraryTag(text string) string {
	return (&yaml.Node{Kind: yaml.ScalarNode, Value: text}).ShortTag()
}
