package report

import (
	"bufio"
	"fmt"
	"io"

	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Entry is a group of findings that somebody deals with in one go, in the words of all reports.
type Entry struct {
	Number     int // as on the drawings, from 1
	Severity   rulebook.Severity
	Outcome    verdict.Outcome
	Words      string // for the outcome
	Title      string
	Items      string // what it concerns
	Figures    []Pair // measured or missing, allowed, margin
	Do         string
	Rest       []Pair   // why, source, changes by rulebooks
	Rules      []string // ids
	Waiting    []string // of several rules that wait for one fact: their titles
	Place      string   // in the job file
	Count      int      // findings in the group
	Undecided  int      // of which are undetermined or not judged
	Critical   int      // of which are critical
	CritUnsure int      // of which are critical, and undetermined or not judged
}

// Pair is a word and what is said under it.
type Pair struct{ Word, Text, More string }

// Entries are the findings of a review in groups, in the order of verdict.Review.Groups.
func Entries(r *verdict.Review) []Entry {
	groups := r.Groups()
	out := make([]Entry, len(groups))
	for i, g := range groups {
		h := entryOf(r, g, "", i+1)
		v := g.Findings[0]
		e := Entry{Number: i + 1, Severity: v.Rule.Severity, Outcome: v.Outcome, Words: h.Words, Title: h.Title, Items: h.Items, Do: h.Do, Rules: h.RuleIDs, Place: h.Place, Count: len(g.Findings)}
		for _, p := range h.Figures {
			e.Figures = append(e.Figures, Pair(p))
		}
		for _, p := range h.Rest {
			e.Rest = append(e.Rest, Pair(p))
		}
		for _, rule := range h.Rules {
			e.Waiting = append(e.Waiting, fmt.Sprintf("%s (%s, %s)", rule.Title, rule.ID, rule.Severity))
		}
		for _, f := range g.Findings {
			unsure := f.Outcome != verdict.Nonconforming
			if unsure {
				e.Undecided++
			}
			if f.Rule.Severity == rulebook.Critical {
				e.Critical++
				if unsure {
					e.CritUnsure++
				}
			}
		}
		out[i] = e
	}
	return out
}

// Conceded says of each nonconforming verdict that may stay by what leave it does.
func Conceded(r *verdict.Review) (out []string) {
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Leave() != nil {
			out = append(out, fmt.Sprintf("%s (%s) of %s, %s: %s", line(v.Rule.Title), v.Rule.ID, v.Subject.ID, v.Rule.Def.Format(*v.Value), leaveText(v)))
		}
	}
	return out
}

// OneLine puts a text on one line, with what could drive a terminal or a viewer shown as code points.
func OneLine(s string) string { return line(s) }

// AllowedBy writes what a rule allows; limits that are measures are written with their values for the subject of the verdict.
func AllowedBy(r *verdict.Review, v *verdict.Verdict) string { return allowed(r, v) }

// Page gives a writer to a writer of a page; what could turn the direction of writing, or is no character, is written as code points.
func Page(w io.Writer, write func(io.Writer) error) error {
	b := bufio.NewWriterSize(w, 1<<16)
	if err := write(htmlWriter{b}); err != nil {
		return err
	}
	return b.Flush()
}

// HashOf names an inline style sheet in a Content-Security-Policy.
func HashOf(text string) string { return hashOf(text) }
