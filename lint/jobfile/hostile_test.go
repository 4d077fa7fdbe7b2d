package jobfile

import (
	"fmt"
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
		t.Run(name, func(t *testing.T) { require.Equal(t, c.end, int(read(t, "j.yaml", c.text).Get("a").EndCol)) })
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

// TestLimitsOfAJob holds each limit of a job: on it a job is accepted, one beyond it is refused with its place, the value, and what is allowed.
func TestLimitsOfAJob(t *testing.T) {
	const head = "wetrule: 1\nreference: t\nstage: design\njudged_on: 2026-01-01\nroom: {use: steam_room, walls: [{id: a, width_mm: 2000}]}\n"
	list := func(n int, each func(i int) string) string {
		parts := make([]string, n)
		for i := range parts {
			parts[i] = each(i)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	day := func(judged string) string { return strings.Replace(head, "2026-01-01", judged, 1) }
	at := func(start string) string {
		return head + "tasks: [{task: tile, planned: {start: \"" + start + "\"}}]\n"
	}
	items := func(n int) string {
		return head + "items: " + list(n, func(i int) string { return fmt.Sprintf("{id: i%d, kind: drain}", i) }) + "\n"
	}
	points := func(n int) string {
		return head + "items: [{id: i, kind: led_strip, path: " + list(n, func(i int) string { return fmt.Sprintf("[%d, 1]", i) }) + "}]\n"
	}
	runs := func(n int) string {
		return head + "items: [{id: i, kind: heating_cable, runs: " + list(n, func(int) string { return "[[1, 1], [2, 1]]" }) + "}]\n"
	}
	text := func(n int) string { return head + "note: " + strings.Repeat("x", n) + "\n" }
	size := func(n int) string { return head + "#" + strings.Repeat("x", n-len(head)-2) + "\n" }
	for name, c := range map[string]struct{ on, beyond, says string }{
		"bytes":           {size(MaxFileBytes), size(MaxFileBytes + 1), "job.yaml: the file is larger than 1048576 bytes"},
		"items":           {items(5000), items(5001), "job.yaml:6:8: items: the list has 5001 items; the most is 5000"},
		"polyline points": {points(5000), points(5001), "job.yaml:6:40: items[0].path: the list has 5001 items; the most is 5000"},
		"runs":            {runs(200), runs(201), "job.yaml:6:44: items[0].runs: the list has 201 items; the most is 200"},
		"text":            {text(2000), text(2001), `job.yaml:6:7: note: "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…" is too long; the most is 2000 characters`},
		"earliest day":    {day("1900-01-01"), day("1899-12-31"), `job.yaml:4:12: judged_on: "1899-12-31" lies outside the years 1900 to 2199`},
		"latest day":      {day("2199-12-31"), day("2200-01-01"), `job.yaml:4:12: judged_on: "2200-01-01" lies outside the years 1900 to 2199`},
		"earliest time":   {at("1900-01-01T00:00:00Z"), at("1899-12-31T23:59:59Z"), `job.yaml:6:39: tasks[0].planned.start: "1899-12-31T23:59:59Z" lies outside the years 1900 to 2199`},
		"latest time":     {at("2199-12-31T23:59:59Z"), at("9999-12-31T23:59:59Z"), `job.yaml:6:39: tasks[0].planned.start: "9999-12-31T23:59:59Z" lies outside the years 1900 to 2199`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Load("job.yaml", []byte(c.on))
			require.NoError(t, err)
			_, err = Load("job.yaml", []byte(c.beyond))
			require.EqualError(t, err, c.says)
		})
	}
	for _, blank := range []string{"' '", `"\t"`, "''"} {
		_, err := Load("job.yaml", []byte(strings.Replace(head, "reference: t", "reference: "+blank, 1)))
		require.ErrorContains(t, err, "job.yaml:2:12: reference: ")
	}
}
