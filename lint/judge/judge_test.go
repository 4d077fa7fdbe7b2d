package judge

import (
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/rulebook"
	"wetrule/policies"
)

func engineModule() rulebook.Module {
	file, text := policies.Engine()
	return rulebook.Module{File: file, Text: text}
}

func TestMisspeltMeasureIsACompileError(t *testing.T) {
	bad := rulebook.Module{File: "own.rego", Text: `package wetrule.rules

findings contains ["own", id, v] if {
	some i, v in input.steam_outlet.outlet_hieght_mm
	v < 200
	id := input.steam_outlet.id[i]
}
`}
	err := Check([]rulebook.Module{engineModule(), bad})
	require.ErrorContains(t, err, "own.rego:4")
	require.ErrorContains(t, err, "outlet_hieght_mm")
	good := rulebook.Module{File: "own.rego", Text: `package wetrule.rules

findings contains ["own", id, v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	v < 200
	id := input.steam_outlet.id[i]
}
`}
	require.NoError(t, Check([]rulebook.Module{engineModule(), good}))
}
