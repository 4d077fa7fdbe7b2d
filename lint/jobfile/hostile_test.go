package jobfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/schema"
)

// TestEndOfQuotedTexts keeps the end of a text on its own line: a text that goes on below has none.
func TestEndOfQuotedTexts(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		end  int
	}{
		"on one line":                     {`a: "xy"`, 8},
		"quote that is escaped":           {`a: "x\"y"`, 10},
		"over two lines":                  {"a: \"x\n  y\"", 0},
		"line break that is escaped":      {"a: \"x\\\n  щ\"", 0},
		"escaped break as the last thing": {"a: \"\\\n  \"", 0},
		"single quotes over two lines":    {"a: 'x\n  y'", 0},
		"backslash in single quotes":      {`a: 'x\'`, 8},
	} {
		t.Run(name, func(t *testing.T) { require.Equal(t, c.end, read(t, "j.yaml", c.text).Get("a").EndCol) })
	}
}

// smallJobs are jobs that a few changed bytes still leave near to a job.
var smallJobs = []string{
	"wetrule: 1\nreference: t\nstage: design\njudged_on: 2026-01-01\nroom: {use: steam_room}\n",
	"wetrule: 1\nreference: t\nstage: site\njudged_on: 2026-01-01\nroom:\n  use: wet_room\n  walls:\n    - id: north\n      width_mm: 2400\nitems:\n  - {id: s, kind: steam_outlet, face: north, x_mm: 1e2, y_mm: 0.5}\n",
	`{"wetrule": 1, "reference": "t", "stage": "as_built", "judged_on": "2026-01-01", "room": {"use": "steam_room", "walls": [{"id": "a", "width_mm": 1}]}, "tasks": [{"task": "tile", "planned": {"start": "2026-03-02T08:00:00Z"}}]}`,
	"wetrule: 1\nreference: t\nstage: design\njudged_on: 2026-01-01\nroom: {use: steam_room}\nleaves:\n- {rule: a, item: b, leave: concession, reason: r, by: [d], issued: 2026-01-01, until: 2026-01-02, value: true}\n",
}

// FuzzSchema holds the fast path of the schema step against the full validator, on files as they are read.
func FuzzSchema(f *testing.F) {
	for _, s := range append([]string{string(schema.Starter)}, smallJobs...) {
		f.Add(s)
	}
	s, err := jobSchema()
	require.NoError(f, err)
	require.NoError(f, s.Check())
	f.Fuzz(func(t *testing.T, text string) {
		n, err := Read("job.yaml", []byte(text))
		if err != nil {
			return
		}
		fast, full := s.check.ok(n), s.ask(n)
		if fast != (full == nil) {
			t.Fatalf("fast path: %v; validator: %v", fast, full)
		}
		told := s.Validate("job.yaml", n)
		if fast != (told == nil) {
			t.Fatalf("fast path: %v; told: %v", fast, told)
		}
	})
}

// FuzzLoad reads arbitrary bytes as a job: it never panics, what is refused is told with a place in the file, and what is accepted is whole.
func FuzzLoad(f *testing.F) {
	for _, s := range append([]string{string(schema.Starter)}, smallJobs...) {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, text string, json bool) {
		name := "job.yaml"
		if json {
			name = "job.json"
		}
		file, err := Load(name, []byte(text))
		if err == nil {
			if file.Job == nil || file.Root == nil || file.Job.Room == nil || file.Job.Reference == "" || file.Job.JudgedOn == "" {
				t.Fatalf("accepted %q without what the schema requires", text)
			}
			return
		}
		ps, ok := err.(Problems)
		if !ok || len(ps) == 0 {
			t.Fatalf("%T: %v", err, err)
		}
		for _, p := range ps {
			if p.File != name || p.Message == "" || p.Line < 0 || (p.Line > 0) != (p.Col > 0) || p.Line > strings.Count(text, "\n")+1 {
				t.Fatalf("bad problem %+v", p)
			}
			if strings.Contains(p.Message, "broke down") || strings.Contains(p.Message, "cannot be checked") || strings.Contains(p.Message, "does not match the schema") {
				t.Fatal(p.Message)
			}
		}
	})
}
