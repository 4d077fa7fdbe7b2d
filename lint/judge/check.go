package judge

import (
	"github.com/open-policy-agent/opa/v1/ast"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Check compiles Rego of rulebooks against the schema of the measures, so that a measure that does not exist or is of another type is an
// error with its place. Modules are all that belong together, the generic evaluator among them.
func Check(modules []rulebook.Module) error {
	if err := boundedText(modules); err != nil {
		return err
	}
	parsed := make(map[string]*ast.Module, len(modules))
	for _, m := range modules {
		p, err := Parse(m, true)
		if err != nil {
			return err
		}
		parsed[m.File] = p
	}
	set := ast.NewSchemaSet()
	set.Put(ast.SchemaRootRef, measure.Schema())
	c := ast.NewCompiler().WithCapabilities(Capabilities()).WithStrict(true).WithSchemas(set).WithUseTypeCheckAnnotations(true)
	return compile(c, parsed)
}
