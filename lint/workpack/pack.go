package workpack

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"wetrule/lint/draw"
	"wetrule/lint/methods"
	"wetrule/lint/programme"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Input is what a pack is made of.
type Input struct {
	Review    *verdict.Review
	Job       []byte // the job file
	Plan      *methods.Plan
	Programme *programme.Programme
	Version   string
	Paper     draw.PaperSize // the largest paper for setting-out sheets
	Despite   bool           // issue it with open critical findings, and say so on every page
}

// Refusal is the error of a pack that is not issued because critical findings are open.
type Refusal struct {
	File     string
	Findings []string // one line each
	Open     int      // critical findings
	Unsure   int      // of which cannot be shown
}

func (r *Refusal) Error() string {
	var b strings.Builder
	b.WriteString("the work pack is not issued: " + says(r.Open, r.Unsure))
	for _, f := range r.Findings {
		b.WriteString("\n  " + f)
	}
	b.WriteString("\nPut them right, or have them conceded in writing. To issue the pack all the same, with a warning on every page, add --with-critical.")
	return b.String()
}

// ErrUnjudged is the error of a pack for a job that could not be judged as a whole.
var ErrUnjudged = errors.New("not every rule could be judged, so nobody knows whether the work is safe; no pack is issued")

// openCritical are the critical findings that are open.
type openCritical struct {
	lines        []string
	open, unsure int
}

// says counts open critical findings in words.
func says(open, unsure int) string {
	s := count(open, "critical finding is open", "critical findings are open")
	if unsure > 0 {
		s += fmt.Sprintf(" (%d of them cannot be shown from the job)", unsure)
	}
	return s
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// critical finds what is open and critical. What cannot be shown counts as open, for nobody knows that it is safe.
func critical(r *verdict.Review, entries []report.Entry) (c openCritical) {
	for _, e := range entries {
		if e.Critical == 0 {
			continue
		}
		c.open += e.Critical
		c.unsure += e.CritUnsure
		s := e.Place + ": " + e.Items + ": " + e.Title + " [" + strings.Join(e.Rules, ", ") + "]"
		if e.CritUnsure > 0 {
			s += ", cannot be shown"
		}
		c.lines = append(c.lines, s)
	}
	for _, f := range r.Faults {
		if f.Severity == rulebook.Critical {
			c.open++
			c.lines = append(c.lines, fmt.Sprintf("%s:%d:%d: %s", f.File, f.Place.Line, f.Place.Col, report.OneLine(f.Text)))
		}
	}
	return c
}

// New makes the pack. The error is a *Refusal where critical findings are open and Despite is not set, ErrUnjudged where not every rule could be
// judged, and the problems of the job file where it has some.
func New(in Input) (*Pack, error) {
	r := in.Review
	if len(r.Problems) > 0 {
		return nil, r.Problems
	}
	if !r.Judged() {
		return nil, ErrUnjudged
	}
	entries := report.Entries(r)
	p := &Pack{Reference: r.Reference, Title: r.Title, File: filepath.Base(r.File), On: r.On, Revision: draw.Revision(in.Job), RulesRevision: rulesRevision(r), Version: in.Version,
		paper: in.Paper, job: in.Job, critical: critical(r, entries)}
	if n := p.critical; n.open > 0 {
		if !in.Despite {
			return nil, &Refusal{File: r.File, Findings: n.lines, Open: n.open, Unsure: n.unsure}
		}
		p.Banner = "NOT CLEARED: issued although " + says(n.open, n.unsure) + ". See part 3 before any work."
	}
	p.cautions = report.Cautions(r)
	var err error
	if p.calendar, err = calendarOf(in.Programme); err != nil {
		return nil, err
	}
	p.sheets = draw.New(r.Job, r.Set).Sheets(r.Groups(), nil)
	b := &builder{Pack: p, in: in, r: r, entries: entries}
	b.build()
	return p, nil
}

// rulesRevision tells apart what jobs are judged by: the rulebooks with their editions, and every rule with what it allows.
func rulesRevision(r *verdict.Review) string {
	h := sha256.New()
	for _, b := range r.Books {
		fmt.Fprintf(h, "%q %q %q\n", b.Name, b.Edition, b.Layer)
	}
	for _, rule := range r.Rules {
		fmt.Fprintf(h, "%q %q %q %q %q\n", rule.ID, rule.Severity, rule.AllowedText(), rule.Title, rule.Remedy)
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
}

// books names the rulebooks with their editions.
func books(r *verdict.Review) string {
	var out []string
	for _, b := range r.Books {
		out = append(out, strings.TrimSpace(b.Name+" "+b.Edition))
	}
	return strings.Join(out, ", ")
}

// gravest orders entries by severity, those that are not as allowed before those that cannot be shown, else as they were.
func gravest(entries []report.Entry) []report.Entry {
	out := slices.Clone(entries)
	slices.SortStableFunc(out, func(a, b report.Entry) int {
		if a.Severity != b.Severity {
			return int(b.Severity) - int(a.Severity)
		}
		return int(a.Outcome) - int(b.Outcome)
	})
	return out
}
