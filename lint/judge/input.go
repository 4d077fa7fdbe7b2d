package judge

import (
	"encoding/json"
	"slices"
	"strconv"
	"sync/atomic"

	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/spare"
	"wetrule/lint/verdict"
)

// Terms that occur in every job are made once and shared.
var (
	nullTerm    = ast.NullTerm()
	trueTerm    = ast.BooleanTerm(true)
	falseTerm   = ast.BooleanTerm(false)
	wholeTerms  [1 << 16]atomic.Pointer[ast.Term]
	idTerm      = ast.StringTerm("id")
	unknownTerm = ast.StringTerm("unknown")
	stageTerm   = ast.StringTerm("stage")
	doubtsTerm  = ast.StringTerm("doubts")
	wayTerms    = termsOf(wayNames[:])
	emptyTerm   = ast.ArrayTerm()
	stateTerms  = termsOf([]string{measure.None: "none", measure.Unknown: "unknown", measure.Known: "known"})
	statesTerms = [...]*ast.Term{ast.ArrayTerm(stateTerms[0]), ast.ArrayTerm(stateTerms[1]), ast.ArrayTerm(stateTerms[2])} // lists of one
)

func termsOf(texts []string) []*ast.Term {
	out := make([]*ast.Term, len(texts))
	for i, s := range texts {
		out[i] = ast.StringTerm(s)
	}
	return out
}

// names holds the terms of kinds and measures.
type names map[string]*ast.Term

func (n names) term(s string) *ast.Term {
	if t := n[s]; t != nil {
		return t
	}
	return ast.StringTerm(s)
}

// text is term for one job.
func (n names) text(m *terms, s string) *ast.Term {
	if t := n[s]; t != nil {
		return t
	}
	return m.term(ast.String(s))
}

func (n names) add(s string) { n[s] = ast.StringTerm(s) }

// indexTerm is the term of a whole number.
func indexTerm(i int) *ast.Term {
	if i < 0 || i >= len(wholeTerms) {
		return ast.IntNumberTerm(i)
	}
	if t := wholeTerms[i].Load(); t != nil {
		return t
	}
	t := ast.IntNumberTerm(i)
	wholeTerms[i].Store(t)
	return t
}

func numberTerm(v float64) *ast.Term {
	if i := int(v); float64(i) == v && i >= 0 && i < len(wholeTerms) {
		return indexTerm(i)
	}
	return ast.NewTerm(ast.Number(json.Number(strconv.FormatFloat(v, 'f', -1, 64))))
}

// terms are what the terms of one job are made in. They are used again for the next one: nothing keeps a term once the policies have answered.
type terms struct {
	room  spare.Room[ast.Term]
	lists spare.Room[*ast.Term]
}

// keptTerms bounds the memory that a large job leaves behind.
const keptTerms = 1 << 16

func (m *terms) clear() {
	m.room.Clear(keptTerms)
	m.lists.Clear(keptTerms)
}

func (m *terms) term(v ast.Value) *ast.Term {
	t := &m.room.Cut(1)[0]
	t.Value = v
	return t
}

func (m *terms) array(list ...*ast.Term) *ast.Term {
	own := m.lists.Cut(len(list))
	copy(own, list)
	return m.term(ast.NewArray(own...))
}

func (n names) value(m *terms, t measure.Type, v *measure.Value) *ast.Term {
	if v.State != measure.Known {
		return nullTerm
	}
	switch t {
	case measure.Number:
		return numberTerm(v.Num)
	case measure.Flag:
		if v.Flag {
			return trueTerm
		}
		return falseTerm
	case measure.Text:
		return n.text(m, v.Text())
	}
	texts := v.Texts()
	list := m.lists.Cut(len(texts))
	for i, s := range texts {
		list[i] = n.text(m, s)
	}
	return m.term(ast.NewArray(list...))
}

// list is the term of a list of texts, flags and numbers.
func (n names) list(values []any) *ast.Term {
	terms := make([]*ast.Term, len(values))
	for i, v := range values {
		switch v := v.(type) {
		case string:
			terms[i] = n.term(v)
		case float64:
			terms[i] = numberTerm(v)
		default:
			terms[i] = pick(v == true, trueTerm, falseTerm)
		}
	}
	return ast.ArrayTerm(terms...)
}

// input builds what the policies see of a job, as terms, so that no conversion is needed; see policies/engine/engine.rego for its shape. It
// lists the cells that are in doubt, and holds those columns that Rego of its own looks at.
//
// The cells are an index, made from the rows as a database makes one: those for which the plain reading expects a finding. What they
// find is said by the policies. Without it the policies look at every cell, and tests demand the same findings.
func (e *Engine) input(w *work, r *verdict.Review) ast.Value {
	if e.opts.Plain {
		return e.names.input(&terms{}, r.Set.Tables, r.Stage, nil, nil)
	}
	w.terms.clear()
	for i := range w.doubts {
		w.doubts[i] = w.doubts[i][:0]
	}
	for _, d := range w.doubtful {
		row := e.rows[d.rule]
		c := cell{w, row, row.terms(), e.names, r.Set.Of(row.rule.Kind), d.subject}
		if d.read == rulebook.Breaks {
			c.compare()
		} else if row.rule.From <= r.Stage {
			c.ask()
		}
	}
	doubts := make([]pair, 0, ways)
	for way, cells := range w.doubts {
		if len(cells) > 0 {
			doubts = append(doubts, pair{wayTerms[way], w.terms.array(cells...)})
		}
	}
	return e.names.input(&w.terms, r.Set.Tables, r.Stage, e.marks, ast.ObjectTerm(doubts...))
}

// cell is a row with one subject.
type cell struct {
	*work
	row   *row
	says  *rowTerms
	names names
	table *measure.Table
	at    int
}

func (c *cell) of(column int) *measure.Value { return &c.table.Columns[column][c.at] }

func (c *cell) term(column int) *ast.Term {
	return c.names.value(&c.terms, c.table.Defs[column].Type, c.of(column))
}

// subject is the term of its id.
func (c *cell) subject() *ast.Term { return c.names.text(&c.terms, c.table.Subjects[c.at].ID) }

// put puts the cell down.
func (c *cell) put(way int, list ...*ast.Term) {
	c.doubts[way] = append(c.doubts[way], c.terms.array(list...))
}

// compare puts the cell down for those comparisons that the value does not stand.
func (c *cell) compare() {
	value := c.term(c.row.Value)
	found := c.terms.array(c.says.id, c.subject(), value)
	simply := c.says.asked != nil && (c.row.Lower < 0 || c.row.Upper < 0) // with two limits that are measures, both must arise
	var are *ast.Term
	if simply {
		are = c.values()
	}
	against := func(way int, limit *ast.Term) {
		if simply {
			c.put(way, found, value, limit, c.says.asked, are)
			return
		}
		c.put(conditional, wayTerms[way], found, value, limit, c.states(c.row.arising, -1), c.when())
	}
	allowed := c.row.rule.Allowed
	if len(allowed.Is) > 0 {
		against(oneOf, c.says.allowed)
		return
	}
	v := c.of(c.row.Value).Num
	lo, loOpen, hi, hiOpen := allowed.Range()
	if v < lo || loOpen && v == lo {
		against(pick(loOpen, above, atLeast), c.says.low)
	}
	if v > hi || hiOpen && v == hi {
		against(pick(hiOpen, below, atMost), c.says.high)
	}
	if c.row.Lower >= 0 {
		if l := c.of(c.row.Lower); l.State == measure.Known && v < l.Num {
			against(atLeast, numberTerm(l.Num))
		}
	}
	if c.row.Upper >= 0 {
		if l := c.of(c.row.Upper); l.State == measure.Known && v > l.Num {
			against(atMost, numberTerm(l.Num))
		}
	}
}

// ask puts the cell down because something of it is not known: first of all what decides.
func (c *cell) ask() {
	found := c.terms.array(c.says.id, c.subject())
	unknown := func(column int) bool { return c.of(column).State == measure.Unknown }
	if i := slices.IndexFunc(c.row.decide, unknown); i >= 0 {
		column := c.row.decide[i]
		state, others := stateTerms[measure.Unknown], c.states(c.row.arising, column)
		if c.says.asked != nil && !slices.ContainsFunc(c.row.When, unknown) {
			c.put(deciding, found, state, others, c.says.asked, c.values())
		} else {
			c.put(decidingPerhaps, found, state, others, c.when())
		}
		return
	}
	var limits [2]*ast.Term
	for i, column := range [...]int{c.row.Lower, c.row.Upper} {
		limits[i] = emptyTerm
		if column >= 0 {
			limits[i] = c.terms.array(c.term(column))
		}
	}
	c.put(applying, found, c.term(c.row.Value), c.says.itself, limits[0], limits[1], c.states(c.row.arising, -1), c.when())
}

// values are those of the measures of the conditions.
func (c *cell) values() *ast.Term {
	if c.asAsked() {
		return c.says.asked // the same list; nearly always
	}
	list := c.terms.lists.Cut(len(c.row.When))
	for i, column := range c.row.When {
		list[i] = c.term(column)
	}
	return c.terms.term(ast.NewArray(list...))
}

// asAsked says whether the values are those that the conditions ask for, each for one.
func (c *cell) asAsked() bool {
	for i, column := range c.row.When {
		if v := c.of(column); v.State != measure.Known || c.table.Defs[column].Type == measure.Texts || !c.row.rule.When[i].Meets(v) {
			return false
		}
	}
	return true
}

// when lists the conditions, each with the state and the value of its measure.
func (c *cell) when() *ast.Term {
	list := c.terms.lists.Cut(len(c.row.When))
	for i, column := range c.row.When {
		list[i] = c.terms.array(c.says.conditions[i], stateTerms[c.of(column).State], c.term(column))
	}
	return c.terms.term(ast.NewArray(list...))
}

// states are those of measures but for one.
func (c *cell) states(columns []int, but int) *ast.Term {
	var room [3]*ast.Term
	list := room[:0]
	last := 0
	for _, column := range columns {
		if column != but {
			last = int(c.of(column).State)
			list = append(list, stateTerms[last])
		}
	}
	switch len(list) {
	case 0:
		return emptyTerm
	case 1:
		return statesTerms[last]
	}
	return c.terms.array(list...)
}

type pair = [2]*ast.Term

// input builds it from the columns that are wanted, or from all when none are named.
func (n names) input(m *terms, tables []*measure.Table, stage rulebook.Stage, wanted []columns, doubts *ast.Term) ast.Value {
	root := make([]pair, 0, len(tables)+3)
	unknown := []pair{}
	for _, t := range tables {
		k := t.Kind.Number()
		if wanted != nil && !wanted[k].any {
			continue
		}
		kind := n.term(t.Kind.Name)
		columns := make([]pair, 0, 8)
		if wanted == nil || wanted[k].ids {
			ids := m.lists.Cut(len(t.Subjects))
			for i := range t.Subjects {
				ids[i] = n.text(m, t.Subjects[i].ID)
			}
			columns = append(columns, pair{idTerm, m.term(ast.NewArray(ids...))})
		}
		var unknowns []pair
		for j, d := range t.Defs {
			if t.Columns[j] == nil || wanted != nil && !wanted[k].marked[j] {
				continue
			}
			key := n.term(d.Name)
			list := m.lists.Cut(len(t.Subjects))
			var missing []*ast.Term
			for i := range t.Columns[j] {
				v := &t.Columns[j][i]
				if i > 0 && d.Type == measure.Texts && v.State == measure.Known && v.Same(t.Columns[j][i-1]) {
					list[i] = list[i-1] // faces have the same layers as a rule
					continue
				}
				list[i] = n.value(m, d.Type, v)
				if v.State == measure.Unknown {
					missing = append(missing, indexTerm(i))
				}
			}
			columns = append(columns, pair{key, m.term(ast.NewArray(list...))})
			if len(missing) > 0 {
				unknowns = append(unknowns, pair{key, ast.ArrayTerm(missing...)})
			}
		}
		root = append(root, pair{kind, ast.ObjectTerm(columns...)})
		if len(unknowns) > 0 {
			unknown = append(unknown, pair{kind, ast.ObjectTerm(unknowns...)})
		}
	}
	root = append(root, pair{unknownTerm, ast.ObjectTerm(unknown...)}, pair{stageTerm, indexTerm(int(stage))})
	if doubts != nil {
		root = append(root, pair{doubtsTerm, doubts})
	}
	return ast.NewObject(root...)
}
