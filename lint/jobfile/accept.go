package jobfile

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// This file compiles a JSON Schema (draft 2020-12, the part that we use) into a tree of checkers which only say yes or
// no, straight from our nodes. It is some tens of times faster than the full validator, which is asked only after a no.

// keywordClass says what stands under a keyword.
type keywordClass uint8

const (
	annotation keywordClass = iota + 1
	assertion
	oneSchema
	schemaList
	schemaMap
	kindsKeyword
)

// keywords are the ones that we know. Anything else is refused, so that no constraint is ignored in silence.
var keywords = map[string]keywordClass{
	"$schema": annotation, "$id": annotation, "$comment": annotation, "title": annotation, "description": annotation,
	"examples": annotation, "default": annotation, "deprecated": annotation,

	"$ref": assertion, "type": assertion, "enum": assertion, "const": assertion, "format": assertion,
	"minimum": assertion, "maximum": assertion, "exclusiveMinimum": assertion, "exclusiveMaximum": assertion,
	"minLength": assertion, "maxLength": assertion, "pattern": assertion,
	"minItems": assertion, "maxItems": assertion, "uniqueItems": assertion,
	"minProperties": assertion, "maxProperties": assertion, "required": assertion, "dependentRequired": assertion,

	"items": oneSchema, "additionalProperties": oneSchema, "propertyNames": oneSchema,
	"prefixItems": schemaList, "allOf": schemaList, "anyOf": schemaList,
	"properties": schemaMap, "patternProperties": schemaMap, "$defs": schemaMap,
	kindsName: kindsKeyword,
}

const (
	kindsName  = "x-kinds"
	schemaName = "https://json-schema.org/draft/2020-12/schema"
	// judgeBase is where the resources live inside the full validator. Nothing is ever fetched.
	judgeBase = "https://schema.invalid/"
)

// format tells whether a text has a format; both paths use the same functions.
type format struct {
	ok    func(string) bool
	words string
}

var formats = map[string]format{
	"date":      {func(s string) bool { return isDate(s) && inYears(s) }, "a date (YYYY-MM-DD)"},
	"date-time": {func(s string) bool { return isDateTime(s) && inYears(s) }, "a date and time with offset (YYYY-MM-DDThh:mm:ss+hh:mm or ending in Z)"},
}

// The years that dates may lie in. A slip in a year is told, and durations between dates stay far from what a time can hold.
const (
	FirstYear = "1900"
	LastYear  = "2199"
)

// inYears says whether a date or time lies in the years that are allowed.
func inYears(s string) bool { return s[:4] >= FirstYear && s[:4] <= LastYear }

func isDate(s string) bool {
	if len(s) != len("2006-01-02") || s[4] != '-' || s[7] != '-' {
		return false
	}
	century, year := twoDigits(s), twoDigits(s[2:])
	month, day := twoDigits(s[5:]), twoDigits(s[8:])
	if century < 0 || year < 0 || month < 1 || month > 12 || day < 1 {
		return false
	}
	if month == 2 && day == 29 {
		return year%4 == 0 && (year != 0 || century%4 == 0)
	}
	return day <= int(daysOfMonths[month-1])
}

const daysOfMonths = "\x1f\x1c\x1f\x1e\x1f\x1e\x1f\x1f\x1e\x1f\x1e\x1f"

// twoDigits is the number that a text begins with, or -1 when that is not two digits.
func twoDigits(s string) int {
	tens, ones := s[0]-'0', s[1]-'0'
	if tens > 9 || ones > 9 {
		return -1
	}
	return int(tens)*10 + int(ones)
}

// isDateTime follows RFC 3339 §5.6, without lower case letters and leap seconds.
func isDateTime(s string) bool {
	if len(s) < len("2006-01-02T15:04:05Z") || !isDate(s[:10]) || s[10] != 'T' || !isClock(s[11:]) || s[16] != ':' {
		return false
	}
	if second := twoDigits(s[17:]); second < 0 || second > 59 {
		return false
	}
	s = s[19:]
	if s[0] == '.' {
		digits := 1
		for digits < len(s) && s[digits] >= '0' && s[digits] <= '9' {
			digits++
		}
		if s = s[digits:]; digits == 1 || s == "" {
			return false
		}
	}
	return s == "Z" || len(s) == len("+01:00") && (s[0] == '+' || s[0] == '-') && isClock(s[1:])
}

// isClock tells whether a text begins with hours and minutes of a day.
func isClock(s string) bool {
	hour, minute := twoDigits(s), twoDigits(s[3:])
	return hour >= 0 && hour <= 23 && s[2] == ':' && minute >= 0 && minute <= 59
}

// resource is one schema file.
type resource struct {
	index int
	key   string // its name among the given resources
	id    string // its $id, or ""
	root  *Node
}

// target is a place in a resource.
type target struct {
	res     *resource
	pointer string
}

type typeMask uint8

const (
	maskInteger typeMask = 1 << 7 // besides one bit for each Kind
	maskAll     typeMask = 1<<Null | 1<<Bool | 1<<Number | 1<<String | 1<<Map | 1<<List
)

var typeNames = map[string]typeMask{
	"null": 1 << Null, "boolean": 1 << Bool, "number": 1 << Number, "integer": maskInteger,
	"string": 1 << String, "object": 1 << Map, "array": 1 << List,
}

type property struct {
	check  *checker // nil when the key is only required
	listed bool     // under `properties`
	bit    uint64   // for required keys
}

type patternProperty struct {
	pattern *matcher
	check   *checker
}

type dependency struct {
	key  string
	need []string
}

// checker is one compiled schema.
type checker struct {
	never  bool // the schema `false`
	types  typeMask
	values []*Node             // enum and const values that are not text
	texts  *keyTable[struct{}] // the ones that are text
	hasSet bool
	also   []*checker // $ref, allOf, and const beside enum: all must accept
	anyOf  []*checker

	// numbers
	min, max           float64
	aboveMin, belowMax float64
	hasNumberBounds    bool
	// text
	minLength, maxLength int
	hasTextBounds        bool
	pattern              *matcher
	format               func(string) bool
	// lists
	minItems, maxItems int
	unique             bool
	prefix             []*checker
	items              *checker
	// maps
	minKeys, maxKeys int
	properties       *keyTable[property]
	requiredBits     uint64
	required         []string // only when there are too many for the bits
	patterns         []patternProperty
	extra            *checker // additionalProperties
	names            *checker
	dependencies     []dependency
	kindKey          string
	kinds            *keyTable[*checker]
}

// ok tells whether the schema accepts a node.
func (c *checker) ok(n *Node) bool {
	if c.never || n == nil {
		return false
	}
	if c.types&(1<<n.Kind) == 0 {
		if n.Kind != Number || c.types&maskInteger == 0 || n.Num != math.Trunc(n.Num) {
			return false
		}
	}
	if c.hasSet && !c.inSet(n) {
		return false
	}
	switch n.Kind {
	case Number:
		// Written so that NaN, which only a tree made by hand can hold, is refused.
		if c.hasNumberBounds && !(n.Num >= c.min && n.Num <= c.max && n.Num > c.aboveMin && n.Num < c.belowMax) {
			return false
		}
	case String:
		if !c.textOK(n.Text) {
			return false
		}
	case List:
		if !c.listOK(n) {
			return false
		}
	case Map:
		if !c.mapOK(n) {
			return false
		}
	}
	for _, other := range c.also {
		if !other.ok(n) {
			return false
		}
	}
	if c.anyOf != nil {
		return slices.ContainsFunc(c.anyOf, func(other *checker) bool { return other.ok(n) })
	}
	return true
}

func (c *checker) inSet(n *Node) bool {
	if n.Kind == String {
		return c.texts.find(n.Text) != nil
	}
	return slices.ContainsFunc(c.values, func(v *Node) bool { return sameScalar(v, n) })
}

func sameScalar(a, b *Node) bool {
	if a.Kind != b.Kind {
		return false
	}
	switch a.Kind {
	case Null:
		return true
	case Bool:
		return a.Bool == b.Bool
	case Number:
		return a.Num == b.Num
	case String:
		return a.Text == b.Text
	}
	return false
}

func (c *checker) textOK(text string) bool {
	if c.hasTextBounds {
		length := len(text)
		if length < c.minLength {
			return false
		}
		if c.minLength > 1 || length > c.maxLength { // only then it matters how many characters the bytes are
			length = utf8.RuneCountInString(text)
		}
		if length < c.minLength || c.maxLength >= 0 && length > c.maxLength {
			return false
		}
	}
	if c.pattern != nil && !c.pattern.match(text) {
		return false
	}
	return c.format == nil || c.format(text)
}

func (c *checker) listOK(n *Node) bool {
	if len(n.Items()) < c.minItems || c.maxItems >= 0 && len(n.Items()) > c.maxItems {
		return false
	}
	for i, item := range n.Items() {
		if i < len(c.prefix) {
			if !c.prefix[i].ok(item) {
				return false
			}
		} else if c.items == nil {
			break
		} else if !c.items.ok(item) {
			return false
		}
	}
	if c.unique {
		_, second := firstRepeat(n.Items())
		return second < 0
	}
	return true
}

func (c *checker) mapOK(n *Node) bool {
	members := n.Members()
	if len(members) < c.minKeys || c.maxKeys >= 0 && len(members) > c.maxKeys {
		return false
	}
	var seen uint64
	var numbers []*property // when nothing but its own schema is asked of a member that is listed
	if c.properties != nil && c.patterns == nil && c.names == nil {
		numbers = c.properties.numbers
	}
	for i := range members {
		m := &members[i]
		listed := false
		if int(m.key) < len(numbers) { // as a rule
			if p := numbers[m.key]; p != nil && p.listed {
				if seen |= p.bit; p.check != nil && !p.check.ok(m.Value) {
					return false
				}
				continue
			}
		}
		if p := c.properties.of(m); p != nil {
			seen |= p.bit
			listed = p.listed
			if p.check != nil && !p.check.ok(m.Value) {
				return false
			}
		}
		for j := range c.patterns {
			if c.patterns[j].pattern.match(m.Key) {
				listed = true
				if !c.patterns[j].check.ok(m.Value) {
					return false
				}
			}
		}
		if c.extra != nil && !listed && !c.extra.ok(m.Value) {
			return false
		}
		if c.names != nil && !c.names.ok(NewText(m.Key)) {
			return false
		}
	}
	if seen&c.requiredBits != c.requiredBits {
		return false
	}
	for _, key := range c.required {
		if n.member(key) == nil {
			return false
		}
	}
	for _, d := range c.dependencies {
		if n.member(d.key) == nil {
			continue
		}
		for _, key := range d.need {
			if n.member(key) == nil {
				return false
			}
		}
	}
	if c.kinds != nil {
		kind := n.Get(c.kindKey)
		if kind == nil || kind.Kind != String {
			return false
		}
		schema := c.kinds.find(kind.Text)
		return schema != nil && (*schema).ok(n)
	}
	return true
}

// firstRepeat finds the first item that equals an earlier one, or gives -1, -1.
func firstRepeat(items []*Node) (first, second int) {
	if len(items) < 2 {
		return -1, -1
	}
	if len(items) <= 16 && !slices.ContainsFunc(items, func(n *Node) bool {
		return n == nil || n.Kind == Map || n.Kind == List || n.Num != n.Num
	}) {
		for i := range items {
			for j := range i {
				if sameScalar(items[i], items[j]) {
					return j, i
				}
			}
		}
		return -1, -1
	}
	seen := make(map[string]int, len(items))
	var buf []byte
	for i, item := range items {
		buf = appendCanonical(buf[:0], item)
		if j, ok := seen[string(buf)]; ok {
			return j, i
		}
		seen[string(buf)] = i
	}
	return -1, -1
}

// appendCanonical writes a value so that equal values give equal bytes, whatever the order of keys.
func appendCanonical(b []byte, n *Node) []byte {
	text := func(s string) {
		b = strconv.AppendInt(b, int64(len(s)), 10)
		b = append(b, ':')
		b = append(b, s...)
	}
	if n == nil {
		return append(b, '0')
	}
	switch n.Kind {
	case Bool:
		if n.Bool {
			return append(b, 't')
		}
		return append(b, 'f')
	case Number:
		b = append(b, '#')
		b = strconv.AppendFloat(b, n.Num+0, 'g', -1, 64)
		return append(b, ';')
	case String:
		b = append(b, 's')
		text(n.Text)
		return b
	case List:
		b = append(b, '[')
		for _, item := range n.Items() {
			b = appendCanonical(b, item)
		}
		return append(b, ']')
	case Map:
		order := make([]int, len(n.Members()))
		for i := range order {
			order[i] = i
		}
		slices.SortFunc(order, func(i, j int) int { return cmp.Compare(n.Members()[i].Key, n.Members()[j].Key) })
		b = append(b, '{')
		for _, i := range order {
			text(n.Members()[i].Key)
			b = appendCanonical(b, n.Members()[i].Value)
		}
		return append(b, '}')
	}
	return append(b, '0')
}

// schemaCompiler reads the resources, checks every schema in them and builds the checkers.
type schemaCompiler struct {
	resources []*resource
	checkers  map[*Node]*checker
	problems  Problems
	refs      map[*Node]target // resolved $ref by the node of its text
	walked    map[*Node]bool   // every schema that was checked
	patterns  map[string]*regexp.Regexp
	matchers  map[string]*matcher
}

func (sc *schemaCompiler) report(n *Node, pointer, message string) {
	sc.problems = append(sc.problems, n.problem(pointer, message))
}

// pattern compiles a regular expression once, since schemas repeat theirs.
func (sc *schemaCompiler) pattern(text string) (*regexp.Regexp, error) {
	if re, ok := sc.patterns[text]; ok {
		return re, nil
	}
	re, err := regexp.Compile(text)
	if err == nil {
		sc.patterns[text] = re
	}
	return re, err
}

// matcher gives the fast form of a pattern that compiles.
func (sc *schemaCompiler) matcher(text string) *matcher {
	m, ok := sc.matchers[text]
	if !ok {
		m = newMatcher(sc.patterns[text])
		sc.matchers[text] = m
	}
	return m
}

func (sc *schemaCompiler) load(given map[string][]byte) error {
	keys := make([]string, 0, len(given))
	for key := range given {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for i, key := range keys {
		src := &source{file: key, data: given[key]}
		if p := src.scan(); p != nil {
			return Problems{*p}
		}
		root, err := readJSON(src, new(Memory))
		if err != nil {
			return err
		}
		r := &resource{index: i, key: key, root: root}
		if id := root.Get("$id"); id != nil {
			r.id = strings.TrimSuffix(id.Text, "#")
		}
		for _, other := range sc.resources {
			if r.id != "" && other.id == r.id {
				sc.report(root.Get("$id"), "/$id", fmt.Sprintf("$id is already used by %s", other.key))
			}
		}
		sc.resources = append(sc.resources, r)
	}
	return nil
}

// find resolves a reference as written in a resource; from is nil for the root of the whole.
func (sc *schemaCompiler) find(from *resource, ref string) (target, bool) {
	name, fragment, _ := strings.Cut(ref, "#")
	pointer, ok := unescapeFragment(fragment)
	if !ok {
		return target{}, false
	}
	if name == "" {
		return target{from, pointer}, from != nil
	}
	for _, r := range sc.resources {
		if r.key == name || r.id == name {
			return target{r, pointer}, true
		}
	}
	if from != nil && !strings.Contains(name, "://") {
		beside := path.Join(path.Dir(from.key), name)
		for _, r := range sc.resources {
			if r.key == beside || from.id != "" && r.id == from.id[:strings.LastIndexByte(from.id, '/')+1]+name {
				return target{r, pointer}, true
			}
		}
	}
	return target{}, false
}

// walk checks a schema and all schemas under it, used or not.
func (sc *schemaCompiler) walk(r *resource, n *Node, pointer string) {
	sc.walked[n] = true
	if n.Kind == Bool {
		return
	}
	if n.Kind != Map {
		sc.report(n, pointer, "a schema must be an object, true or false")
		return
	}
	byKind := n.Get(kindsName) != nil
	for i := range n.Members() {
		m := &n.Members()[i]
		at := pointer + "/" + escapeToken(m.Key)
		class, known := keywords[m.Key]
		if !known {
			if !strings.HasPrefix(m.Key, "x-") {
				sc.problems = append(sc.problems, Problem{File: n.File(), Line: int(m.KeyLine), Col: int(m.KeyCol), Pointer: at,
					Message: unknownWord("keyword", m.Key, sortedKeys(keywords))})
			}
			continue
		}
		switch class {
		case annotation:
			sc.checkAnnotation(m, at, pointer == "")
		case assertion:
			sc.checkAssertion(r, m, at)
		case oneSchema:
			sc.walk(r, m.Value, at)
		case schemaList:
			if m.Key == "allOf" && byKind {
				continue // see Compile
			}
			if m.Value.Kind != List || len(m.Value.Items()) == 0 {
				sc.report(m.Value, at, m.Key+" must be a list of schemas")
				continue
			}
			for i, item := range m.Value.Items() {
				sc.walk(r, item, at+"/"+strconv.Itoa(i))
			}
		case schemaMap:
			sc.walkMap(r, m.Value, at, m.Key)
		case kindsKeyword:
			kinds := m.Value.Get("schemas")
			if p := m.Value.Get("property"); p == nil || p.Kind != String || len(m.Value.Members()) != 2 || kinds == nil || len(kinds.Members()) == 0 {
				sc.report(m.Value, at, kindsName+` must be {"property": "…", "schemas": {"…": schema}}`)
				continue
			}
			sc.walkMap(r, kinds, at+"/schemas", kindsName)
			for j := range kinds.Members() {
				if kinds.Members()[j].Value.Kind == Bool {
					sc.report(kinds.Members()[j].Value, at, "the schema of a kind must be an object")
				}
				if !isPlainKey(kinds.Members()[j].Key) {
					sc.report(kinds.Members()[j].Value, at, "the name of a kind may hold letters, digits, - and _ only")
				}
			}
		}
	}
}

func (sc *schemaCompiler) walkMap(r *resource, n *Node, at, keyword string) {
	if n.Kind != Map {
		sc.report(n, at, keyword+" must be an object of schemas")
		return
	}
	for i := range n.Members() {
		if keyword == "patternProperties" {
			if _, err := sc.pattern(n.Members()[i].Key); err != nil {
				sc.report(n.Members()[i].Value, at, err.Error())
				continue
			}
		}
		sc.walk(r, n.Members()[i].Value, at+"/"+escapeToken(n.Members()[i].Key))
	}
}

func (sc *schemaCompiler) checkAnnotation(m *Member, at string, root bool) {
	switch m.Key {
	case "$schema":
		if strings.TrimSuffix(m.Value.Text, "#") != schemaName {
			sc.report(m.Value, at, "$schema must be "+schemaName)
		}
	case "$id":
		if !root {
			sc.report(m.Value, at, "$id is allowed at the top of a file only")
		}
	}
	want := String
	switch m.Key {
	case "examples":
		want = List
	case "deprecated":
		want = Bool
	case "default":
		return
	}
	if m.Value.Kind != want {
		sc.report(m.Value, at, fmt.Sprintf("%s must be %s", m.Key, want))
	}
}

func (sc *schemaCompiler) checkAssertion(r *resource, m *Member, at string) {
	v := m.Value
	must := func(ok bool, what string) {
		if !ok {
			sc.report(v, at, m.Key+" must be "+what)
		}
	}
	switch m.Key {
	case "$ref":
		t, ok := sc.find(r, v.Text)
		if v.Kind != String || !ok || t.res.root.At(t.pointer) == nil {
			sc.report(v, at, fmt.Sprintf("$ref %s names nothing in the given files", quoteText(v.Text)))
			return
		}
		sc.refs[v] = t
	case "type":
		names := []*Node{v}
		if v.Kind == List {
			names = v.Items()
			must(len(names) > 0, "a type or a list of types")
		}
		for _, name := range names {
			if typeNames[name.Text] == 0 || name.Kind != String {
				sc.report(name, at, unknownWord("type", name.Text, sortedKeys(typeNames)))
			}
		}
		_, second := firstRepeat(names)
		must(second < 0, "without repeats")
	case "enum":
		must(v.Kind == List && len(v.Items()) > 0, "a list of values")
		for _, item := range v.Items() {
			sc.checkConstant(item, at)
		}
		_, second := firstRepeat(v.Items())
		must(second < 0, "without repeats")
	case "const":
		sc.checkConstant(v, at)
	case "minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum":
		must(v.Kind == Number, "a number")
		sc.checkExact(v, at)
	case "minLength", "maxLength", "minItems", "maxItems", "minProperties", "maxProperties":
		must(v.Kind == Number && v.Num >= 0 && v.Num <= MaxFileBytes && v.Num == math.Trunc(v.Num), "a whole number that is not negative")
	case "pattern":
		_, err := sc.pattern(v.Text)
		must(v.Kind == String && err == nil, "a regular expression")
	case "format":
		if _, ok := formats[v.Text]; !ok || v.Kind != String {
			sc.report(v, at, unknownWord("format", v.Text, sortedKeys(formats)))
		}
	case "uniqueItems":
		must(v.Kind == Bool, "true or false")
	case "required":
		must(isTextList(v), "a list of different texts")
	case "dependentRequired":
		must(v.Kind == Map, "an object of lists of texts")
		for i := range v.Members() {
			must(isTextList(v.Members()[i].Value), "an object of lists of different texts")
		}
	}
}

func isTextList(n *Node) bool {
	if n.Kind != List {
		return false
	}
	_, second := firstRepeat(n.Items())
	return second < 0 && !slices.ContainsFunc(n.Items(), func(item *Node) bool { return item.Kind != String })
}

func (sc *schemaCompiler) checkConstant(n *Node, at string) {
	if n.Kind == Map || n.Kind == List {
		sc.report(n, at, "enum and const may hold scalars only")
	}
	sc.checkExact(n, at)
}

// checkExact refuses numbers with more digits than a float64 carries. For all others, comparing float64 values (as the
// checkers do) and comparing their shortest decimals (as the judge does) give the same answer, since rounding keeps order.
func (sc *schemaCompiler) checkExact(n *Node, at string) {
	const always = 15 // digits that a float64 carries whatever they are
	if n.Kind != Number || len(n.Text) <= always {
		return
	}
	written, ok := new(big.Rat).SetString(n.Text)
	shortest, _ := new(big.Rat).SetString(strconv.FormatFloat(n.Num, 'g', -1, 64))
	if !ok || written.Cmp(shortest) != 0 {
		sc.report(n, at, fmt.Sprintf("number %s has too many digits", quoteText(n.Text)))
	}
}

// build gives the checker of a schema that walk has accepted.
func (sc *schemaCompiler) build(n *Node) *checker {
	if c, ok := sc.checkers[n]; ok {
		return c
	}
	if ref := n.Get("$ref"); ref != nil && !slices.ContainsFunc(n.Members(), func(m Member) bool {
		return m.Key != "$ref" && keywords[m.Key] != annotation && !strings.HasPrefix(m.Key, "x-") || m.Key == kindsName
	}) {
		// Nothing but a reference is what most schemas of keys are, so the way to their checkers is short.
		t := sc.refs[ref]
		c := sc.build(t.res.root.At(t.pointer))
		sc.checkers[n] = c
		return c
	}
	c := &checker{types: maskAll, maxLength: -1, maxItems: -1, maxKeys: -1,
		min: math.Inf(-1), aboveMin: math.Inf(-1), max: math.Inf(1), belowMax: math.Inf(1)}
	sc.checkers[n] = c // before the rest: schemas may be recursive
	if n.Kind == Bool {
		c.never = !n.Bool
		return c
	}
	if ref := n.Get("$ref"); ref != nil {
		t := sc.refs[ref]
		c.also = append(c.also, sc.build(t.res.root.At(t.pointer)))
	}
	sc.buildScalar(c, n)
	sc.buildList(c, n)
	sc.buildMap(c, n)
	kinds := n.Get(kindsName)
	if kinds != nil {
		byName := map[string]*checker{}
		schemas := kinds.Get("schemas")
		for i := range schemas.Members() {
			byName[schemas.Members()[i].Key] = sc.build(schemas.Members()[i].Value)
		}
		c.kindKey, c.kinds = kinds.Get("property").Text, newKeyTable(byName)
	} else if all := n.Get("allOf"); all != nil {
		for _, item := range all.Items() {
			c.also = append(c.also, sc.build(item))
		}
	}
	if alternatives := n.Get("anyOf"); alternatives != nil {
		for _, item := range alternatives.Items() {
			c.anyOf = append(c.anyOf, sc.build(item))
		}
	}
	return c
}

func (c *checker) addSet(items []*Node) {
	set := c
	if c.hasSet { // const beside enum
		set = &checker{types: maskAll, maxLength: -1, maxItems: -1, maxKeys: -1}
		c.also = append(c.also, set)
	}
	set.hasSet = true
	texts := map[string]struct{}{}
	for _, item := range items {
		if item.Kind == String {
			texts[item.Text] = struct{}{}
		} else {
			set.values = append(set.values, item)
		}
	}
	set.texts = newKeyTable(texts)
}

func (sc *schemaCompiler) buildScalar(c *checker, n *Node) {
	if types := n.Get("type"); types != nil {
		c.types = typeNames[types.Text]
		for _, t := range types.Items() {
			c.types |= typeNames[t.Text]
		}
	}
	if enum := n.Get("enum"); enum != nil {
		c.addSet(enum.Items())
	}
	if constant := n.Get("const"); constant != nil {
		c.addSet([]*Node{constant})
	}
	for keyword, field := range map[string]*float64{"minimum": &c.min, "maximum": &c.max, "exclusiveMinimum": &c.aboveMin, "exclusiveMaximum": &c.belowMax} {
		if v := n.Get(keyword); v != nil {
			*field, c.hasNumberBounds = v.Num, true
		}
	}
	setCount(n, "minLength", &c.minLength)
	setCount(n, "maxLength", &c.maxLength)
	c.hasTextBounds = c.minLength > 0 || c.maxLength >= 0
	if v := n.Get("pattern"); v != nil {
		c.pattern = sc.matcher(v.Text)
	}
	if v := n.Get("format"); v != nil {
		c.format = formats[v.Text].ok
	}
}

func setCount(n *Node, keyword string, field *int) {
	if v := n.Get(keyword); v != nil {
		*field = int(v.Num)
	}
}

func (sc *schemaCompiler) buildList(c *checker, n *Node) {
	setCount(n, "minItems", &c.minItems)
	setCount(n, "maxItems", &c.maxItems)
	if v := n.Get("uniqueItems"); v != nil {
		c.unique = v.Bool
	}
	if v := n.Get("prefixItems"); v != nil {
		for _, item := range v.Items() {
			c.prefix = append(c.prefix, sc.build(item))
		}
	}
	if v := n.Get("items"); v != nil {
		c.items = sc.build(v)
	}
}

func (sc *schemaCompiler) buildMap(c *checker, n *Node) {
	setCount(n, "minProperties", &c.minKeys)
	setCount(n, "maxProperties", &c.maxKeys)
	properties := map[string]property{}
	if v := n.Get("properties"); v != nil {
		for i := range v.Members() {
			properties[v.Members()[i].Key] = property{check: sc.build(v.Members()[i].Value), listed: true}
		}
	}
	if v := n.Get("required"); v != nil {
		for i, key := range v.Items() {
			if i >= 64 {
				c.required = append(c.required, key.Text)
				continue
			}
			p := properties[key.Text]
			p.bit = 1 << i
			properties[key.Text] = p
			c.requiredBits |= p.bit
		}
	}
	if len(properties) > 0 {
		c.properties = newKeyTable(properties).numbered()
	}
	if v := n.Get("patternProperties"); v != nil {
		for i := range v.Members() {
			c.patterns = append(c.patterns, patternProperty{sc.matcher(v.Members()[i].Key), sc.build(v.Members()[i].Value)})
		}
	}
	if v := n.Get("additionalProperties"); v != nil {
		c.extra = sc.build(v)
	}
	if v := n.Get("propertyNames"); v != nil {
		c.names = sc.build(v)
	}
	if v := n.Get("dependentRequired"); v != nil {
		for i := range v.Members() {
			d := dependency{key: v.Members()[i].Key}
			for _, item := range v.Members()[i].Value.Items() {
				d.need = append(d.need, item.Text)
			}
			c.dependencies = append(c.dependencies, d)
		}
	}
}

// checkRefs makes sure that every reference leads to a schema that was checked, not to some other value.
func (sc *schemaCompiler) checkRefs() {
	for ref, t := range sc.refs { // the report is sorted later
		if !sc.walked[t.res.root.At(t.pointer)] {
			sc.report(ref, "", fmt.Sprintf("$ref %s does not lead to a schema", quoteText(ref.Text)))
		}
	}
}

// loops reports schemas that lead back to themselves without going down into the value.
func (sc *schemaCompiler) loops(n *Node, onWay, done map[*Node]bool) bool {
	if n.Kind != Map || done[n] {
		return false
	}
	if onWay[n] {
		sc.report(n, "", "this schema refers to itself for the same value")
		return true
	}
	onWay[n] = true
	defer delete(onWay, n)
	var next []*Node
	if ref := n.Get("$ref"); ref != nil {
		t := sc.refs[ref]
		next = append(next, t.res.root.At(t.pointer))
	}
	if kinds := n.Get(kindsName); kinds != nil {
		schemas := kinds.Get("schemas")
		for i := range schemas.Members() {
			next = append(next, schemas.Members()[i].Value)
		}
	} else if all := n.Get("allOf"); all != nil {
		next = append(next, all.Items()...)
	}
	if alternatives := n.Get("anyOf"); alternatives != nil {
		next = append(next, alternatives.Items()...)
	}
	for _, other := range next {
		if sc.loops(other, onWay, done) {
			return true
		}
	}
	done[n] = true
	return false
}

// walkLoops looks for loops from every schema that was checked, in file order.
func (sc *schemaCompiler) walkLoops(n *Node, done map[*Node]bool) {
	if n == nil {
		return
	}
	if sc.walked[n] && !done[n] && sc.loops(n, map[*Node]bool{}, done) {
		return
	}
	for i := range n.Members() {
		sc.walkLoops(n.Members()[i].Value, done)
	}
	for _, item := range n.Items() {
		sc.walkLoops(item, done)
	}
}

// forJudge writes a schema as the full validator shall see it: references made absolute, $id dropped, and `allOf`
// dropped beside x-kinds.
func (sc *schemaCompiler) forJudge(n *Node) any {
	if n.Kind != Map {
		return n.Value()
	}
	out := make(map[string]any, len(n.Members()))
	byKind := n.Get(kindsName) != nil
	mapOf := func(v *Node) map[string]any {
		m := make(map[string]any, len(v.Members()))
		for i := range v.Members() {
			m[v.Members()[i].Key] = sc.forJudge(v.Members()[i].Value)
		}
		return m
	}
	for i := range n.Members() {
		key, v := n.Members()[i].Key, n.Members()[i].Value
		switch keywords[key] {
		case annotation:
			if key == "$schema" {
				out[key] = schemaName
			}
		case assertion:
			if key == "$ref" {
				t := sc.refs[v]
				out[key] = judgeBase + strconv.Itoa(t.res.index) + "#" + escapeFragment(t.pointer)
				continue
			}
			out[key] = exactValue(v)
		case oneSchema:
			out[key] = sc.forJudge(v)
		case schemaList:
			if key == "allOf" && byKind {
				continue
			}
			list := make([]any, len(v.Items()))
			for i, item := range v.Items() {
				list[i] = sc.forJudge(item)
			}
			out[key] = list
		case schemaMap:
			out[key] = mapOf(v)
		case kindsKeyword:
			out[key] = map[string]any{"property": v.Get("property").Text, "schemas": mapOf(v.Get("schemas"))}
		}
	}
	return out
}

// exactValue keeps the digits of numbers.
func exactValue(n *Node) any {
	switch n.Kind {
	case Number:
		return json.Number(n.Text)
	case List:
		list := make([]any, len(n.Items()))
		for i, item := range n.Items() {
			list[i] = exactValue(item)
		}
		return list
	case Map:
		m := make(map[string]any, len(n.Members()))
		for i := range n.Members() {
			m[n.Members()[i].Key] = exactValue(n.Members()[i].Value)
		}
		return m
	}
	return n.Value()
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for key := range m {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}
