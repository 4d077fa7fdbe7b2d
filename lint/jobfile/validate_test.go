package jobfile

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const roomSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "$id": "https://wetrule.test/schema/room.schema.json",
  "title": "Room",
  "type": "object",
  "required": ["reference", "items"],
  "additionalProperties": false,
  "properties": {
    "reference": {"type": "string", "description": "How the firm calls the job. Used in file names.", "pattern": "^[a-z0-9-]+$", "x-hint": "lower case letters, digits and hyphens", "maxLength": 20},
    "use": {"enum": ["steam", "wet", "shower"]},
    "fitted_on": {"$ref": "parts.schema.json#/$defs/day"},
    "read_at": {"type": "string", "format": "date-time"},
    "height_mm": {"$ref": "parts.schema.json#/$defs/length"},
    "people": {"type": "integer", "minimum": 1, "maximum": 30},
    "heated": {"type": "boolean"},
    "note": {"type": "string", "minLength": 1},
    "version": {"const": 1},
    "tags": {"type": "array", "items": {"type": "string"}, "uniqueItems": true, "minItems": 1, "maxItems": 3},
    "point": {"type": "array", "prefixItems": [{"type": "number"}, {"type": "number"}], "items": false, "minItems": 2},
    "limit": {"anyOf": [{"type": "number"}, {"type": "array", "items": {"type": "number"}}]},
    "old_name": false,
    "loads": {"type": "object", "propertyNames": {"pattern": "^[a-z]+$"}, "additionalProperties": {"type": "number", "exclusiveMinimum": 0}, "maxProperties": 2},
    "by_code": {"type": "object", "patternProperties": {"^c[0-9]+$": {"type": "string"}}, "additionalProperties": false},
    "span": {"type": "object", "anyOf": [{"required": ["start"]}, {"required": ["finish"]}], "dependentRequired": {"finish": ["start"]}},
    "items": {"type": "array", "items": {"$ref": "#/$defs/item"}}
  },
  "$defs": {
    "item": {
      "type": "object",
      "required": ["kind"],
      "properties": {"kind": {"enum": ["light", "panel", "steam_outlet"]}},
      "x-kinds": {"property": "kind", "schemas": {
        "light": {"$ref": "parts.schema.json#/$defs/light"},
        "panel": {"$ref": "parts.schema.json#/$defs/panel"},
        "steam_outlet": {"$ref": "parts.schema.json#/$defs/steam_outlet"}
      }},
      "allOf": [{"if": {"properties": {"kind": {"const": "light"}}}, "then": {"$ref": "parts.schema.json#/$defs/light"}}]
    }
  }
}`

const partsSchema = `{
  "$schema": "https://json-schema.org/draft/2020-12/schema",
  "$id": "https://wetrule.test/schema/parts.schema.json",
  "$defs": {
    "day": {"type": "string", "format": "date"},
    "length": {"type": "number", "minimum": 0, "exclusiveMaximum": 10000},
    "id": {"type": "string", "pattern": "^[a-z][a-z0-9_-]*$"},
    "light": {"type": "object", "additionalProperties": false, "required": ["id", "kind", "x_mm"],
      "properties": {"id": {"$ref": "#/$defs/id"}, "kind": {"const": "light"}, "x_mm": {"$ref": "#/$defs/length", "description": "From the left edge of the face."}, "ip_mark": {"type": "string"}, "guarded": {"type": "boolean"}}},
    "panel": {"type": "object", "additionalProperties": false, "required": ["kind", "material"],
      "properties": {"id": {"$ref": "#/$defs/id"}, "kind": true, "material": {"enum": ["xps", "eps"]}, "thickness_mm": {"type": "number", "minimum": 6},
        "path": {"type": "array", "items": {"type": "array", "prefixItems": [{"type": "number"}, {"type": "number"}], "items": false, "minItems": 2}, "uniqueItems": true}}},
    "steam_outlet": {"type": "object", "additionalProperties": false, "properties": {"id": {"$ref": "#/$defs/id"}, "kind": true, "guarded": {"type": "boolean"}}}
  }
}`

func roomResources() map[string][]byte {
	return map[string][]byte{"room.schema.json": []byte(roomSchema), "parts.schema.json": []byte(partsSchema)}
}

func compileRoom(t testing.TB) *Schema {
	t.Helper()
	s, err := Compile(roomResources(), "room.schema.json")
	require.NoError(t, err)
	require.NoError(t, s.Check())
	return s
}

const goodRoom = `reference: room-1
use: steam
fitted_on: 2026-01-31
read_at: 2026-01-31T10:00:00.5+01:00
height_mm: 2400
people: 4
heated: true
note: x
version: 1
tags: [a, b]
point: [1, 2.5]
limit: [1, 2]
loads: {bench: 1.5}
by_code: {c1: x}
span: {start: now}
items:
  - kind: light
    id: l1
    x_mm: 5
  - kind: panel
    material: xps
    thickness_mm: 20
    path: [[0, 0], [0, 1]]
  - {kind: steam_outlet}
`

func TestGoodFilePassesBothPaths(t *testing.T) {
	s := compileRoom(t)
	n := read(t, "j.yaml", goodRoom)
	require.NoError(t, s.Validate("j.yaml", n))
	require.True(t, s.check.ok(n))
	require.NoError(t, s.ask(n))
}

func TestSchemaMessages(t *testing.T) {
	s := compileRoom(t)
	const head = "reference: r\nitems:\n"
	for _, c := range []struct{ name, text, want string }{
		{"unknown key", head + "  - {kind: panel, materail: xps, material: xps}\n", `3:19: items[0]: unknown key "materail"; did you mean "material"?`},
		{"unknown key, not near", head + "  - {kind: steam_outlet, weight: 1}\n", `3:26: items[0]: unknown key "weight"; known keys: id, guarded`},
		{"misspelt required key", head + "  - {kind: panel,\n     materail: xps}\n", "3:5: items[0]: missing key \"material\"\n4:6: items[0]: unknown key \"materail\"; did you mean \"material\"?"},
		{"missing keys", "use: wet\n", "1:1: missing key \"items\"\n1:1: missing key \"reference\" (How the firm calls the job)"},
		{"missing key with description behind a reference", head + "  - kind: light\n    id: a\n", `3:5: items[0]: missing key "x_mm" (From the left edge of the face)`},
		{"minimum", head + "  - kind: panel\n    material: xps\n    thickness_mm: 5\n", `5:19: items[0].thickness_mm: 5 is below the minimum 6`},
		{"exclusive maximum", "reference: r\nheight_mm: 1e4\nitems: []\n", `2:12: height_mm: 1e4 must be less than 10000`},
		{"exclusive minimum", "reference: r\nloads: {a: 0}\nitems: []\n", `2:12: loads.a: 0 must be more than 0`},
		{"maximum", "reference: r\npeople: 31\nitems: []\n", `2:9: people: 31 is above the maximum 30`},
		{"integer", "reference: r\npeople: 2.5\nitems: []\n", `2:9: people: expected a whole number, found the number 2.5`},
		{"enum", "reference: r\nuse: steem\nitems: []\n", `2:6: use: "steem" is not one of "steam", "wet", "shower"; did you mean "steam"?`},
		{"enum of another type", "reference: r\nuse: 5\nitems: []\n", `2:6: use: 5 is not one of "steam", "wet", "shower"`},
		{"const", "reference: r\nversion: 2\nitems: []\n", `2:10: version: must be 1, found 2`},
		{"unit in a text", "reference: r\nheight_mm: 12 mm\nitems: []\n", `2:12: height_mm: expected a number, found text "12 mm"; write the number alone, the unit is in the name`},
		{"number in quotes", "reference: r\nheight_mm: '12'\nitems: []\n", `2:12: height_mm: expected a number, found text "12"; write the number without quotes`},
		{"clock as number", "reference: r\nheight_mm: 12:30\nitems: []\n", `2:12: height_mm: expected a number, found text "12:30"; write the number alone, the unit is in the name`},
		{"yes", "reference: r\nheated: yes\nitems: []\n", `2:9: heated: expected true or false, found text "yes"; write true or false`},
		{"empty value", "reference: r\nheight_mm:\nitems: []\n", `2:11: height_mm: expected a number, found nothing; fill the value in or delete the key`},
		{"number for a text", "reference: 17\nitems: []\n", `1:12: reference: expected text, found the number 17; put the text in quotes`},
		{"text for a list", "reference: r\ntags: a\nitems: []\n", `2:7: tags: expected a list, found text "a"; write a list, such as ["a"]`},
		{"map for a list", "reference: r\nitems: {a: 1}\n", `2:8: items: expected a list, found a set of keys`},
		{"pattern with a hint", "reference: Room 1\nitems: []\n", `1:12: reference: "Room 1" does not fit: lower case letters, digits and hyphens`},
		{"pattern without a hint", head + "  - {kind: light, x_mm: 1, id: 1st}\n", `3:32: items[0].id: "1st" does not fit the pattern ^[a-z][a-z0-9_-]*$`},
		{"too long", "reference: aaaaaaaaaaaaaaaaaaaaa\nitems: []\n", `1:12: reference: "aaaaaaaaaaaaaaaaaaaaa" is too long; the most is 20 characters`},
		{"empty text", "reference: r\nnote: ''\nitems: []\n", `2:7: note: must not be empty`},
		{"date", "reference: r\nfitted_on: 2026-13-01\nitems: []\n", `2:12: fitted_on: "2026-13-01" is not a date (YYYY-MM-DD)`},
		{"date and time", "reference: r\nread_at: 2026-01-31 10:00\nitems: []\n", `2:10: read_at: "2026-01-31 10:00" is not a date and time with offset (YYYY-MM-DDThh:mm:ss+hh:mm or ending in Z)`},
		{"repeats", "reference: r\ntags: [a, b, a]\nitems: []\n", `2:14: tags[2]: repeats item [0] ("a")`},
		{"repeated points", head + "  - {kind: panel, material: xps, path: [[1, 2], [1.0, 2]]}\n", `3:49: items[0].path[1]: repeats item [0] (a list)`},
		{"too many items", "reference: r\ntags: [a, b, c, d]\nitems: []\n", `2:7: tags: the list has 4 items; the most is 3`},
		{"too few items", "reference: r\npoint: [1]\nitems: []\n", `2:8: point: the list has 1 of at least 2 items`},
		{"empty list", "reference: r\ntags: []\nitems: []\n", `2:7: tags: the list is empty; the least is 1 item`},
		{"one coordinate too many", "reference: r\npoint: [1, 2, 3]\nitems: []\n", `2:15: point[2]: one item too many; the list may hold 2`},
		{"anyOf of types", "reference: r\nlimit: x\nitems: []\n", `2:8: limit: expected a number or a list, found text "x"; write a list, such as ["x"]`},
		{"anyOf tells of the right type only", "reference: r\nlimit: [1, x]\nitems: []\n", `2:12: limit[1]: expected a number, found text "x"`},
		{"anyOf of required keys", "reference: r\nspan: {}\nitems: []\n", `2:7: span: at least one of the keys "start", "finish" is needed`},
		{"dependent key", "reference: r\nspan: {finish: x}\nitems: []\n", `2:7: span: missing key "start", which goes with "finish"`},
		{"forbidden key", "reference: r\nold_name: x\nitems: []\n", `2:1: key "old_name" is not allowed here`},
		{"key pattern", "reference: r\nloads: {Bench 1: 1}\nitems: []\n", `2:9: loads: key "Bench 1" does not fit the pattern ^[a-z]+$`},
		{"too many keys", "reference: r\nloads: {a: 1, b: 1, c: 1}\nitems: []\n", `2:8: loads: has 3 keys; the most is 2`},
		{"key that fits no pattern", "reference: r\nby_code: {d1: x}\nitems: []\n", `2:11: by_code: unknown key "d1"; no keys are allowed here`},
		{"strange key", "reference: r\n'a/b %25~': 1\nitems: []\n", `2:1: unknown key "a/b %25~"; known keys: use, fitted_on, read_at, height_mm, people, heated, note, version, … (15 in all)`},
		{"unknown kind is one error", head + "  - {kind: panl, x: 1}\n", `3:12: items[0].kind: "panl" is not one of the 3 kinds; did you mean "panel"?`},
		{"unknown kind, not near", head + "  - {kind: bathtub}\n", `3:12: items[0].kind: "bathtub" is not one of the 3 kinds: light, panel, steam_outlet`},
		{"missing kind is one error", head + "  - {id: x}\n", `3:5: items[0]: missing key "kind", one of light, panel, steam_outlet`},
		{"kind that is no text", head + "  - {kind: 5}\n", `3:12: items[0].kind: expected text, found the number 5; put the text in quotes; write one of light, panel, steam_outlet`},
		{"one bad item, errors of its own kind only", head + "  - kind: light\n    id: a\n    x_mm: far\n    material: xps\n", "5:11: items[0].x_mm: expected a number, found text \"far\"\n6:5: items[0]: unknown key \"material\"; known keys: ip_mark, guarded"},
		{"item that is no map", head + "  - light\n", `3:5: items[0]: expected a set of keys, found text "light"`},
		{"accents", "reference: 'é'\nitems: []\n", `1:12: reference: "é" does not fit: lower case letters, digits and hyphens`},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := read(t, "j.yaml", c.text)
			err := s.Validate("j.yaml", n)
			require.Error(t, err)
			want := "j.yaml:" + strings.ReplaceAll(c.want, "\n", "\nj.yaml:")
			require.Equal(t, want, err.Error())
			for _, p := range err.(Problems) {
				near, _ := n.Nearest(p.Pointer)
				require.NotNil(t, near)
			}
		})
	}
}

// A file of the wrong shape must never come out as a file without findings.
func TestWrongRootTypeIsNeverAccepted(t *testing.T) {
	s := compileRoom(t)
	for text, want := range map[string]string{
		"[]":          "j.yaml:1:1: expected a set of keys, found a list",
		"hello":       `j.yaml:1:1: expected a set of keys, found text "hello"`,
		"~":           "j.yaml:1:1: expected a set of keys, found nothing; fill the value in or delete the key",
		"5":           "j.yaml:1:1: expected a set of keys, found the number 5",
		"- reference": "j.yaml:1:1: expected a set of keys, found a list",
		"{}":          "j.yaml:1:1: missing key \"items\"\nj.yaml:1:1: missing key \"reference\" (How the firm calls the job)",
	} {
		err := s.Validate("j.yaml", read(t, "j.yaml", text))
		require.EqualError(t, err, want)
	}
	require.EqualError(t, s.Validate("j.yaml", nil), "j.yaml: the file is empty")
}

// Draft 2020-12 leaves `format` unchecked unless the validator is told otherwise.
func TestFormatIsReallyChecked(t *testing.T) {
	for name, cases := range map[string]map[string]bool{
		"date": {
			"2026-01-31": true, "2024-02-29": true,
			"2026-02-29": false, "2026-13-01": false, "2026-1-31": false, "31.01.2026": false, "2026-01-31T00:00:00Z": false, "": false,
		},
		"date-time": {
			"2026-01-31T10:00:00Z": true, "2026-01-31T10:00:00.25+01:00": true,
			"2026-01-31T10:00:00": false, "2026-01-31 10:00:00Z": false, "2026-01-31T24:00:00Z": false, "2026-01-31T10:00:00+25:00": false,
			"2026-01-31T1:00:00Z": false, "2026-01-31T10:00:00,5Z": false, "2026-02-30T10:00:00Z": false, "2026-01-31": false, "2026-12-31T23:59:60Z": false,
		},
	} {
		s, err := Compile(map[string][]byte{"f": []byte(`{"$schema": "https://json-schema.org/draft/2020-12/schema", "format": "` + name + `"}`)}, "f")
		require.NoError(t, err)
		require.NoError(t, s.Check())
		for text, want := range cases {
			n := &Node{Kind: String, Text: text}
			require.Equal(t, want, s.check.ok(n), "%s %q", name, text)
			require.Equal(t, want, s.ask(n) == nil, "%s %q", name, text)
		}
		require.NoError(t, s.Validate("j", &Node{Kind: Number, Num: 1}), "a format is about texts")
	}
	for name := range formats {
		require.Contains(t, []string{"date", "date-time"}, name, "every format needs its bad values above")
	}
}

// jsonschema/v5 panics on NaN beside a numeric bound, so Read refuses it; Validate survives one in a tree made by hand.
func TestNonFiniteNumbersNeitherPassNorPanic(t *testing.T) {
	s, err := Compile(map[string][]byte{"f": []byte(`{"type": "number", "minimum": 0, "maximum": 5}`)}, "f")
	require.NoError(t, err)
	zero := 0.0
	for _, v := range []float64{zero / zero, 1 / zero, -1 / zero} {
		n := &Node{Kind: Number, Num: v}
		require.NotPanics(t, func() { err = s.Validate("j", n) })
		require.Error(t, err, v)
	}
}

func TestProblemsAreCutAtFiftyAndCounted(t *testing.T) {
	s := compileRoom(t)
	text := "reference: r\nitems:\n" + strings.Repeat("  - {kind: x}\n", 70)
	err := s.Validate("j.yaml", read(t, "j.yaml", text))
	ps := err.(Problems)
	require.Len(t, ps, MaxProblems+1)
	require.Equal(t, "j.yaml:53:12: and 20 more", ps[MaxProblems].Error())
}

func TestPointersOfProblems(t *testing.T) {
	s := compileRoom(t)
	err := s.Validate("j.yaml", read(t, "j.yaml", "reference: r\nitems:\n  - {kind: light, 'a/b': 1, id: x, x_mm: -1}\n  - {kind: panel}\n  - {kind: panl}\n"))
	var pointers []string
	for _, p := range err.(Problems) {
		pointers = append(pointers, p.Pointer)
	}
	require.Equal(t, []string{"/items/0/a~1b", "/items/0/x_mm", "/items/1", "/items/2/kind"}, pointers)
}

func TestSchemaFilesWithSlipsDoNotCompile(t *testing.T) {
	for _, c := range []struct{ schema, want string }{
		{`{"minimun": 3}`, `f:1:2: unknown keyword "minimun"; did you mean "minimum"?`},
		{"{\"properties\": {\n\"a\": {\"oneOf\": []}}}", `f:2:7: unknown keyword "oneOf"; did you mean "anyOf"?`},
		{`{"if": true}`, `f:1:2: unknown keyword "if"; known are`},
		{`{"unevaluatedProperties": false}`, `f:1:2: unknown keyword "unevaluatedProperties"`},
		{`{"type": "nmber"}`, `f:1:10: unknown type "nmber"; did you mean "number"?`},
		{`{"type": []}`, `f:1:10: type must be a type or a list of types`},
		{`{"type": 5}`, `f:1:10: unknown type "5"`},
		{`{"format": "dat"}`, `f:1:12: unknown format "dat"; did you mean "date"?`},
		{`{"pattern": "("}`, `f:1:13: pattern must be a regular expression`},
		{`{"patternProperties": {"(": {}}}`, `f:1:29: error parsing regexp`},
		{`{"minimum": "3"}`, `f:1:13: minimum must be a number`},
		{`{"minLength": -1}`, `f:1:15: minLength must be a whole number`},
		{`{"maximum": 0.10000000000000000555}`, `f:1:13: number "0.10000000000000000555" has too many digits`},
		{`{"enum": []}`, `f:1:10: enum must be a list of values`},
		{`{"enum": [[1]]}`, `f:1:11: enum and const may hold scalars only`},
		{`{"enum": [1, 1.0]}`, `f:1:10: enum must be without repeats`},
		{`{"required": ["a", "a"]}`, `f:1:14: required must be a list of different texts`},
		{`{"required": "a"}`, `f:1:14: required must be a list of different texts`},
		{`{"uniqueItems": 1}`, `f:1:17: uniqueItems must be true or false`},
		{`{"items": []}`, `f:1:11: a schema must be an object, true or false`},
		{`{"allOf": {}}`, `f:1:11: allOf must be a list of schemas`},
		{`{"anyOf": []}`, `f:1:11: anyOf must be a list of schemas`},
		{`{"properties": []}`, `f:1:16: properties must be an object of schemas`},
		{`{"$ref": "#/$defs/none"}`, `f:1:10: $ref "#/$defs/none" names nothing in the given files`},
		{`{"$ref": "https://elsewhere.invalid/x"}`, `f:1:10: $ref "https://elsewhere.invalid/x" names nothing in the given files`},
		{`{"$ref": "#/required", "required": ["a"]}`, `f:1:10: $ref "#/required" does not lead to a schema`},
		{`{"$ref": "#"}`, `f:1:1: this schema refers to itself for the same value`},
		{`{"allOf": [{"$ref": "#/$defs/a"}], "$defs": {"a": {"anyOf": [{"$ref": "#/$defs/a"}]}}}`, `f:1:51: this schema refers to itself for the same value`},
		{`{"$schema": "http://json-schema.org/draft-07/schema#"}`, `f:1:13: $schema must be https://json-schema.org/draft/2020-12/schema`},
		{`{"properties": {"a": {"$id": "x"}}}`, `f:1:30: $id is allowed at the top of a file only`},
		{`{"x-kinds": {"property": "kind"}}`, `f:1:13: x-kinds must be {"property"`},
		{`{"x-kinds": {"property": "kind", "schemas": {"a b": {}}}}`, `f:1:53: the name of a kind may hold letters, digits, - and _ only`},
		{`{"x-kinds": {"property": "kind", "schemas": {"a": true}}}`, `f:1:51: the schema of a kind must be an object`},
		{`{"x-kinds": {"property": "kind", "schemas": {"a": {"minimun": 1}}}}`, `f:1:52: unknown keyword "minimun"`},
		{`{"title": 5}`, `f:1:11: title must be text`},
		{`{"type": "object", "type": "array"}`, `f:1:20: key "type" is already used at 1:2; keep one of them`},
		{`{"type": }`, `f:1:10: found "}": a value is expected here`},
		{`[]`, `f:1:1: a schema must be an object, true or false`},
	} {
		s, err := Compile(map[string][]byte{"f": []byte(c.schema)}, "f")
		require.Error(t, err, c.schema)
		require.Nil(t, s)
		require.Contains(t, err.Error(), c.want, c.schema)
	}
	_, err := Compile(map[string][]byte{"f": []byte(`{}`)}, "g")
	require.EqualError(t, err, "g: there is no such schema")
	_, err = Compile(map[string][]byte{"a": []byte(`{"$id": "x"}`), "b": []byte(`{"$id": "x"}`)}, "a")
	require.EqualError(t, err, "b:1:9: $id is already used by a")
}

func TestReferencesFindTheirFile(t *testing.T) {
	target := `{"$id": "https://wetrule.test/s/b.json", "type": "integer", "$defs": {"a b/c%": {"type": "string"}}}`
	for _, ref := range []string{"b.json", "https://wetrule.test/s/b.json", "https://wetrule.test/s/b.json#", "dir/b.json#/"[:10]} {
		s, err := Compile(map[string][]byte{
			"dir/a.json": []byte(`{"$id": "https://wetrule.test/s/a.json", "$ref": "` + ref + `"}`), "dir/b.json": []byte(target)}, "dir/a.json")
		require.NoError(t, err, ref)
		require.NoError(t, s.Check(), ref)
		require.NoError(t, s.Validate("j", read(t, "j", "5")))
		require.EqualError(t, s.Validate("j", read(t, "j", "5.5")), "j:1:1: expected a whole number, found the number 5.5")
	}
	s, err := Compile(map[string][]byte{"b.json": []byte(target)}, "b.json#/$defs/a%20b~1c%25")
	require.NoError(t, err)
	require.NoError(t, s.Validate("j", read(t, "j", "x")))
	require.EqualError(t, s.Validate("j", read(t, "j", "5")), "j:1:1: expected text, found the number 5; put the text in quotes")
}

func TestRecursiveSchema(t *testing.T) {
	s, err := Compile(map[string][]byte{"f": []byte(`{"type": "object", "additionalProperties": false, "properties": {"in": {"$ref": "#"}, "n": {"type": "number"}}}`)}, "f")
	require.NoError(t, err)
	require.NoError(t, s.Validate("j", read(t, "j.yaml", "in: {in: {n: 1}}")))
	require.EqualError(t, s.Validate("j", read(t, "j.yaml", "in: {in: {n: x}}")), `j:1:14: in.in.n: expected a number, found text "x"`)
}

func TestManyRequiredKeys(t *testing.T) {
	var keys, members []string
	for i := range 70 {
		keys = append(keys, fmt.Sprintf(`"k%d"`, i))
		members = append(members, fmt.Sprintf(`"k%d": 1`, i))
	}
	s, err := Compile(map[string][]byte{"f": []byte(`{"required": [` + strings.Join(keys, ",") + `]}`)}, "f")
	require.NoError(t, err)
	require.NoError(t, s.Validate("j.json", read(t, "j.json", "{"+strings.Join(members, ",")+"}")))
	for _, left := range []int{0, 63, 64, 69} {
		some := slices.Delete(slices.Clone(members), left, left+1)
		err := s.Validate("j.json", read(t, "j.json", "{"+strings.Join(some, ",")+"}"))
		require.EqualError(t, err, fmt.Sprintf(`j.json:1:1: missing key "k%d"`, left))
	}
}

// requireAgreement fails when the fast path and the full validator differ.
func requireAgreement(t require.TestingT, s *Schema, n *Node, about string) bool {
	require.NoError(t, s.Check(), about)
	fast, err := s.check.ok(n), s.ask(n)
	require.Equal(t, err == nil, fast, "%s\nvalue %v\nfull validator: %v", about, n.Value(), err)
	return fast
}

// TestPathsAgreeOnDamagedFiles changes a good file at random and asks both paths.
func TestPathsAgreeOnDamagedFiles(t *testing.T) {
	s := compileRoom(t)
	good := read(t, "j.yaml", goodRoom)
	refusedCount := 0
	rapid.Check(t, func(t *rapid.T) {
		for range 12 {
			n := clone(good)
			for range rapid.IntRange(1, 3).Draw(t, "changes") {
				damage(t, n)
			}
			if requireAgreement(t, s, n, "room") {
				continue
			}
			refusedCount++
			err := s.Validate("j.yaml", n)
			require.Error(t, err)
			for _, p := range err.(Problems) {
				require.Positive(t, p.Line)
				require.NotContains(t, p.Message, "jsonschema")
				require.NotContains(t, p.Message, "schema.invalid")
			}
		}
	})
	require.Positive(t, refusedCount)
}

func clone(n *Node) *Node {
	c := *n
	c.in = &inner{src: n.source()}
	for _, m := range n.Members() {
		m.Value = clone(m.Value)
		c.SetMembers(append(c.Members(), m))
	}
	for _, item := range n.Items() {
		c.SetItems(append(c.Items(), clone(item)))
	}
	return &c
}

// damage replaces, removes, adds or doubles something somewhere in a tree.
func damage(t *rapid.T, n *Node) {
	var all []*Node
	var walk func(*Node)
	walk = func(n *Node) {
		all = append(all, n)
		for _, m := range n.Members() {
			walk(m.Value)
		}
		for _, item := range n.Items() {
			walk(item)
		}
	}
	walk(n)
	at := rapid.SampledFrom(all).Draw(t, "node")
	keep := *at
	switch what := rapid.IntRange(0, 3).Draw(t, "what"); {
	case what == 1 && len(at.Members()) > 0:
		i := rapid.IntRange(0, len(at.Members())-1).Draw(t, "member")
		at.SetMembers(slices.Delete(at.Members(), i, i+1))
	case what == 1 && len(at.Items()) > 0:
		i := rapid.IntRange(0, len(at.Items())-1).Draw(t, "item")
		at.SetItems(slices.Delete(at.Items(), i, i+1))
	case what == 2 && at.Kind == Map:
		key := rapid.SampledFrom([]string{"kind", "id", "x_mm", "materail", "c2", "a/b", "é", "%41", "note"}).Draw(t, "key")
		if at.Get(key) == nil {
			at.SetMembers(append(at.Members(), Member{Key: key, KeyLine: at.Line, KeyCol: at.Col, Value: scalarFor(t, at)}))
		}
	case what == 2 && at.Kind == List && len(at.Items()) > 0:
		at.SetItems(append(at.Items(), clone(at.Items()[0])))
	case what == 3 && at.Kind == List:
		at.SetItems(append(at.Items(), scalarFor(t, at)))
	default:
		*at = *scalarFor(t, &keep)
	}
}

func scalarFor(t *rapid.T, at *Node) *Node {
	text := rapid.SampledFrom([]string{"0", "-1", "6", "5.999", "1e4", "9999.5", "31", "1", "true", "null", `""`, `"x"`, `"light"`, `"panl"`, `"xps"`, `"2026-02-30"`, `"2026-02-28"`, "[]", "{}", "[1, 1]", `{"kind": "panel"}`, `"steam"`}).Draw(t, "value")
	n, err := Read("v.json", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	n.Line, n.Col = at.Line, at.Col
	return n
}

// anySchema draws a schema from the supported keywords, with references to the definitions a and b.
func anySchema(t *rapid.T, depth int) any {
	if rapid.IntRange(0, 14).Draw(t, "bool") == 0 {
		return rapid.Bool().Draw(t, "always")
	}
	m := map[string]any{}
	number := rapid.SampledFrom([]json.Number{"-1", "0", "0.1", "0.3", "1", "2", "2.5", "1e3"})
	small := rapid.IntRange(0, 3)
	key := rapid.SampledFrom([]string{"a", "b", "c", "kind", "é", "x/y"})
	scalar := rapid.SampledFrom([]any{"a", "b", "", "2026-01-01", json.Number("1"), json.Number("0.1"), true, false, nil})
	sub := func() any {
		if depth == 0 {
			return map[string]any{}
		}
		return anySchema(t, depth-1)
	}
	distinct := func(g *rapid.Generator[string]) []any {
		var out []any
		for _, s := range rapid.SliceOfNDistinct(g, 0, 3, rapid.ID[string]).Draw(t, "distinct") {
			out = append(out, s)
		}
		return append([]any{}, out...)
	}
	types := rapid.SampledFrom([]string{"null", "boolean", "number", "integer", "string", "array", "object"})
	for range rapid.IntRange(0, 4).Draw(t, "keywords") {
		switch rapid.IntRange(0, 25).Draw(t, "keyword") {
		case 0, 1:
			m["type"] = types.Draw(t, "type")
		case 2:
			m["type"] = append(distinct(types), "null")
			m["type"] = dedupeAny(m["type"].([]any))
		case 3:
			m["enum"] = dedupeAny([]any{scalar.Draw(t, "v"), number.Draw(t, "v"), scalar.Draw(t, "v")})
		case 4:
			m["const"] = scalar.Draw(t, "v")
		case 5:
			m["minimum"] = number.Draw(t, "n")
		case 6:
			m["maximum"] = number.Draw(t, "n")
		case 7:
			m["exclusiveMinimum"] = number.Draw(t, "n")
		case 8:
			m["exclusiveMaximum"] = number.Draw(t, "n")
		case 9:
			m["minLength"] = small.Draw(t, "n")
			m["maxLength"] = small.Draw(t, "n")
		case 10:
			m["pattern"] = rapid.SampledFrom([]string{"^a", "b$", "^$", "é"}).Draw(t, "pattern")
		case 11:
			m["format"] = rapid.SampledFrom([]string{"date", "date-time"}).Draw(t, "format")
		case 12:
			m["minItems"] = small.Draw(t, "n")
		case 13:
			m["maxItems"] = small.Draw(t, "n")
		case 14:
			m["uniqueItems"] = rapid.Bool().Draw(t, "unique")
		case 15:
			m["items"] = sub()
		case 16:
			m["prefixItems"] = []any{sub(), sub()}
		case 17:
			m["required"] = distinct(key)
		case 18, 19:
			props := map[string]any{}
			for range rapid.IntRange(1, 3).Draw(t, "props") {
				props[key.Draw(t, "key")] = sub()
			}
			m["properties"] = props
		case 20:
			m["additionalProperties"] = sub()
			if rapid.Bool().Draw(t, "closed") {
				m["additionalProperties"] = false
			}
		case 21:
			m["patternProperties"] = map[string]any{"^a": sub(), "[bé]": sub()}
		case 22:
			m["propertyNames"] = sub()
		case 23:
			m["allOf"] = []any{sub(), sub()}
		case 24:
			m["anyOf"] = []any{sub(), sub()}
		case 25:
			switch rapid.IntRange(0, 3).Draw(t, "special") {
			case 0:
				m["x-kinds"] = map[string]any{"property": "kind", "schemas": map[string]any{"a": object(sub()), "b": map[string]any{"$ref": "#/$defs/leaf"}}}
			case 1:
				m["$ref"] = "#/$defs/leaf"
			case 2:
				m["minProperties"], m["maxProperties"] = small.Draw(t, "n"), small.Draw(t, "n")
			default:
				m["dependentRequired"] = map[string]any{key.Draw(t, "key"): distinct(key)}
			}
		}
	}
	return m
}

func object(schema any) any {
	if m, ok := schema.(map[string]any); ok {
		return m
	}
	return map[string]any{"anyOf": []any{schema}}
}

func dedupeAny(values []any) []any {
	var out []any
	for _, v := range values {
		if !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	return out
}

// anyValue draws a value that random schemas have a fair chance to accept.
func anyValue(t *rapid.T, depth int) any {
	most := 9
	if depth == 0 {
		most = 6
	}
	switch rapid.IntRange(0, most).Draw(t, "kind") {
	case 0:
		return nil
	case 1:
		return rapid.Bool().Draw(t, "bool")
	case 2, 3:
		return rapid.SampledFrom([]json.Number{"-1", "0", "-0", "0.1", "0.10", "0.3", "1", "1.0", "2", "2.5", "3", "1e3", "1000", "0.30000000000000004", "999999999999999.9"}).Draw(t, "number")
	case 4, 5, 6:
		return rapid.SampledFrom([]string{"", "a", "b", "ab", "é", "éé", "aaaa", "2026-01-01", "2026-02-30", "2026-01-01T00:00:00Z"}).Draw(t, "text")
	case 7:
		list := []any{}
		for range rapid.IntRange(0, 4).Draw(t, "items") {
			list = append(list, anyValue(t, depth-1))
		}
		return list
	}
	m := map[string]any{}
	for range rapid.IntRange(0, 4).Draw(t, "keys") {
		m[rapid.SampledFrom([]string{"a", "b", "c", "kind", "é", "x/y", "d%"}).Draw(t, "key")] = anyValue(t, depth-1)
	}
	if rapid.Bool().Draw(t, "with kind") {
		m["kind"] = rapid.SampledFrom([]string{"a", "b", "z"}).Draw(t, "kind of map")
	}
	return m
}

// TestPathsAgreeOnRandomSchemas hunts for differences between the fast path and the full validator.
func TestPathsAgreeOnRandomSchemas(t *testing.T) {
	accepted, refusedCount := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		root := object(anySchema(t, 3)).(map[string]any)
		root = maps.Clone(root)
		root["$defs"] = map[string]any{"leaf": map[string]any{"type": []any{"string", "number", "object"}, "properties": map[string]any{"a": map[string]any{"$ref": "#/$defs/leaf"}}}}
		text, err := json.Marshal(root)
		require.NoError(t, err)
		s, err := Compile(map[string][]byte{"f": text}, "f")
		require.NoError(t, err, "%s", text)
		for range 30 {
			value, err := json.Marshal(anyValue(t, 3))
			require.NoError(t, err)
			n, err := Read("v.json", value)
			require.NoError(t, err)
			if requireAgreement(t, s, n, string(text)) {
				accepted++
				continue
			}
			refusedCount++
			err = s.Validate("v.json", n)
			require.Error(t, err)
			for _, p := range err.(Problems) {
				require.Positive(t, p.Line, "%s %s", text, value)
				require.NotContains(t, p.Message, "schema.invalid")
			}
		}
	})
	require.Positive(t, accepted)
	require.Positive(t, refusedCount)
}

func TestValidateIsDeterministic(t *testing.T) {
	s := compileRoom(t)
	n := read(t, "j.yaml", "use: x\nfoo: 1\nbar: 2\nloads: {A: 0, B: 0, C: 0}\ntags: [1, 1]\nitems: [{kind: light, a: 1, b: 2}]\n")
	want := s.Validate("j.yaml", n).Error()
	for range 20 {
		require.Equal(t, want, s.Validate("j.yaml", n).Error())
	}
	require.Equal(t, want, compileRoom(t).Validate("j.yaml", n).Error())
}

func TestValidateFromSeveralGoroutines(t *testing.T) {
	s, err := Compile(roomResources(), "room.schema.json") // the full validator is not compiled yet
	require.NoError(t, err)
	n := read(t, "j.yaml", "use: x\nby_code: {d: 1}\nitems: [{kind: light}]\n")
	out := make(chan string)
	for range 8 {
		go func() { out <- fmt.Sprint(s.Validate("j.yaml", n)) }()
	}
	want := fmt.Sprint(compileRoom(t).Validate("j.yaml", n))
	for range 8 {
		require.Equal(t, want, <-out)
	}
}

func benchSchema(b *testing.B) (*Schema, *Node) {
	b.Helper()
	item := `{"type": "object", "additionalProperties": false, "required": ["id", "kind", "face"], "properties": {
		"id": {"type": "string", "pattern": "^[a-z0-9-]+$"}, "kind": {"const": "light"}, "face": {"type": "string", "minLength": 1},
		"x_mm": {"type": "number", "minimum": 0}, "y_mm": {"type": "number", "minimum": 0}, "diameter_mm": {"type": "number", "exclusiveMinimum": 0},
		"ip_mark": {"enum": ["IP65", "IP66", "IP67", "IP68"]}, "guarded": {"type": "boolean"}, "fixed_on": {"type": "string", "format": "date"},
		"size_mm": {"type": "array", "prefixItems": [{"type": "number"}, {"type": "number"}], "items": false}, "note": {"type": "string", "maxLength": 200}}}`
	s, err := Compile(map[string][]byte{"job.json": []byte(`{"type": "object", "additionalProperties": false, "required": ["items"], "properties": {
		"wetrule": {"const": 1}, "reference": {"type": "string"}, "stage": {"enum": ["design", "site"]},
		"items": {"type": "array", "items": {"type": "object", "x-kinds": {"property": "kind", "schemas": {"light": {"$ref": "#/$defs/light"}}}}}},
		"$defs": {"light": ` + item + `}}`)}, "job.json")
	require.NoError(b, err)
	require.NoError(b, s.Check())
	n := read(b, "j.yaml", benchJob())
	require.NoError(b, s.Validate("j.yaml", n))
	return s, n
}

func BenchmarkValidateGood(b *testing.B) {
	s, n := benchSchema(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Validate("j.yaml", n); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkValidateBad(b *testing.B) {
	s, n := benchSchema(b)
	n = clone(n)
	first := &n.At("/items/3").Members()[0]
	*first = Member{Key: "idd", Value: first.Value}
	b.ReportAllocs()
	for b.Loop() {
		if err := s.Validate("j.yaml", n); err == nil {
			b.Fatal("accepted")
		}
	}
}

func BenchmarkFullValidator(b *testing.B) {
	s, n := benchSchema(b)
	for b.Loop() {
		if err := s.ask(n); err != nil {
			b.Fatal(err)
		}
	}
}
