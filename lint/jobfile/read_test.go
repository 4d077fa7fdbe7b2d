package jobfile

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// refused reads a file that must be refused and gives the problems as text.
func refused(t *testing.T, file, text string) string {
	t.Helper()
	n, err := Read(file, []byte(text))
	require.Error(t, err)
	require.Nil(t, n)
	var ps Problems
	require.ErrorAs(t, err, &ps)
	require.NotEmpty(t, ps)
	return err.Error()
}

func read(t testing.TB, file, text string) *Node {
	t.Helper()
	n, err := Read(file, []byte(text))
	require.NoError(t, err)
	return n
}

func TestYAMLHazardsAreRefusedWithTheirPlace(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"duplicate key", "a: 1\nb: 2\na: 3\n", `j.yaml:3:1: key "a" is already used at 1:1; keep one of them`},
		{"duplicate key in a flow map", "é: {x: 1, x: 2}\n", `j.yaml:1:11: key "x" is already used at 1:5; keep one of them`},
		{"two documents", "a: 1\n---\nb: 2\n", `j.yaml:2:1: a second document begins here; write one document in a file`},
		{"empty second document", "a: 1\n---\n", `j.yaml:2:1: a second document begins here; write one document in a file`},
		{"text after the document end", "a: 1\n...\nb: 2\n", `j.yaml:3:1: text after the end of the document; write one document in a file`},
		{"anchor", "a: &x 1\n", `j.yaml:1:4: anchors and aliases (& and *) are not allowed; write the value out, or put a text that begins so in quotes`},
		{"anchor and alias", "a: &x {b: 1}\nc: *x\n", "j.yaml:1:4: anchors and aliases (& and *) are not allowed; write the value out, or put a text that begins so in quotes\n" +
			"j.yaml:2:4: anchors and aliases (& and *) are not allowed; write the value out, or put a text that begins so in quotes"},
		{"alias without anchor", "a: 1\nnote: *xy\n", `j.yaml:2:7: anchors and aliases (& and *) are not allowed; write the value out, or put a text that begins so in quotes`},
		{"anchor on a key", "&x a: 1\n", `j.yaml:1:1: anchors and aliases (& and *) are not allowed; write the value out, or put a text that begins so in quotes`},
		{"merge key", "a:\n  <<: {b: 1}\n", `j.yaml:2:3: merge keys (<<) are not allowed; write the keys out`},
		{"own tag", "a: !mm 12\n", `j.yaml:1:4: tags (!) are not allowed; write the plain value, a text in quotes`},
		{"standard tag", "a: !!str 12\n", `j.yaml:1:4: tags (!) are not allowed; write the plain value, a text in quotes`},
		{"lone tag", "a: ! 12\n", `j.yaml:1:4: tags (!) are not allowed; write the plain value, a text in quotes`},
		{"lone tag on a map", "a: ! {b: 1}\n", `j.yaml:1:4: tags (!) are not allowed; write the plain value, a text in quotes`},
		{"binary tag", "a: !!binary aGk=\n", `j.yaml:1:4: tags (!) are not allowed; write the plain value, a text in quotes`},
		{"number as key", "1: x\n", `j.yaml:1:1: a key must be a plain text, found "1"; put it in quotes if it is meant`},
		{"bool as key", "a:\n  true: x\n", `j.yaml:2:3: a key must be a plain text, found "true"; put it in quotes if it is meant`},
		{"null as key", "~: x\n", `j.yaml:1:1: a key must be a plain text, found nothing`},
		{"no key", ": x\n", `j.yaml:1:1: a key is expected here; check the indentation and the quotes`},
		{"list as key", "? [a]\n: x\n", `j.yaml:1:3: a key must be a plain text`},
		{"nan", "a: .nan\n", `j.yaml:1:4: ".nan" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"infinity", "a: [1, -.Inf]\n", `j.yaml:1:8: "-.Inf" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"leading zero", "a: 010\n", `j.yaml:1:4: "010" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"leading zero, not octal", "a: 089\n", `j.yaml:1:4: "089" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"octal", "a: 0o10\n", `j.yaml:1:4: "0o10" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"hexadecimal", "a: 0x1F\n", `j.yaml:1:4: "0x1F" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"binary", "a: 0b11\n", `j.yaml:1:4: "0b11" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"underscore", "a: 1_000\n", `j.yaml:1:4: "1_000" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"no digit before the point", "a: .5\n", `j.yaml:1:4: ".5" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"no digit after the point", "a: 5.\n", `j.yaml:1:4: "5." is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"plus sign", "a: +5\n", `j.yaml:1:4: "+5" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes`},
		{"overflow", "a: 1e400\n", `j.yaml:1:4: number "1e400" is out of range; the largest is 1e15`},
		{"too large", "a: 99999999999999999999\n", `j.yaml:1:4: number "99999999999999999999" is out of range; the largest is 1e15`},
		{"just too large", "a: -1000000000000000.5\n", `j.yaml:1:4: number "-1000000000000000.5" is out of range; the largest is 1e15`},
		{"underflow", "a: 1e-400\n", `j.yaml:1:4: number "1e-400" is too small to be told from 0`},
		{"True", "a: True\n", `j.yaml:1:4: "True" is not a value; write true or false in lower case, or put a text in quotes`},
		{"FALSE", "a: FALSE\n", `j.yaml:1:4: "FALSE" is not a value; write true or false in lower case, or put a text in quotes`},
		{"colon in a text", "a: 1\nb: x: y\n", `j.yaml:2:5: a colon that cannot stand here; put a text with a colon in quotes, or check the indentation`},
		{"dedent", "a:\n  b: 1\n c: 2\n", `j.yaml:3:2: a key is expected here; check the indentation and the quotes`},
		{"apostrophe", "x: 1\na: 'it's'\n", `j.yaml:2:8: a key is expected here; check the indentation and the quotes`},
		{"open quotes", "x: 1\na: \"abc\nb: 2\n", `j.yaml:2:4: the quotes that open here are not closed`},
		{"open list", "x: 1\na: [1, 2\nb: 3\n", `j.yaml:2:8: a list in brackets is not closed or lacks a comma`},
		{"open map", "x: 1\na: {x: 1\nb: 3\n", `j.yaml:2:8: a set of keys in braces is not closed or lacks a comma`},
		{"no colon", "a: 1\nb\nc: 2\n", `j.yaml:2:1: a colon is missing after the key`},
		{"at sign", "x: 1\na: @foo\n", `j.yaml:2:4: a text cannot begin with this character; put it in quotes`},
		{"list after key", "x: 1\na: - b\n", `j.yaml:2:4: a list item ("- ") cannot stand here; begin the list on a new line`},
		{"unknown escape", "x: 1\na: \"é\\q\"\n", `j.yaml:2:6: unknown escape after \ in double quotes; use single quotes or write \\`},
		{"tab", "a:\n\tb: 2\n", `j.yaml:2:1: a tab in the indentation; use spaces`},
		{"tab behind spaces", "a:\n  b: 1\n \tc: 2\n", `j.yaml:3:2: a tab in the indentation; use spaces`},
		{"tab in the first line", "\ta: 1\n", `j.yaml:1:1: a tab in the indentation; use spaces`},
		{"old YAML", "%YAML 3.0\n---\na: 1\n", `j.yaml:1:9: this YAML version is not supported; delete the %YAML line`},
		{"escaped control character", `a: "x\0"` + "\n", `j.yaml:1:4: control character U+0000 in a text`},
		{"escaped C1 control", `a: "\N"` + "\n", `j.yaml:1:4: control character U+0085 in a text`},
		{"escaped control in a key", `"a\e": 1` + "\n", `j.yaml:1:1: control character U+001B in a text`},
		{"several at once, in order", "b: 010\na: [yes, True]\nb: 1\n", "j.yaml:1:4: \"010\" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes\n" +
			"j.yaml:2:10: \"True\" is not a value; write true or false in lower case, or put a text in quotes"},
		{"empty", "", "j.yaml: the file is empty"},
		{"blank", " \n\r\n", "j.yaml: the file is empty"},
		{"comment alone", "# a job\n", "j.yaml: the file is empty"},
		{"document mark alone", "---\n", "j.yaml: the file is empty"},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, refused(t, "j.yaml", c.text)) })
	}
}

func TestBytesThatAreNotTextAreRefusedInBothFormats(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"NUL", "[1,\n \"\x00\"]", "2:3: control character U+0000 in the file"},
		{"escape", "[\"\x1b[31m\"]", "1:3: control character U+001B in the file"},
		{"DEL", "[\"\x7f\"]", "1:3: control character U+007F in the file"},
		{"C1", "[\"\u0085\"]", "1:3: control character U+0085 in the file"},
		{"invalid UTF-8", "[\"é\",\n\"ñ\xff\"]", "2:3: byte 0xFF is not valid UTF-8; save the file as UTF-8"},
		{"cut UTF-8", "[\"é\xc3\"]", "1:4: byte 0xC3 is not valid UTF-8; save the file as UTF-8"},
		{"Latin-1", "[\"caf\xe9\"]", "1:6: byte 0xE9 is not valid UTF-8; save the file as UTF-8"},
		{"surrogate in UTF-8", "[\"\xed\xa0\x80\"]", "1:3: byte 0xED is not valid UTF-8; save the file as UTF-8"},
		{"UTF-16", "\xff\xfe[\x00", "1:1: the file is UTF-16 text; save it as UTF-8"},
		{"mark in the middle", "[1,\n\ufeff2]", "2:1: a byte order mark inside the file; delete this invisible character"},
		{"line separator", "[\"a\u2028b\"]", "1:4: invisible line separator U+2028; use a normal line break"},
		{"old line ends", "[1,\r2]", "1:4: a carriage return without a line feed; end lines with LF or CRLF"},
		{"not a character", "[\"\uffff\"]", "1:3: U+FFFF is not a character"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, "j.yaml:"+c.want, refused(t, "j.yaml", c.text))
			require.Equal(t, "j.json:"+c.want, refused(t, "j.json", c.text))
		})
	}
}

func TestJSONHazardsAreRefusedWithTheirPlace(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"duplicate key", "{\"a\": 1,\n \"a\": 2}", `2:2: key "a" is already used at 1:2; keep one of them`},
		{"duplicate key by escape", `{"a": 1, "\u0061": 2}`, `1:10: key "a" is already used at 1:2; keep one of them`},
		{"line comment", "{\n// x\n}", "2:1: comments are not allowed in JSON; delete the comment or use a .yaml file"},
		{"block comment", "[1 /* x */]", "1:4: comments are not allowed in JSON; delete the comment or use a .yaml file"},
		{"hash comment", "[1 # x\n]", "1:4: comments are not allowed in JSON; delete the comment or use a .yaml file"},
		{"comma at the end of a list", "[1,\n2,\n]", "2:2: a comma after the last item; delete it"},
		{"comma at the end of an object", `{"a":1,}`, "1:7: a comma after the last key; delete it"},
		{"two values", "{}\n{}", "2:1: found \"{\": only one value is allowed in a file"},
		{"missing comma", `["é" 2]`, `1:6: found "2": a comma or ] is expected after an item of the list`},
		{"missing comma in an object", `{"a":1 "b":2}`, `1:8: found "\"": a comma or } is expected after a value`},
		{"missing colon", `{"a" 1}`, `1:6: found "1": a colon is expected after a key`},
		{"bare key", `{a: 1}`, `1:2: found "a": a key in double quotes is expected here`},
		{"single quotes", `['a']`, `1:2: JSON texts stand in double quotes ("), not in single ones: a value is expected here`},
		{"early end", `{"a": [1, 2`, "1:12: the file ends too early: a comma or ] is expected after an item of the list"},
		{"early end after colon", "{\"a\":\n", "2:1: the file ends too early: a value is expected here"},
		{"leading zero", `[010]`, `1:2: "010" is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"hexadecimal", `[0x1F]`, `1:2: "0x1F" is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"plus", `[+1]`, `1:2: "+1" is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"point first", `[.5]`, `1:2: ".5" is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"point last", `[5.]`, `1:2: "5." is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"minus alone", `[-]`, `1:2: "-" is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"minus infinity", `[-Infinity]`, `1:2: "-Infinity" is not a plain number; write a plain number such as 12, -3 or 0.5`},
		{"NaN", `[NaN]`, `1:2: "NaN" is not a number; leave out a value that is not known`},
		{"overflow", `[1e400]`, `1:2: number "1e400" is out of range; the largest is 1e15`},
		{"True", `[True]`, `1:2: "True" is not a value; write true or false in lower case`},
		{"bare word", `{"a": light}`, `1:7: "light" is not a value; put a text in double quotes`},
		{"open text", "[\"abc\n]", `1:2: the text that begins here is not closed with " on its line`},
		{"tab in a text", "[\"a\tb\"]", `1:4: a tab inside a text; write it as \t`},
		{"unknown escape", `["\x"]`, `1:3: unknown escape after \; write \\ for a backslash`},
		{"short \\u", `["\u12"]`, `1:3: \u needs four hexadecimal digits`},
		{"lone high surrogate", `["\ud83d"]`, `1:3: half of a surrogate pair; write both halves or the character itself`},
		{"lone low surrogate", `["\ude00x"]`, `1:3: half of a surrogate pair; write both halves or the character itself`},
		{"two high surrogates", `["\ud83d\ud83d"]`, `1:3: half of a surrogate pair; write both halves or the character itself`},
		{"escaped NUL", `["\u0000"]`, `1:2: control character U+0000 in a text`},
		{"escape at the end", `["\`, `1:3: unknown escape after \; write \\ for a backslash`},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, "j.json:"+c.want, refused(t, "j.json", c.text)) })
	}
}

func TestWhatIsTextStaysText(t *testing.T) {
	n := read(t, "j.yaml", "date: 2026-01-31\nbad: 2026-13-01\nstamp: 2026-01-31T10:00:00+01:00\nclock: 12:30\nword: yes\nother: off\nquoted: '010'\nversion: 1.2.3\n")
	for key, want := range map[string]string{
		"date": "2026-01-31", "bad": "2026-13-01", "stamp": "2026-01-31T10:00:00+01:00", "clock": "12:30",
		"word": "yes", "other": "off", "quoted": "010", "version": "1.2.3",
	} {
		require.Equal(t, String, n.Get(key).Kind, key)
		require.Equal(t, want, n.Get(key).Text, key)
	}
}

func TestNullTrueAndNumbers(t *testing.T) {
	n := read(t, "j.yaml", "a:\nb: ~\nc: null\nd: true\ne: false\nf: -0\ng: 1e3\nh: 0.10\ni: -2.5E-1\nj: 1000000000000000\n")
	for _, key := range []string{"a", "b", "c"} {
		require.Equal(t, Null, n.Get(key).Kind, key)
		require.Nil(t, n.Get(key).Value())
	}
	require.True(t, n.Get("d").Bool)
	require.Equal(t, Bool, n.Get("e").Kind)
	require.False(t, n.Get("e").Bool)
	require.Equal(t, "0", fmt.Sprint(n.Get("f").Num), "minus zero becomes zero")
	require.Equal(t, 1000.0, n.Get("g").Num)
	require.Equal(t, "0.10", n.Get("h").Text, "a number keeps its literal")
	require.Equal(t, -0.25, n.Get("i").Num)
	require.Equal(t, 1e15, n.Get("j").Num)
}

func TestPositionsCountCharactersAndNotBytes(t *testing.T) {
	for _, file := range []string{"j.yaml", "j.json"} {
		n := read(t, file, "{\"é\": [\"ñ\", \"x€\"],\n \"ü\": 12}")
		list := n.Get("é")
		require.Equal(t, [3]int{1, 7, 0}, [3]int{int(list.Line), int(list.Col), int(list.EndCol)}, file)
		require.Equal(t, [3]int{1, 8, 11}, place(list.Items()[0]), file)
		require.Equal(t, [3]int{1, 13, 17}, place(list.Items()[1]), file)
		require.Equal(t, [3]int{2, 7, 9}, place(n.Get("ü")), file)
		require.Equal(t, [2]int{2, 2}, [2]int{int(n.Members()[1].KeyLine), int(n.Members()[1].KeyCol)}, file)
	}
	n := read(t, "j.yaml", "é: [ñ, x]\n")
	require.Equal(t, [3]int{1, 5, 6}, place(n.Get("é").Items()[0]))
	require.Equal(t, [3]int{1, 8, 9}, place(n.Get("é").Items()[1]))
}

func place(n *Node) [3]int { return [3]int{int(n.Line), int(n.Col), int(n.EndCol)} }

func TestPositionsInBlockStyle(t *testing.T) {
	n := read(t, "j.yaml", "# c\nroom:\n  use: steam # c\n  walls:\n    - id: 'w''1'\n      note: |\n        two\n        lines\n    -   id: \"w \\\" 2\"\n  gap:\n  long: one\n    two\n")
	require.Equal(t, [3]int{3, 8, 13}, place(n.At("/room/use")))
	require.Equal(t, [3]int{5, 7, 0}, place(n.At("/room/walls/0")), "a map stands at its first key")
	require.Equal(t, [3]int{5, 11, 17}, place(n.At("/room/walls/0/id")))
	require.Equal(t, "w'1", n.At("/room/walls/0/id").Text)
	require.Equal(t, [3]int{6, 13, 0}, place(n.At("/room/walls/0/note")))
	require.Equal(t, "two\nlines\n", n.At("/room/walls/0/note").Text)
	require.Equal(t, [3]int{9, 13, 21}, place(n.At("/room/walls/1/id")))
	require.Equal(t, [3]int{10, 7, 7}, place(n.At("/room/gap")), "an empty value stands behind the colon")
	require.Equal(t, [3]int{11, 9, 0}, place(n.At("/room/long")))
	require.Equal(t, "one two", n.At("/room/long").Text)
}

func TestByteOrderMarkAndCRLFDoNotShiftPositions(t *testing.T) {
	plain := read(t, "j.yaml", "a: 1\nb:\n  - x\n")
	for _, text := range []string{"\ufeffa: 1\nb:\n  - x\n", "a: 1\r\nb:\r\n  - x\r\n", "\ufeffa: 1\r\nb:\r\n  - x\r\n"} {
		requireSameTree(t, plain, read(t, "j.yaml", text))
	}
	plain = read(t, "j.json", "{\"a\": 1,\n\"b\": [\"x\"]}")
	for _, text := range []string{"\ufeff{\"a\": 1,\n\"b\": [\"x\"]}", "{\"a\": 1,\r\n\"b\": [\"x\"]}\r\n"} {
		requireSameTree(t, plain, read(t, "j.json", text))
	}
	require.Equal(t, "j.yaml:2:4: \"010\" is not a plain number; write a plain number such as 12, -3 or 0.5, or put a text in quotes",
		refused(t, "j.yaml", "\ufeffa: 1\r\nb: 010\r\n"))
	require.Equal(t, "j.yaml:2:5: a colon that cannot stand here; put a text with a colon in quotes, or check the indentation",
		refused(t, "j.yaml", "\ufeffa: 1\r\nb: x: y\r\n"))
}

// requireSameTree compares everything but the file.
func requireSameTree(t require.TestingT, want, got *Node) {
	require.Equal(t, outline(want), outline(got))
}

func outline(n *Node) string {
	var b strings.Builder
	var walk func(n *Node, indent string)
	walk = func(n *Node, indent string) {
		fmt.Fprintf(&b, "%s %q %v %v %d:%d-%d\n", n.Kind, n.Text, n.Bool, n.Num, n.Line, n.Col, n.EndCol)
		for _, m := range n.Members() {
			fmt.Fprintf(&b, "%s%q %d:%d ", indent, m.Key, m.KeyLine, m.KeyCol)
			walk(m.Value, indent+" ")
		}
		for _, item := range n.Items() {
			b.WriteString(indent + "- ")
			walk(item, indent+" ")
		}
	}
	walk(n, "")
	return b.String()
}

func TestFormatFollowsNameThenContent(t *testing.T) {
	require.Equal(t, 1.0, read(t, "-", ` {"a": 1}`).Get("a").Num)
	require.Equal(t, 1.0, read(t, "stdin", "a: 1").Get("a").Num)
	require.Equal(t, 1.0, read(t, "stdin", "{a: 1}").Get("a").Num, "flow style YAML without a name")
	require.Equal(t, 1.0, read(t, "x.YML", "{a: 1}").Get("a").Num)
	require.Contains(t, refused(t, "x.JSON", "{a: 1}"), "x.JSON:1:2:")
	require.Equal(t, `stdin:1:10: key "a" is already used at 1:2; keep one of them`, refused(t, "stdin", `{"a": 1, "a": 2}`))
	require.Equal(t, "stdin: the file is empty", refused(t, "stdin", "\n"))
}

func TestLimits(t *testing.T) {
	big := strings.Repeat("a", MaxFileBytes+1)
	require.Equal(t, "j.yaml: the file is larger than 1048576 bytes", refused(t, "j.yaml", big))

	for _, file := range []string{"j.yaml", "j.json"} {
		nest := func(depth int) string { return strings.Repeat("[", depth) + strings.Repeat("]", depth) }
		read(t, file, nest(MaxDepth))
		require.Equal(t, file+":1:65: nested more than 64 levels deep", refused(t, file, nest(MaxDepth+1)))
		require.Contains(t, refused(t, file, nest(100_000)), "nested more than 64 levels deep")

		list := func(count int) string { return "[" + strings.Repeat("1,", count-1) + "1]" }
		read(t, file, list(MaxNodes-1))
		require.Equal(t, file+":1:200000: more than 100000 values in the file", refused(t, file, list(MaxNodes)))

		text := func(length int) string { return `["` + strings.Repeat("a", length) + `"]` }
		read(t, file, text(MaxStringBytes))
		require.Equal(t, file+":1:2: text of 65537 bytes; the limit is 65536", refused(t, file, text(MaxStringBytes+1)))
	}

	blocks := func(depth, step int) string {
		var b strings.Builder
		for i := range depth {
			b.WriteString(strings.Repeat(" ", i*step) + "a:\n")
		}
		return b.String()
	}
	read(t, "j.yaml", blocks(MaxDepth, 2))
	require.Equal(t, "j.yaml:65:65: nested more than 64 levels deep", refused(t, "j.yaml", blocks(MaxDepth+1, 1)))
	require.Contains(t, refused(t, "j.yaml", blocks(1200, 1)), "nested more than 64 levels deep")
	require.Contains(t, refused(t, "j.yaml", strings.Repeat("- ", 100_000)+"1"), "nested more than 64 levels deep")
	require.Contains(t, refused(t, "j.yaml", "a: 1\n"+strings.Repeat(" ", 2000)+"b: 1\n"), "j.yaml:2:2001: indented by more than 1000 spaces")

	many := strings.Repeat("a: 010\n", 3*MaxProblems)
	_, err := Read("j.yaml", []byte(many))
	var ps Problems
	require.ErrorAs(t, err, &ps)
	require.Len(t, ps, MaxProblems+1)
	require.Equal(t, "j.yaml:51:4: and 100 more", ps[MaxProblems].Error())
}

func TestTextThatLooksLikeStructureIsNotRefused(t *testing.T) {
	// The byte scan before the parser must not take dividers and half-open intervals for levels.
	n := read(t, "j.yaml", "note: |\n  "+strings.Repeat("- ", 100)+"\n  "+strings.Repeat("[0, 5) ", 100)+"\nx: 1\n")
	require.Equal(t, 1.0, n.Get("x").Num)
}

func TestTreeAccess(t *testing.T) {
	n := read(t, "j.json", `{"items": [{"id": "a", "x/y": {"m~n": 1}}, {"id": "b"}], "7": {"0": true}}`)
	require.Equal(t, "j.json", n.File())
	require.Same(t, n, n.At(""))
	require.Equal(t, "b", n.At("/items/1/id").Text)
	require.Equal(t, 1.0, n.At("/items/0/x~1y/m~0n").Num)
	for _, pointer := range []string{"items", "/items/2", "/items/01", "/items/-", "/items/1/id/x", "/nothing", "/items/99999999999"} {
		require.Nil(t, n.At(pointer), pointer)
	}
	near, exact := n.Nearest("/items/1/x_mm")
	require.False(t, exact)
	require.Same(t, n.At("/items/1"), near)
	require.Equal(t, "items[1].x_mm", n.Path("/items/1/x_mm"))
	require.Equal(t, `items[0]["x/y"]["m~n"]`, n.Path("/items/0/x~1y/m~0n"))
	require.Equal(t, `["7"]["0"]`, n.Path("/7/0"))
	require.Equal(t, "", n.Path(""))

	var none *Node
	require.Nil(t, none.Get("a"))
	require.Nil(t, none.At("/a"))
	require.Nil(t, none.Value())
	require.Equal(t, "", none.File())
	require.Equal(t, "a[0]", none.Path("/a/0"))
	found, exact := none.Nearest("/a")
	require.Nil(t, found)
	require.False(t, exact)
}

func TestProblemText(t *testing.T) {
	require.Equal(t, "a.yaml:2:3: wrong", Problem{File: "a.yaml", Line: 2, Col: 3, Message: "wrong"}.Error())
	require.Equal(t, "a.yaml: wrong", Problem{File: "a.yaml", Message: "wrong"}.Error())
	require.Equal(t, "2:3: wrong", Problem{Line: 2, Col: 3, Message: "wrong"}.Error())
	ps := Problems{{File: "b"}, {File: "a", Line: 2}, {File: "a", Line: 1, Col: 9}, {File: "a", Line: 1, Col: 2, Message: "y"}, {File: "a", Line: 1, Col: 2, Message: "x"}}
	ps.Sort()
	require.Equal(t, "a:1:2: x\na:1:2: y\na:1:9: \na:2:0: \nb: ", ps.Error())
}

func TestSuggest(t *testing.T) {
	kinds := []string{"panel", "steam_outlet", "sensor", "light", "hinge"}
	for word, want := range map[string]string{
		"panl": "panel", "materail": "", "Steam-Outlet": "steam_outlet", "steam outlett": "steam_outlet", "lihgt": "light",
		"x": "", "": "", "sensr": "sensor", "completely different": "",
	} {
		require.Equal(t, want, Suggest(word, kinds), word)
	}
	require.Equal(t, "ab", Suggest("aa", []string{"ac", "ab"}), "of equals the alphabetically first")
	require.Equal(t, "", Suggest("aa", nil))
	require.Equal(t, "", Suggest(strings.Repeat("a", 70_000), []string{strings.Repeat("a", 70_001)}))
}

// anyJSON draws a JSON text with line breaks, accents and escapes in it.
func anyJSON(t *rapid.T, depth int) string {
	word := rapid.SampledFrom([]string{"a", "b", "note", "é", "x_mm", "ñandú", "with space", "\U0001f600", "- x", "#", "1", "true", "", "a: b", "'"})
	gap := rapid.SampledFrom([]string{"", " ", "\n", " \n  "})
	quoted := func() string {
		b, err := json.Marshal(word.Draw(t, "word"))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	most := 5
	if depth == 0 {
		most = 3
	}
	var b strings.Builder
	switch rapid.IntRange(0, most).Draw(t, "kind") {
	case 0:
		return rapid.SampledFrom([]string{"0", "-1", "12.50", "1e3", "2E-2", "-0.0", "999999999999999"}).Draw(t, "number")
	case 1, 2:
		return quoted()
	case 3:
		return rapid.SampledFrom([]string{"true", "false", "null"}).Draw(t, "word")
	case 4:
		b.WriteString("[")
		for i := range rapid.IntRange(0, 3).Draw(t, "items") {
			if i > 0 {
				b.WriteString(",")
			}
			b.WriteString(gap.Draw(t, "gap") + anyJSON(t, depth-1) + gap.Draw(t, "gap"))
		}
		b.WriteString("]")
	default:
		b.WriteString("{")
		seen := map[string]bool{}
		for range rapid.IntRange(0, 3).Draw(t, "keys") {
			key := quoted()
			if seen[key] {
				continue
			}
			if len(seen) > 0 {
				b.WriteString(",")
			}
			seen[key] = true
			b.WriteString(gap.Draw(t, "gap") + key + ":" + gap.Draw(t, "gap") + anyJSON(t, depth-1) + gap.Draw(t, "gap"))
		}
		b.WriteString("}")
	}
	return b.String()
}

func TestJSONAndYAMLReadersGiveTheSameTree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := anyJSON(t, 4)
		fromJSON, err := Read("j.json", []byte(text))
		require.NoError(t, err)
		fromYAML, err := Read("j.yaml", []byte(text))
		require.NoError(t, err)
		requireSameTree(t, fromJSON, fromYAML)
		var plain any
		require.NoError(t, json.Unmarshal([]byte(text), &plain))
		require.Equal(t, plain, fromJSON.Value())
	})
}

var readSeeds = []string{
	"a: 1\nb: [x, {c: 2}]\n", "{\"a\": [1, true, null, \"x\\u00e9\"]}", "- - - 1\n", "? a\n: b\n", "? a", "a: &x 1\nb: *x\n", "\ufeffa: 1\r\n",
	"a: |\n  x\n  y\n", "a: \"\\ud83d\\ude00\"", "[\"\\ud83d\\ude00\"]", "a: .nan", "a: 010", "a: 2026-01-01", "---\na: 1\n---\nb: 2\n", "a: 'it''s'\n",
	"%YAML 1.2\n---\n{}", "a:\n\tb: 1", "é: [ñ, x]", "[1,]", "{\"a\":1,\"a\":2}", "!!map {}", "a: ! x", "# c\n\na: # d\n  - b # e\n", "*x", "[1e5, -0, 0.5E+1]",
}

func FuzzRead(f *testing.F) {
	for _, s := range readSeeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, file := range []string{"j.yaml", "j.json", "stdin"} {
			n, err := Read(file, []byte(text))
			if err == nil {
				if n == nil {
					t.Fatal("neither a tree nor an error")
				}
				checkTree(t, n, []byte(text))
				continue
			}
			ps, ok := err.(Problems)
			if !ok || len(ps) == 0 || n != nil {
				t.Fatalf("%T, tree %v", err, n)
			}
			for _, p := range ps {
				if p.Message == "" || p.File != file || p.Line < 0 || (p.Line > 0) != (p.Col > 0) || p.Line > strings.Count(text, "\n")+1 {
					t.Fatalf("bad problem %+v", p)
				}
				if strings.Contains(p.Message, "broke down") {
					t.Fatal(p.Message)
				}
			}
		}
	})
}

// checkTree makes sure that every node lies inside the file, in order.
func checkTree(t *testing.T, n *Node, text []byte) {
	lines := strings.Split(strings.TrimPrefix(string(text), "\ufeff"), "\n")
	var walk func(n *Node)
	walk = func(n *Node) {
		if n.Line < 1 || int(n.Line) > len(lines) || n.Col < 1 || int(n.Col) > len([]rune(lines[n.Line-1]))+1 {
			t.Fatalf("node at %d:%d outside the file", n.Line, n.Col)
		}
		if n.EndCol != 0 && (n.EndCol < n.Col || int(n.EndCol) > len([]rune(lines[n.Line-1]))+1) {
			t.Fatalf("node at %d:%d ends at %d", n.Line, n.Col, n.EndCol)
		}
		for _, m := range n.Members() {
			if m.KeyLine < 1 || int(m.KeyLine) > len(lines) || m.KeyCol < 1 {
				t.Fatalf("key %q at %d:%d", m.Key, m.KeyLine, m.KeyCol)
			}
			walk(m.Value)
		}
		for _, item := range n.Items() {
			walk(item)
		}
	}
	walk(n)
}

func FuzzJSONAgainstEncoding(f *testing.F) {
	for _, s := range readSeeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, err := Read("j.json", []byte(text))
		if err != nil {
			return
		}
		var plain any
		if err := json.Unmarshal([]byte(strings.TrimPrefix(text, "\ufeff")), &plain); err != nil {
			t.Fatalf("accepted %q: %v", text, err)
		}
		require.Equal(t, plain, n.Value())
	})
}

// benchJob is a job of 40 items and about 8 kB.
func benchJob() string {
	var b strings.Builder
	b.WriteString("wetrule: 1\nreference: steam-room-17\nstage: design\nitems:\n")
	for i := range 40 {
		fmt.Fprintf(&b, "  - id: item-%02d\n    kind: light\n    face: north\n    x_mm: %d\n    y_mm: %d\n    diameter_mm: 62.5\n    ip_mark: IP67\n    guarded: true\n    fixed_on: 2026-03-%02d\n    size_mm: [%d, 40]\n    note: beside the bench, %d mm from the edge\n", i, 100+i, 2000-i, 1+i%28, i+1, i)
	}
	return b.String()
}

func BenchmarkReadYAML(b *testing.B) {
	text := []byte(benchJob())
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("j.yaml", text); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadJSON(b *testing.B) {
	text, err := json.MarshalIndent(read(b, "j.yaml", benchJob()).Value(), "", "  ")
	require.NoError(b, err)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("j.json", text); err != nil {
			b.Fatal(err)
		}
	}
}
