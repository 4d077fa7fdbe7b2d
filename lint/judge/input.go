package judge

import (
	"encoding/json"
	"strconv"
	"sync/atomic"

	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
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
	checksTerm  = ast.StringTerm("checks")
)

// names holds the terms of kinds and measures.
type names map[string]*ast.Term

func (n names) term(s string) *ast.Term {
	if t := n[s]; t != nil {
		return t
	}
	return ast.StringTerm(s)
}

func (n names) add(s string) { n[s] = ast.StringTerm(s) }

func numberTerm(v float64) *ast.Term {
	if i := int(v); float64(i) == v && i >= 0 && i < len(wholeTerms) {
		if t := wholeTerms[i].Load(); t != nil {
			return t
		}
		t := ast.IntNumberTerm(i)
		wholeTerms[i].Store(t)
		return t
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
		return n.term(v.Text)
	}
	texts := v.Texts()
	list := make([]*ast.Term, len(texts))
	for i, s := range texts {
		list[i] = n.term(s)
	}
	return ast.ArrayTerm(list...)
}

// input builds what the policies see of a job, as terms, so that no conversion is needed.
// See policies/engine/engine.rego for its shape. With checks it names the rows that are in doubt.
func (n names) input(set *measure.Set, stage rulebook.Stage, checks *checks) ast.Value {
	type pair = [2]*ast.Term
	root := make([]pair, 0, len(set.Tables)+3)
	unknown := []pair{}
	for _, t := range set.Tables {
		kind := n.term(t.Kind.Name)
		columns := make([]pair, 0, len(t.Defs)+1)
		ids := make([]*ast.Term, len(t.Subjects))
		for i := range t.Subjects {
			ids[i] = ast.StringTerm(t.Subjects[i].ID)
		}
		columns = append(columns, pair{idTerm, ast.ArrayTerm(ids...)})
		var unknowns []pair
		for j, d := range t.Defs {
			key := n.term(d.Name)
			terms := make([]*ast.Term, len(t.Subjects))
			var missing []*ast.Term
			for i := range t.Columns[j] {
				v := &t.Columns[j][i]
				terms[i] = n.value(d.Type, v)
				if v.State == measure.Unknown {
					missing = append(missing, numberTerm(float64(i)))
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
	root = append(root, pair{unknownTerm, ast.ObjectTerm(unknown...)}, pair{stageTerm, numberTerm(float64(stage))})
	if checks != nil {
		root = append(root, pair{checksTerm, checks.inDoubt(n, set)})
	}
	return ast.NewObject(root...)
}
