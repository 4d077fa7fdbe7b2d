package judge

import (
	"encoding/json"
	"slices"
	"strconv"
	"sync/atomic"

	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
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

func (n names) value(t measure.Type, v *measure.Value) *ast.Term {
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
		return n.term(v.Text())
	}
	texts := v.Texts()
	list := make([]*ast.Term, len(texts))
	for i, s := range texts {
		list[i] = n.term(s)
	}
	return ast.ArrayTerm(list...)
}

// input builds what the policies see of a job, as terms, so that no conversion is needed; see policies/engine/engine.rego for its shape. It
// lists the cells that are in doubt, and holds those columns that the policies look at for them.
//
// The cells are an index, made from the rows as a database makes one: those for which the plain reading expects a finding. What they
// find is said by the policies. Without it the policies look at every cell, and tests demand the same findings.
func (e *Engine) input(w *work, r *verdict.Review) ast.Value {
	if e.opts.Plain {
		return e.names.input(r.Set.Tables, r.Stage, nil, nil)
	}
	for i := range w.doubts {
		w.doubts[i] = w.doubts[i][:0]
	}
	wantedOf := w.want(e.marks)
	assessed := w.assessed
	for _, row := range e.rows {
		t := r.Set.Of(row.rule.Kind)
		if t == nil {
			continue
		}
		asked, wanted := row.rule.From <= r.Stage, &wantedOf[row.rule.Kind.Number()]
		for i := range t.Subjects {
			a := &assessed[i]
			switch {
			case a.Applies == rulebook.False || a.Kept == rulebook.True && (a.Applies == rulebook.True || !row.rule.Rego):
			case a.Applies == rulebook.True && a.Kept == rulebook.False:
				e.compare(w, row, t, i)
				wanted.want(row.atLooked)
			case asked:
				e.ask(w, row, t, i)
				wanted.want(row.atMeasures)
			}
		}
		assessed = assessed[len(t.Subjects):]
	}
	doubts := make([]pair, 0, ways)
	for way, cells := range w.doubts {
		if len(cells) > 0 {
			doubts = append(doubts, pair{wayTerms[way], ast.ArrayTerm(slices.Clone(cells)...)})
		}
	}
	return e.names.input(r.Set.Tables, r.Stage, wantedOf, ast.ObjectTerm(doubts...))
}

// want starts from the columns that Rego of its own looks at, by number of the kind.
func (w *work) want(marks []columns) []columns {
	if w.wanted == nil {
		w.wanted = make([]columns, len(marks))
	}
	for k := range marks {
		marked := append(w.wanted[k].marked[:0], marks[k].marked...)
		w.wanted[k] = marks[k]
		w.wanted[k].marked = marked
	}
	return w.wanted
}

// compare puts a cell down for the comparisons of its row.
func (e *Engine) compare(w *work, row *row, t *measure.Table, i int) {
	j := row.columns.Value()
	value := e.names.value(t.Defs[j].Type, &t.Columns[j][i])
	for _, c := range row.compares {
		w.doubts[c.way] = append(w.doubts[c.way], ast.ArrayTerm(c.term(), indexTerm(i), ast.StringTerm(t.Subjects[i].ID), value))
	}
}

// ask puts a cell down because something of it is not known: first of all what decides.
func (e *Engine) ask(w *work, row *row, t *measure.Table, i int) {
	put := func(way int, measures []asks) bool {
		for _, a := range measures {
			if t.Columns[a.at][i].State == measure.Unknown {
				w.doubts[way] = append(w.doubts[way], ast.ArrayTerm(a.term(), indexTerm(i), ast.StringTerm(t.Subjects[i].ID), e.names.term(a.measure)))
				return true
			}
		}
		return false
	}
	_ = put(deciding, row.decide) || put(applying, row.when)
}

type pair = [2]*ast.Term

// input builds it from the columns that are wanted, or from all when none are named.
func (n names) input(tables []*measure.Table, stage rulebook.Stage, wanted []columns, doubts *ast.Term) ast.Value {
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
			ids := make([]*ast.Term, len(t.Subjects))
			for i := range t.Subjects {
				ids[i] = ast.StringTerm(t.Subjects[i].ID)
			}
			columns = append(columns, pair{idTerm, ast.ArrayTerm(ids...)})
		}
		var unknowns []pair
		for j, d := range t.Defs {
			if t.Columns[j] == nil || wanted != nil && !wanted[k].marked[j] {
				continue
			}
			key := n.term(d.Name)
			terms := make([]*ast.Term, len(t.Subjects))
			var missing []*ast.Term
			for i := range t.Columns[j] {
				v := &t.Columns[j][i]
				terms[i] = n.value(d.Type, v)
				if v.State == measure.Unknown {
					missing = append(missing, indexTerm(i))
				}
			}
			columns = append(columns, pair{key, ast.ArrayTerm(terms...)})
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
