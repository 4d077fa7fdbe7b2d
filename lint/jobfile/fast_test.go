package jobfile

import (
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/policies"
	"wetrule/schema"
)

func TestKeyTable(t *testing.T) {
	require.Nil(t, (*keyTable[int])(nil).find("a"))
	require.Nil(t, newKeyTable(map[string]int{}).find(""))
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.MapOf(rapid.StringMatching(`[a-c_]{0,6}`), rapid.Int()).Draw(t, "map")
		table := newKeyTable(m)
		for key, want := range m {
			got := table.find(key)
			require.NotNil(t, got, key)
			require.Equal(t, want, *got)
		}
		for _, other := range rapid.SliceOf(rapid.StringMatching(`[a-c_é]{0,6}`)).Draw(t, "others") {
			_, known := m[other]
			require.Equal(t, known, table.find(other) != nil, other)
		}
	})
}

// TestKeysOfJobsAreNumbered holds the way by numbers against the one by texts, also for a value that stands under another key than it was read under.
func TestKeysOfJobsAreNumbered(t *testing.T) {
	known := jobKeys()
	for k, name := range known.names[1:] {
		require.Equal(t, keyNum(k+1), known.find(name))
		kind, _, sure := resolvePlain(name)
		require.True(t, sure && kind == String, name)
	}
	require.Zero(t, known.find("no_key"))
	text := baseJob(t)
	for _, file := range []string{"job.yaml", "job.json"} {
		root := read(t, "job.yaml", string(text))
		if file == "job.json" {
			root = read(t, file, string(root.json(nil)))
		}
		var walk func(n *Node)
		walk = func(n *Node) {
			for _, m := range n.Members() {
				require.Equal(t, known.find(m.Key), m.key, m.Key)
				walk(m.Value)
			}
			for _, item := range n.Items() {
				walk(item)
			}
		}
		walk(root)
	}
	table := newKeyTable(map[string]int{"id": 1, "kind": 2, "no_key": 3}).numbered()
	for _, file := range []string{"{id: a, kind: b, no_key: c, face: d}", `{"id": "a", "kind": "b", "no_key": "c", "face": "d"}`} {
		members := read(t, "j", file).Members()
		for i := range members {
			for _, value := range []*Node{members[0].Value, members[1].Value, members[2].Value, members[3].Value, NewText("x"), nil} {
				m := Member{Key: members[i].Key, Value: value}
				require.Equal(t, table.find(m.Key), table.of(&m))
				m = members[i]
				m.Value = value
				require.Equal(t, table.find(m.Key), table.of(&m))
			}
		}
	}
}

func TestUsualBytes(t *testing.T) {
	plain := func(c byte) bool { return c >= ' ' && c < 0x7f || c == '\n' }
	rapid.Check(t, func(t *rapid.T) {
		piece := rapid.OneOf(rapid.SliceOfN(rapid.Byte(), 1, 3), rapid.Just([]byte("0123456789abcdef")), rapid.Just([]byte("\n\n a\n")), rapid.Just([]byte("é")))
		var data []byte
		for _, p := range rapid.SliceOfN(piece, 0, 12).Draw(t, "pieces") {
			data = append(data, p...)
		}
		n := usual(data)
		for i, c := range data[:n] {
			require.True(t, plain(c), "%d of %q", i, data)
		}
		require.True(t, len(data)-n < 8 || !plain(data[n]), "%d of %q", n, data)
	})
}

// jobPatterns are the patterns of the schemas that come with wetrule.
func jobPatterns(t *testing.T) []string {
	var out []string
	names, err := fs.Glob(schema.Files, "*.json")
	require.NoError(t, err)
	for _, name := range names {
		root := read(t, name, string(schema.Bytes(name)))
		var walk func(n *Node)
		walk = func(n *Node) {
			if p := n.Get("pattern"); p != nil && p.Kind == String {
				out = append(out, p.Text)
			}
			for _, m := range n.Members() {
				walk(m.Value)
			}
			for _, item := range n.Items() {
				walk(item)
			}
		}
		walk(root)
	}
	require.NotEmpty(t, out)
	return out
}

func TestMatchersOfSchemasAreTables(t *testing.T) {
	m := newMatcher(regexp.MustCompile(`^[a-z][a-z0-9_-]{0,39}(\.(seat|riser))?$`))
	require.NotNil(t, m.next)
	for text, want := range map[string]bool{"": false, "a": true, "a.seat": true, "a.seats": false, "a.": false, "é": false, "aé": false, "A": false, "a\n": false, strings.Repeat("a", 40): true, strings.Repeat("a", 41): false, strings.Repeat("a", 40) + ".riser": true} {
		require.Equal(t, want, m.match(text), text)
	}
	for _, p := range jobPatterns(t) {
		require.NotNil(t, newMatcher(regexp.MustCompile(p)).next, p)
	}
	for _, p := range []string{`(?i)^a`, `\ba`, `(?m)^a$`, `^[a-z]{1,300}$`} {
		require.Nil(t, newMatcher(regexp.MustCompile(p)).next, p)
	}
}

func TestMatchersAgreeWithRegularExpressions(t *testing.T) {
	patterns := append(jobPatterns(t), dateTimeShape, `^$`, `^`, `^a*$`, `^(a|ab)*$`, `^a*b`, `^[^a]*$`, `^.?$`, `^a$|^b`, `^(a$)?b?`, `^[é-ü]*a$`, `^(?s:.)*$`, `^a{2,3}(b|c)+\d?`, `^(^a)*$`, `a`, `\S`, `^a|b`, `a$|^b`, `(a|b)c`, `^a$|c`, `(?i)^ab$`)
	machines := map[string]*matcher{}
	for _, p := range patterns {
		machines[p] = newMatcher(regexp.MustCompile(p))
	}
	piece := rapid.SampledFrom([]string{"a", "b", "c", "ab", "é", "ü", "A", "0", "9", "-", "_", ".", ".seat", ".riser", "/", "T", ":", "2026", "-01", "Z", "+01:00", "\n", "", "\u0130", strings.Repeat("a", 38)})
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(patterns).Draw(t, "pattern")
		for range 20 {
			text := strings.Join(rapid.SliceOfN(piece, 0, 6).Draw(t, "text"), "")
			if rapid.IntRange(0, 3).Draw(t, "sort") == 0 {
				text = rapid.StringMatching(strings.NewReplacer("$|^", "|", "|^", "|", "$|", "|").Replace(p)).Draw(t, "matching")
			}
			require.Equal(t, machines[p].re.MatchString(text), machines[p].match(text), "%s %q", p, text)
		}
	})
}

func TestRandomMatchersAgreeWithRegularExpressions(t *testing.T) {
	atom := rapid.SampledFrom([]string{"a", "b", "[ab]", "[^a]", ".", "(a|b)", "(ab)?", "$", "^", "\\d", "é", "(a$|b)", "(^|b)"})
	often := rapid.SampledFrom([]string{"", "", "", "*", "+", "?", "{0,2}", "{2}", "*?"})
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		b.WriteString(rapid.SampledFrom([]string{"^", ""}).Draw(t, "start"))
		for range rapid.IntRange(0, 5).Draw(t, "atoms") {
			b.WriteString("(" + atom.Draw(t, "atom") + ")" + often.Draw(t, "often"))
		}
		b.WriteString(rapid.SampledFrom([]string{"$", ""}).Draw(t, "end"))
		re, err := regexp.Compile(b.String())
		require.NoError(t, err)
		m := newMatcher(re)
		for range 30 {
			text := rapid.StringMatching(`[abé1\n]{0,6}`).Draw(t, "text")
			require.Equal(t, re.MatchString(text), m.match(text), "%s %q", re, text)
		}
	})
}

func TestShortNumbersAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for range 50 {
			text := rapid.StringMatching(`-?[0-9]{0,10}(\.[0-9]{0,8})?`).Draw(t, "number")
			if text == "" {
				continue
			}
			v, ok := shortNumber(text)
			if !ok {
				continue
			}
			require.True(t, isPlainNumber(text), text)
			want, wrong := parseNumber(text)
			require.Empty(t, wrong)
			require.Equal(t, fmt.Sprint(want), fmt.Sprint(v), text)
		}
	})
	rapid.Check(t, func(t *rapid.T) { // a number with something behind it
		number := rapid.StringMatching(`-?[0-9]{0,17}(\.[0-9]{0,8})?`).Draw(t, "number")
		text := number + rapid.SampledFrom([]string{"", ",", "}", " ", "e1", "-", ".", "x"}).Draw(t, "behind")
		if v, end := leadingNumber(text); end > 0 {
			want, ok := shortNumber(text[:end])
			require.True(t, ok, text)
			require.Equal(t, want, v, text)
			require.True(t, end == len(text) || text[end] < '0' || text[end] > '9', text)
		} else {
			_, ok := shortNumber(text)
			require.False(t, ok, text)
		}
	})
	for text, want := range map[string]bool{"0": true, "-0": true, "12.5": true, "00": false, "01": false, "0.0": true, "-": false, ".": false, "1.": false, ".1": false, "1.2.3": false, "123456789012345": true, "1234567890123456": false} {
		_, ok := shortNumber(text)
		require.Equal(t, want, ok, text)
	}
}

// TestSurelyTextIsNoNumber holds the short way of telling texts against the library's own table.
func TestSurelyTextIsNoNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for range 50 {
			text := rapid.StringMatching(`[-+.0-9][-+._0-9a-fxobeEinfINFpPTZ: ]{0,10}`).Draw(t, "text")
			if surelyText(text) {
				kind, _, sure := resolvePlain(text)
				require.True(t, sure && (kind == String), text)
				require.Contains(t, []string{"!!str", "!!timestamp"}, libraryTag(text), text)
			}
		}
	})
}

// dateTimeShape is stricter than Go's parser, which takes one-digit hours and decimal commas.
const dateTimeShape = `^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$`

func TestDatesAndTimes(t *testing.T) {
	shape := regexp.MustCompile(dateTimeShape)
	check := func(t require.TestingT, text string) {
		_, err := time.Parse(time.RFC3339, text)
		require.Equal(t, shape.MatchString(text) && err == nil, isDateTime(text), text)
		_, err = time.Parse(time.DateOnly, text)
		require.Equal(t, err == nil, isDate(text), text)
	}
	rapid.Check(t, func(t *rapid.T) {
		for _, like := range []string{
			`2026-[01]\d-[0-3]\dT[0-2]\d:[0-6]\d:[0-6]\d(\.\d{0,11})?(Z|z|[+-][0-2]\d:[0-6]\d)?`,
			`\d{4}-(0[0-9]|1[0-3])-(0[0-9]|[12]\d|3[0-2])(T(0\d|2[0-5]):[0-6]0:(59|60)(\.5)?(Z|[-+]2[34]:[56]9))?`,
			`(2024|2023)?-?0[12]-?29[T ]?1?2:?00:?(00|59)?[.,]?\d?(Z|\+00:?00)?`,
		} {
			text := rapid.StringMatching(like).Draw(t, "time")
			check(t, text)
			if text != "" { // one character that does not belong there
				i := rapid.IntRange(0, len(text)-1).Draw(t, "at")
				check(t, text[:i]+rapid.SampledFrom([]string{"", "-", ":", "T", "0", "9", "é", "/", " "}).Draw(t, "slip")+text[i+1:])
			}
		}
	})
	for _, year := range []string{"0000", "1600", "1900", "2000", "2023", "2024", "2100", "9999"} {
		for month := range 14 {
			for day := range 33 {
				check(t, fmt.Sprintf("%s-%02d-%02d", year, month, day))
				check(t, fmt.Sprintf("%s-%02d-%02dT23:59:59Z", year, month, day))
			}
		}
	}
}

// baseJob is a finished job of some 20 items.
func baseJob(t testing.TB) []byte {
	fsys, _ := policies.Book("core")
	text, err := fs.ReadFile(fsys, "examples/base.yaml")
	require.NoError(t, err)
	return text
}

// TestReadingAllocatesLittle is a budget for a job of 16 kB and about a thousand values. The tree is cut from slabs, and texts are parts of one copy of the file.
func TestReadingAllocatesLittle(t *testing.T) {
	text := baseJob(t)
	root, err := Read("job.yaml", text)
	require.NoError(t, err)
	s, err := jobSchema()
	require.NoError(t, err)
	budget := func(name string, most float64, f func() error) {
		got := testing.AllocsPerRun(20, func() { require.NoError(t, f()) })
		t.Logf("%s: %.0f", name, got)
		require.LessOrEqual(t, got, most, name)
	}
	budget("tree", 40, func() error { _, err := Read("job.yaml", text); return err })
	budget("schema", 0, func() error { return s.Validate("job.yaml", root) })
	budget("job", 110, func() error { var j Job; return Decode(root, &j) })
	budget("all", 160, func() error { _, err := Load("job.yaml", text); return err })
}
