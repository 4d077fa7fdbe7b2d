package judge

import (
	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
)

// reads is what Rego of its own looks at in the input, as its text tells. The rows name the measures that they read themselves.
type reads struct {
	all      bool // it cannot be told, so everything
	measures map[string]map[string]bool
}

// readsOf goes through compiled modules, in which every reference to the input is written out.
func readsOf(c *ast.Compiler, engineFile string) reads {
	r := reads{measures: map[string]map[string]bool{}}
	for file, m := range c.Modules {
		if file == engineFile {
			continue
		}
		ast.WalkRefs(m, func(ref ast.Ref) bool {
			if ref.HasPrefix(ast.InputRootRef) {
				r.add(ref[1:])
			}
			return false
		})
	}
	return r
}

// add notes one reference: kind and measure, alone or behind unknown.
func (r *reads) add(ref ast.Ref) {
	if len(ref) > 0 && ref[0].Equal(unknownTerm) {
		ref = ref[1:]
	}
	if len(ref) > 0 && ref[0].Equal(stageTerm) {
		return
	}
	if len(ref) < 2 {
		r.all = true
		return
	}
	kind, ok1 := ref[0].Value.(ast.String)
	name, ok2 := ref[1].Value.(ast.String)
	if !ok1 || !ok2 {
		r.all = true
		return
	}
	r.put(string(kind), string(name))
}

func (r *reads) put(kind, name string) {
	if r.measures[kind] == nil {
		r.measures[kind] = map[string]bool{}
	}
	r.measures[kind][name] = true
}

// columns says which columns of a table are looked at.
type columns struct {
	any, ids bool
	marked   []bool
}

// of marks those columns of a kind that are looked at.
func (r *reads) of(k *measure.Kind, defs []*measure.Def) columns {
	names := r.measures[k.Name]
	c := columns{any: r.all || names != nil, ids: r.all || names["id"]}
	for _, d := range defs {
		c.marked = append(c.marked, r.all || names[d.Name])
	}
	return c
}
