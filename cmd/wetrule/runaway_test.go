//go:build linux

package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
)

// nested makes lines of which the last one holds the first one two to the power of n times. The policy engine shares the parts, so it costs nothing to make.
func nested(name string, n int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\t%s0 := [1]\n", name)
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, "\t%s%d := [%s%d, %s%d]\n", name, i, name, i-1, name, i-1)
	}
	return b.String()
}

// TestRulesThatCannotBeStopped runs the command with rulebooks of strangers whose Rego does what the policy engine itself cannot stop: the command ends by
// itself with the status 2, soon and with its memory in bounds.
func TestRulesThatCannotBeStopped(t *testing.T) {
	folder, _ := house(t)
	row := "subject: own\nrules:\n  - {id: own, title: Own, severity: minor, from: design, applies_to: steam_outlet, measure: outlet_height_mm, rego: true, says: so, needs: [outlet_height_mm], why: w, remedy: r, source: {id: house-book, basis: read}}\n"
	putFile(t, filepath.Join(folder, "rules", "own.yaml"), row)
	head := "package wetrule.rules\n\nfindings contains [\"own\", input.steam_outlet.id[0], 1] if {\n"
	long := "\tx0 := \"a,b,c,d,\"\n"
	for i := 1; i <= 24; i++ {
		long += fmt.Sprintf("\tx%d := concat(\"\", [x%d, x%d])\n", i, i-1, i-1)
	}
	for name, rego := range map[string]string{
		"equal values that hold one another": head + nested("x", 40) + nested("y", 40) + "\tx40 == y40\n\tcount(x40) < 0\n}\n",
		"order of such values":               head + nested("x", 40) + nested("y", 40) + "\tx40 < y40\n\tcount(x40) < 0\n}\n",
		"set of such values":                 head + nested("x", 40) + nested("y", 40) + "\tcount({x40, y40}) == 5\n}\n",
		"text of such a value":               head + nested("x", 40) + "\tcount(sprintf(\"%v\", [x40])) < 0\n}\n",
		"such a value as the answer":         strings.Replace(head, ", 1] if {", ", x40] if {", 1) + nested("x", 40) + "}\n",
		"walk through such a value":          head + nested("x", 40) + "\twalk(x40, [_, v])\n\tv == -1\n}\n",
		"such a value laid flat":             head + nested("x", 40) + "\tcount(array.flatten(x40)) < 0\n}\n",
		"long text taken apart":              head + long + "\tcount(split(x24, \",\")) < 0\n}\n",
	} {
		t.Run(name, func(t *testing.T) {
			putFile(t, filepath.Join(folder, "rego", "own.rego"), rego)
			out := filepath.Join(t.TempDir(), "out.txt")
			c := child(t, "command", "review", cleanJob, "-r", folder, "--time-for-rules", "1s", "-o", out)
			var errs bytes.Buffer
			c.Stderr = &errs
			c.Stdout = &errs
			start := time.Now()
			status := exitOf(t, c.Run())
			took := time.Since(start)
			most := c.ProcessState.SysUsage().(*syscall.Rusage).Maxrss >> 10
			t.Logf("status %d after %v with %d MiB: %s", status, took.Round(10*time.Millisecond), most, strings.TrimSpace(errs.String()))
			if name == "such a value laid flat" || name == "long text taken apart" {
				// It may also be over in time.
				require.Contains(t, []int{report.StatusClean, report.StatusFindings, report.StatusUnjudged}, status, errs.String())
			} else {
				require.Equal(t, report.StatusUnjudged, status, errs.String())
			}
			require.Less(t, took, 2*time.Minute)
			require.Less(t, most, int64(6000), "MiB; with the race detector it is several times what it is without")
		})
	}
}
