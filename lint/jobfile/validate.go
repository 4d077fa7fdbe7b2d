package jobfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v5"
)

// Schema is a compiled JSON Schema, safe for use by several goroutines.
type Schema struct {
	check    *checker
	compiler *schemaCompiler
	root     target

	once     sync.Once
	judge    *jsonschema.Schema
	judgeErr error
}

// Compile reads JSON Schema files (draft 2020-12) by name and compiles the one named root, which may carry a fragment
// such as `job.schema.json#/$defs/item`. References go to the given files only, by name, by path beside the referring
// file, or by $id. All given files are checked. A keyword that is not supported is an error with its position, so that
// no constraint is ignored in silence; keywords that begin with `x-` are notes, apart from these two:
//
//   - `"x-kinds": {"property": "kind", "schemas": {"light": {"$ref": "…"}}}` picks one closed schema by the text of a
//     key, so that one bad item gives the errors of its own kind only. For editors, which do not know it, the same
//     choice may stand beside it as if/then schemas under `allOf`; such an `allOf` is dropped here without a look.
//   - `"x-hint": "…"` says in plain words what a pattern asks for, for messages.
func Compile(resources map[string][]byte, root string) (*Schema, error) {
	sc := &schemaCompiler{checkers: map[*Node]*checker{}, refs: map[*Node]target{}, walked: map[*Node]bool{}, patterns: map[string]*regexp.Regexp{}, matchers: map[string]*matcher{}}
	if err := sc.load(resources); err != nil {
		return nil, err
	}
	for _, r := range sc.resources {
		sc.walk(r, r.root, "")
	}
	sc.checkRefs()
	if err := sc.problems.finish(); err != nil {
		return nil, err
	}
	done := map[*Node]bool{}
	for _, r := range sc.resources {
		sc.walkLoops(r.root, done)
	}
	if err := sc.problems.finish(); err != nil {
		return nil, err
	}
	at, ok := sc.find(nil, root)
	if !ok || !sc.walked[at.res.root.At(at.pointer)] {
		return nil, Problems{{File: root, Message: "there is no such schema"}}
	}
	return &Schema{check: sc.build(at.res.root.At(at.pointer)), compiler: sc, root: at}, nil
}

// Check compiles the full validator too, which otherwise happens with the first file that is refused. Tests of schemas
// should call it.
func (s *Schema) Check() error {
	s.once.Do(func() { s.judge, s.judgeErr = s.compileJudge() })
	return s.judgeErr
}

func (s *Schema) compileJudge() (compiled *jsonschema.Schema, err error) {
	defer func() {
		if r := recover(); r != nil {
			compiled, err = nil, fmt.Errorf("the schema compiler broke down: %v", r)
		}
	}()
	c := jsonschema.NewCompiler()
	c.Draft = jsonschema.Draft2020
	c.AssertFormat = true // 2020-12 leaves formats unchecked by default
	c.LoadURL = func(u string) (io.ReadCloser, error) {
		return nil, fmt.Errorf("schema %s is not among the given files", u)
	}
	for name, f := range formats {
		c.Formats[name] = func(v any) bool {
			text, ok := v.(string)
			return !ok || f.ok(text)
		}
	}
	c.RegisterExtension(kindsName, nil, kindsCompiler{})
	for _, r := range s.compiler.resources {
		text, err := json.Marshal(s.compiler.forJudge(r.root))
		if err != nil {
			return nil, err
		}
		if err := c.AddResource(judgeBase+strconv.Itoa(r.index), bytes.NewReader(text)); err != nil {
			return nil, err
		}
	}
	return c.Compile(judgeBase + strconv.Itoa(s.root.res.index) + "#" + escapeFragment(s.root.pointer))
}

// kindsCompiler teaches the full validator x-kinds.
type kindsCompiler struct{}

type kindsSchema struct {
	property string
	schemas  map[string]*jsonschema.Schema
}

func (kindsCompiler) Compile(ctx jsonschema.CompilerContext, m map[string]any) (jsonschema.ExtSchema, error) {
	kinds, ok := m[kindsName].(map[string]any)
	if !ok {
		return nil, nil
	}
	property, _ := kinds["property"].(string)
	schemas, _ := kinds["schemas"].(map[string]any)
	ks := kindsSchema{property, make(map[string]*jsonschema.Schema, len(schemas))}
	for _, kind := range sortedKeys(schemas) {
		compiled, err := ctx.Compile(kindsName+"/schemas/"+kind, true)
		if err != nil {
			return nil, err
		}
		ks.schemas[kind] = compiled
	}
	return ks, nil
}

func (ks kindsSchema) Validate(ctx jsonschema.ValidationContext, v any) error {
	m, ok := v.(map[string]any)
	if !ok {
		return nil
	}
	kind, _ := m[ks.property].(string)
	schema := ks.schemas[kind]
	if schema == nil {
		return ctx.Error(kindsName, "no such kind")
	}
	return ctx.Validate(schema, kindsName+"/schemas/"+kind, v, "")
}

// Validate checks a tree. The error is a Problems whose positions are those of the value, of the key for an unknown
// key, or of the parent for a missing one.
func (s *Schema) Validate(file string, n *Node) error {
	if n == nil {
		return Problems{{File: file, Message: "the file is empty"}}
	}
	if s.check.ok(n) {
		return nil
	}
	if err := s.Check(); err != nil {
		return Problems{{File: file, Message: "the schema is broken: " + err.Error()}}
	}
	err := s.ask(n)
	if err == nil {
		return nil // the full validator has the last word
	}
	var failure *jsonschema.ValidationError
	if !errors.As(err, &failure) {
		return Problems{{File: file, Message: "the file cannot be checked: " + err.Error()}}
	}
	e := explainer{compiler: s.compiler, file: file, root: n}
	leaves := e.leaves(failure)
	e.collectClaims(leaves)
	for _, l := range leaves {
		if !e.claimed(l) {
			e.explain(l)
		}
	}
	if len(e.problems) == 0 { // must not happen, and must not pass
		e.at(n, "", "the file does not match the schema")
	}
	return e.problems.finish()
}

// ask runs the full validator.
func (s *Schema) ask(n *Node) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the validator broke down: %v", r)
		}
	}()
	return s.judge.Validate(n.Value())
}

// leaf is one reason why a schema refuses a value.
type leaf struct {
	pointer string // of the value
	schema  *Node  // the schema that holds the keyword
	keyword string // "" for the schema `false`
	isName  bool   // about the key itself, not its value
	message string // when it is known already
}

// explainer turns the validator's errors into problems in our words.
type explainer struct {
	compiler *schemaCompiler
	file     string
	root     *Node
	claims   []claim
	problems Problems
}

// leaves gives the causes at the bottom of a failure.
func (e *explainer) leaves(ve *jsonschema.ValidationError) []leaf {
	if len(ve.Causes) == 0 {
		return []leaf{e.leaf(ve)}
	}
	if ve.Message == "anyOf failed" {
		return e.alternatives(ve)
	}
	var out []leaf
	for _, cause := range ve.Causes {
		out = append(out, e.leaves(cause)...)
	}
	return out
}

// alternatives picks what to tell of a value that fits none of several schemas: about the alternative of the right type
// that is nearest to fitting, so that a slip is not told once for every alternative.
func (e *explainer) alternatives(ve *jsonschema.ValidationError) []leaf {
	pointer := decodePointer(ve.InstanceLocation)
	var best []leaf
	var types, required []string
	onlyRequired := true
	for _, cause := range ve.Causes {
		found := e.leaves(cause)
		typed := true
		for _, l := range found {
			if l.keyword == "type" && l.pointer == pointer && !l.isName {
				typed = false
				types = append(types, typeList(l.schema)...)
			}
		}
		if !typed {
			continue
		}
		if len(found) == 1 && found[0].keyword == "required" && found[0].pointer == pointer {
			for _, key := range found[0].schema.Get("required").Items() {
				if e.root.At(pointer).Get(key.Text) == nil {
					required = append(required, quoteText(key.Text))
				}
			}
		} else {
			onlyRequired = false
		}
		if best == nil || len(found) < len(best) {
			best = found
		}
	}
	one := leaf{pointer: pointer, keyword: "anyOf"}
	switch {
	case best == nil:
		one.message = wrongType(e.root.At(pointer), types)
	case onlyRequired && len(required) > 1:
		one.message = "at least one of the keys " + strings.Join(dedupe(required), ", ") + " is needed"
	default:
		return best
	}
	return []leaf{one}
}

// leaf finds the schema and keyword of an error.
func (e *explainer) leaf(ve *jsonschema.ValidationError) leaf {
	l := leaf{pointer: decodePointer(ve.InstanceLocation), isName: throughNames(ve.KeywordLocation)}
	location, ok := strings.CutPrefix(ve.AbsoluteKeywordLocation, judgeBase)
	index, fragment, _ := strings.Cut(location, "#")
	number, err := strconv.Atoi(index)
	if !ok || err != nil || number < 0 || number >= len(e.compiler.resources) {
		l.message = ve.Message
		return l
	}
	schema := e.compiler.resources[number].root
	tokens := splitPointer(decodePointer(fragment))
	for i := 0; i < len(tokens); i++ {
		keyword := tokens[i]
		last := i+1 == len(tokens)
		l.schema, l.keyword = schema, keyword
		switch class := keywords[keyword]; {
		case last || class == assertion:
			return l
		case class == oneSchema:
			schema = schema.Get(keyword)
		case class == schemaList || class == schemaMap:
			i++
			schema = schema.Get(keyword).child(tokens[i])
		case class == kindsKeyword:
			if i+2 >= len(tokens) {
				return l
			}
			schema = schema.Get(kindsName).Get("schemas").Get(tokens[i+2])
			i += 2
		default:
			l.message = ve.Message
			return l
		}
	}
	if schema == nil || schema.Kind == Map {
		l.message = ve.Message // an error of the schema as a whole is only known for `false`
	}
	return l
}

// throughNames tells whether a dynamic keyword path leads through propertyNames.
func throughNames(location string) bool {
	tokens := splitPointer(decodePointer(location))
	for i := 0; i < len(tokens); i++ {
		if tokens[i] == "propertyNames" {
			return true
		}
		switch keywords[tokens[i]] {
		case schemaList, schemaMap:
			i++
		case kindsKeyword:
			i += 2
		}
	}
	return false
}

// claim is a key of which x-kinds has told already what is wrong, so that other keywords do not tell it again.
type claim struct{ parent, key string }

func (e *explainer) collectClaims(leaves []leaf) {
	for _, l := range leaves {
		if l.keyword == kindsName {
			e.claims = append(e.claims, claim{l.pointer, l.schema.Get(kindsName).Get("property").Text})
		}
	}
}

func (e *explainer) claimed(l leaf) bool {
	parent, key := splitLast(l.pointer)
	return l.pointer != "" && l.keyword != kindsName && !l.isName && slices.Contains(e.claims, claim{parent, key})
}

func (e *explainer) add(line, col int, pointer, path, message string) {
	if path != "" {
		message = path + ": " + message
	}
	e.problems = append(e.problems, Problem{File: e.file, Line: line, Col: col, Pointer: pointer, Message: message})
}

func (e *explainer) at(n *Node, pointer, message string) {
	line, col := 0, 0
	if n != nil {
		line, col = int(n.Line), int(n.Col)
	}
	e.add(line, col, pointer, e.root.Path(pointer), message)
}

// atKey places a problem at a key of a map.
func (e *explainer) atKey(m *Member, parent, message string) {
	e.add(int(m.KeyLine), int(m.KeyCol), parent+"/"+escapeToken(m.Key), e.root.Path(parent), message)
}

func (e *explainer) explain(l leaf) {
	n, _ := e.root.Nearest(l.pointer)
	parentPointer, key := splitLast(l.pointer)
	if l.isName {
		if m := e.root.At(parentPointer).member(key); m != nil {
			name := NewText(m.Key)
			e.atKey(m, parentPointer, "key "+keywordMessage(l, name))
			return
		}
	}
	if l.message != "" || l.schema == nil {
		if l.message == "" {
			l.message = "this value is not allowed"
		}
		e.at(n, l.pointer, l.message)
		return
	}
	switch l.keyword {
	case "additionalProperties":
		e.unknownKeys(l, n)
	case "required":
		for _, key := range l.schema.Get("required").Items() {
			if n.Get(key.Text) == nil && !slices.Contains(e.claims, claim{l.pointer, key.Text}) {
				e.at(n, l.pointer, "missing key "+quoteText(key.Text)+e.about(l.schema, key.Text))
			}
		}
	case "dependentRequired":
		needs := l.schema.Get("dependentRequired")
		for i := range needs.Members() {
			need := &needs.Members()[i]
			if n.Get(need.Key) == nil {
				continue
			}
			for _, key := range need.Value.Items() {
				if n.Get(key.Text) == nil {
					e.at(n, l.pointer, fmt.Sprintf("missing key %s, which goes with %s%s", quoteText(key.Text), quoteText(need.Key), e.about(l.schema, key.Text)))
				}
			}
		}
	case kindsName:
		e.unknownKind(l, n)
	case "uniqueItems":
		if first, second := firstRepeat(n.Items()); second >= 0 {
			pointer := l.pointer + "/" + strconv.Itoa(second)
			e.at(n.Items()[second], pointer, fmt.Sprintf("repeats item [%d] (%s)", first, short(n.Items()[second])))
		} else {
			e.at(n, l.pointer, "the items must differ")
		}
	case "properties", "patternProperties", "$defs":
		if m := e.root.At(parentPointer).member(key); m != nil {
			e.atKey(m, parentPointer, "key "+quoteText(key)+" is not allowed here")
			return
		}
		e.at(n, l.pointer, "this value is not allowed")
	case "items":
		if prefix := l.schema.Get("prefixItems"); prefix != nil {
			e.at(n, l.pointer, fmt.Sprintf("one item too many; the list may hold %d", len(prefix.Items())))
			return
		}
		e.at(n, l.pointer, "the list must be empty")
	default:
		e.at(n, l.pointer, keywordMessage(l, n))
	}
}

// unknownMembers gives the keys of a map that a schema neither lists nor matches.
func (e *explainer) unknownMembers(schema, n *Node) []*Member {
	listed, patterns := schema.Get("properties"), schema.Get("patternProperties")
	var out []*Member
next:
	for i := range n.Members() {
		m := &n.Members()[i]
		if listed.Get(m.Key) != nil {
			continue
		}
		if patterns != nil {
			for j := range patterns.Members() {
				if e.compiler.patterns[patterns.Members()[j].Key].MatchString(m.Key) {
					continue next
				}
			}
		}
		out = append(out, m)
	}
	return out
}

func (e *explainer) unknownKeys(l leaf, n *Node) {
	var free, all []string // keys that are still to be had, and all
	if properties := l.schema.Get("properties"); properties != nil {
		for i := range properties.Members() {
			key := properties.Members()[i].Key
			all = append(all, key)
			if n.Get(key) == nil {
				free = append(free, key)
			}
		}
	}
	for _, m := range e.unknownMembers(l.schema, n) {
		message := "unknown key " + quoteText(m.Key)
		near := Suggest(m.Key, free)
		if near == "" {
			near = Suggest(m.Key, all)
		}
		switch {
		case near != "":
			message += "; did you mean " + quoteText(near) + "?"
		case len(free) > 0:
			message += "; known keys: " + listed(free, 8)
		case len(all) > 0:
			message += "; all known keys are there already"
		default:
			message += "; no keys are allowed here"
		}
		e.atKey(m, l.pointer, message)
	}
}

func (e *explainer) unknownKind(l leaf, n *Node) {
	kinds := l.schema.Get(kindsName)
	key := kinds.Get("property").Text
	members := kinds.Get("schemas").Members()
	names := make([]string, len(members))
	for i := range members {
		names[i] = members[i].Key
	}
	v := n.Get(key)
	if v == nil {
		e.at(n, l.pointer, fmt.Sprintf("missing key %s, one of %s", quoteText(key), listed(names, 12)))
		return
	}
	pointer := l.pointer + "/" + escapeToken(key)
	if v.Kind != String {
		e.at(v, pointer, wrongType(v, []string{"string"})+"; write one of "+listed(names, 12))
		return
	}
	message := fmt.Sprintf("%s is not one of the %d kinds", quoteText(v.Text), len(names))
	if near := Suggest(v.Text, names); near != "" {
		message += "; did you mean " + quoteText(near) + "?"
	} else {
		message += ": " + listed(names, 12)
	}
	e.at(v, pointer, message)
}

// about gives the first sentence of a key's description, in brackets, when it is short.
func (e *explainer) about(schema *Node, key string) string {
	const most = 80 // characters
	property := schema.Get("properties").Get(key)
	for range 4 { // references to references
		if property == nil || property.Kind != Map {
			return ""
		}
		if text := property.Get("description"); text != nil {
			sentence, _, _ := strings.Cut(text.Text, ". ")
			sentence = strings.TrimSuffix(strings.TrimSpace(sentence), ".")
			if sentence == "" || len([]rune(sentence)) > most || strings.ContainsRune(sentence, '\n') {
				return ""
			}
			return " (" + sentence + ")"
		}
		t, ok := e.compiler.refs[property.Get("$ref")]
		if !ok {
			return ""
		}
		property = t.res.root.At(t.pointer)
	}
	return ""
}

// keywordMessage says what a keyword asks of a single value.
func keywordMessage(l leaf, n *Node) string {
	want := l.schema.Get(l.keyword)
	limit := ""
	if want != nil {
		limit = want.Text
	}
	switch l.keyword {
	case "type":
		return wrongType(n, typeList(l.schema))
	case "enum":
		return notAmong(n, want)
	case "const":
		return fmt.Sprintf("must be %s, found %s", short(want), short(n))
	case "minimum":
		return fmt.Sprintf("%s is below the minimum %s", short(n), limit)
	case "maximum":
		return fmt.Sprintf("%s is above the maximum %s", short(n), limit)
	case "exclusiveMinimum":
		return fmt.Sprintf("%s must be more than %s", short(n), limit)
	case "exclusiveMaximum":
		return fmt.Sprintf("%s must be less than %s", short(n), limit)
	case "minLength":
		if n.Text == "" {
			return "must not be empty"
		}
		return fmt.Sprintf("%s is too short; the least is %s characters", short(n), limit)
	case "maxLength":
		return fmt.Sprintf("%s is too long; the most is %s characters", short(n), limit)
	case "pattern":
		if hint := l.schema.Get("x-hint"); hint != nil && hint.Text != "" {
			return fmt.Sprintf("%s does not fit: %s", short(n), hint.Text)
		}
		return fmt.Sprintf("%s does not fit the pattern %s", short(n), limit)
	case "format":
		if (isDate(n.Text) || isDateTime(n.Text)) && !inYears(n.Text) {
			return fmt.Sprintf("%s lies outside the years %s to %s", short(n), FirstYear, LastYear)
		}
		return fmt.Sprintf("%s is not %s", short(n), formats[limit].words)
	case "minItems":
		if len(n.Items()) == 0 {
			return fmt.Sprintf("the list is empty; the least is %s", count(want, "item", "items"))
		}
		return fmt.Sprintf("the list has %d of at least %s", len(n.Items()), count(want, "item", "items"))
	case "maxItems":
		return fmt.Sprintf("the list has %d items; the most is %s", len(n.Items()), limit)
	case "minProperties":
		return fmt.Sprintf("has %d of at least %s", len(n.Members()), count(want, "key", "keys"))
	case "maxProperties":
		return fmt.Sprintf("has %d keys; the most is %s", len(n.Members()), limit)
	}
	return short(n) + " is not allowed here"
}

func count(n *Node, one, many string) string {
	if n.Num == 1 {
		return n.Text + " " + one
	}
	return n.Text + " " + many
}

// short writes a value for a message.
func short(n *Node) string {
	switch {
	case n == nil || n.Kind == Null:
		return "nothing"
	case n.Kind == Number:
		return numberText(n)
	case n.Kind == String:
		return quoteText(n.Text)
	}
	return found(n)
}

func notAmong(n, enum *Node) string {
	words := make([]string, len(enum.Items()))
	var texts []string
	for i, item := range enum.Items() {
		words[i] = short(item)
		if item.Kind == String {
			texts = append(texts, item.Text)
		}
	}
	message := fmt.Sprintf("%s is not one of %s", short(n), listed(words, 12))
	if n.Kind == String {
		if near := Suggest(n.Text, texts); near != "" {
			message += "; did you mean " + quoteText(near) + "?"
		}
	}
	return message
}

// listed writes some words in a row, and how many there are when not all are shown.
func listed(words []string, most int) string {
	if len(words) <= most {
		return strings.Join(words, ", ")
	}
	return fmt.Sprintf("%s, … (%d in all)", strings.Join(words[:most], ", "), len(words))
}

var typeWords = map[string]string{
	"null": "nothing", "boolean": "true or false", "number": "a number", "integer": "a whole number",
	"string": "text", "object": "a set of keys", "array": "a list",
}

func typeList(schema *Node) []string {
	types := schema.Get("type")
	if types == nil {
		return nil
	}
	if types.Kind == String {
		return []string{types.Text}
	}
	var out []string
	for _, t := range types.Items() {
		out = append(out, t.Text)
	}
	return out
}

// wrongType says which type is expected and what to do about the usual slips.
func wrongType(n *Node, types []string) string {
	types = dedupe(types)
	words := make([]string, len(types))
	for i, t := range types {
		words[i] = typeWords[t]
	}
	message := "expected " + strings.Join(words, " or ") + ", found " + found(n)
	wants := func(t string) bool { return slices.Contains(types, t) }
	if n == nil {
		return message
	}
	switch number := wants("number") || wants("integer"); {
	case n.Kind == Null:
		message += "; fill the value in or delete the key"
	case n.Kind == String && number && isPlainNumber(n.Text):
		message += "; write the number without quotes"
	case n.Kind == String && number && beginsWithNumber(n.Text):
		message += "; write the number alone, the unit is in the name"
	case n.Kind == String && wants("boolean") && slices.Contains([]string{"yes", "on", "y", "no", "off", "n"}, strings.ToLower(n.Text)):
		message += "; write true or false"
	case n.Kind == String && wants("boolean") && (n.Text == "true" || n.Text == "false"):
		message += "; write it without quotes"
	case (n.Kind == Number || n.Kind == Bool) && wants("string"):
		message += "; put the text in quotes"
	case wants("array") && n.Kind != Map:
		message += "; write a list, such as [" + short(n) + "]"
	}
	return message
}

func beginsWithNumber(text string) bool {
	text = strings.TrimLeft(text, " +-.,")
	return text != "" && text[0] >= '0' && text[0] <= '9'
}

// dedupe drops repeats and keeps the order.
func dedupe(words []string) []string {
	var out []string
	for _, w := range words {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

func unknownWord(what, word string, known []string) string {
	message := "unknown " + what + " " + quoteText(word)
	if near := Suggest(word, known); near != "" {
		return message + "; did you mean " + quoteText(near) + "?"
	}
	return message + "; known are " + strings.Join(known, ", ")
}

// splitPointer gives the unescaped tokens of a JSON Pointer.
func splitPointer(pointer string) []string {
	if pointer == "" {
		return nil
	}
	tokens := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	for i, token := range tokens {
		tokens[i] = unescapeToken(token)
	}
	return tokens
}

// splitLast cuts the last token off a pointer and unescapes it.
func splitLast(pointer string) (parent, token string) {
	i := strings.LastIndexByte(pointer, '/')
	if i < 0 {
		return "", ""
	}
	return pointer[:i], unescapeToken(pointer[i+1:])
}

// decodePointer undoes the validator's URL escapes, token by token.
func decodePointer(location string) string {
	decoded, ok := unescapeFragment(location)
	if !ok {
		return location
	}
	return decoded
}

func unescapeFragment(fragment string) (string, bool) {
	if strings.IndexByte(fragment, '%') < 0 {
		return fragment, true
	}
	decoded, err := url.PathUnescape(fragment)
	return decoded, err == nil
}

// escapeFragment writes a pointer as the validator does, so that it finds the place among those it knows.
func escapeFragment(pointer string) string {
	tokens := strings.Split(pointer, "/")
	for i, token := range tokens {
		tokens[i] = url.PathEscape(token)
	}
	return strings.Join(tokens, "/")
}
