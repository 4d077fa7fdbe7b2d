package report

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Lines is the format of one JSON report a line. Like text it is written job by job; every other format is one document.
const Lines = "lines"

// Streams says whether a format is written job by job, so that nothing of a job is kept once it is written.
func Streams(format string) bool { return format == Lines || format == "text" }

// Stream writes reviews in a format as they come: at once where the format allows it, else all of them as one document at the end.
type Stream struct {
	w      io.Writer
	format format
	o      Options
	sum    totals
	held   []*verdict.Review
	err    error
}

// NewStream begins to write reviews.
func NewStream(w io.Writer, name string, o Options) (*Stream, error) {
	f, err := find(name)
	return &Stream{w: w, format: f, o: o}, err
}

// Part is one review, ready to be written.
type Part struct {
	review *verdict.Review // of a format that is one document
	sum    totals
	text   *[]byte
}

// texts are the texts of parts that have been written. A report of every verdict takes hundreds of kilobytes, which would be garbage at once.
var texts = sync.Pool{New: func() any { return new([]byte) }}

// keptText is the longest text whose memory is kept for the next.
const keptText = 4 << 20

// appender writes to the end of a slice.
type appender []byte

func (a *appender) Write(p []byte) (int, error) {
	*a = append(*a, p...)
	return len(p), nil
}

// Part makes a review ready. This is most of the work of writing, and may be done for several reviews at the same time.
func (s *Stream) Part(r *verdict.Review) (Part, error) {
	p := Part{sum: s.o.outcome(r)}
	switch s.format.name {
	case "text":
		p.sum = s.o.total(r)
		p.text = texts.Get().(*[]byte)
		*p.text = (*p.text)[:0]
		Text((*appender)(p.text), r, s.o)
	case Lines:
		if s.o.FindingsOnly {
			r = findingsOnly(r)
		}
		text := texts.Get().(*[]byte)
		var err error
		if *text, err = Line((*text)[:0], r, s.o, false); err != nil {
			return p, err
		}
		p.text = text
	default:
		p.review = r
	}
	return p, nil
}

// Add writes the next review; the part is used up by it. Once something could not be written, nothing more is.
func (s *Stream) Add(p Part) error {
	s.sum.add(p.sum)
	if p.review != nil {
		s.held = append(s.held, p.review)
	}
	if p.text == nil {
		return s.err
	}
	if s.err == nil && len(*p.text) > 0 {
		_, s.err = s.w.Write(*p.text)
	}
	if cap(*p.text) <= keptText {
		texts.Put(p.text)
	}
	return s.err
}

// Close writes what comes behind the last review, or the document.
func (s *Stream) Close() error {
	if s.err != nil {
		return s.err
	}
	switch s.format.name {
	case "text":
		var b bytes.Buffer
		textEnd(&b, &s.sum, s.o)
		_, s.err = s.w.Write(b.Bytes())
	case Lines:
	default:
		s.err = Write(s.w, s.format.name, s.held, s.o)
	}
	return s.err
}

// Status is the exit status for the reviews that have been added: the same for every format.
func (s *Stream) Status() int { return s.sum.status(s.o) }

// Jobs is how many reviews have been added.
func (s *Stream) Jobs() int { return s.sum.jobs }

// totals are what a summary says of reviews.
type totals struct {
	jobs, unjudged int
	failed         int    // jobs with a verdict that fails
	failing, below int    // findings and leaves at fault, at the threshold or graver and below it
	tolerated      int    // undetermined verdicts that do not fail
	broken         int    // verdicts that were not judged
	entries        int    // groups of findings
	severities     [4]int // findings, the gravest first
	cautions       []string
}

// total sums up one review.
func (o Options) total(r *verdict.Review) totals {
	t := o.outcome(r)
	for i := range r.Verdicts {
		if v := &r.Verdicts[i]; v.Finding() {
			t.severities[rulebook.Critical-v.Rule.Severity]++
		}
	}
	t.entries = len(r.Groups())
	t.cautions = Cautions(r)
	return t
}

// outcome sums up what decides on the exit status.
func (o Options) outcome(r *verdict.Review) totals {
	t := totals{jobs: 1}
	if !r.Judged() {
		t.unjudged = 1
	}
	for i := range r.Verdicts {
		switch v := &r.Verdicts[i]; {
		case v.Outcome == verdict.Conforms: // nearly all of them
		case v.Leave() != nil || v.Known() != nil:
		case o.Fails(v):
			t.failing++
			t.failed = 1
		case v.Outcome == verdict.Undetermined && v.Rule.Severity >= o.FailAt:
			t.tolerated++
		case v.Outcome == verdict.NotJudged:
			t.broken++
		case v.Finding():
			t.below++
		}
	}
	for _, f := range r.Faults {
		if f.Severity >= o.FailAt {
			t.failing++
		} else {
			t.below++
		}
	}
	return t
}

func (t *totals) add(u totals) {
	t.jobs += u.jobs
	t.unjudged += u.unjudged
	t.failed += u.failed
	t.failing += u.failing
	t.below += u.below
	t.tolerated += u.tolerated
	t.broken += u.broken
	t.entries += u.entries
	for i, n := range u.severities {
		t.severities[i] += n
	}
	for _, c := range u.cautions {
		if !slices.Contains(t.cautions, c) {
			t.cautions = append(t.cautions, c)
		}
	}
}

func (t *totals) status(o Options) int {
	switch {
	case t.jobs == 0 && o.Empty != "":
		return StatusClean
	case t.jobs == 0 || t.unjudged > 0:
		return StatusUnjudged
	case t.failing > 0:
		return StatusFindings
	}
	return StatusClean
}

// why says in words why the exit status is what it is.
func (t *totals) why(o Options) string {
	var parts []string
	if t.failing > 0 {
		parts = append(parts, count(t.failing, "finding", "findings")+" of "+atLeast(o.FailAt))
	}
	if t.below > 0 {
		parts = append(parts, fmt.Sprintf("%d below it", t.below))
		if t.failing == 0 {
			parts = []string{fmt.Sprintf("no finding of %s, %d below it", atLeast(o.FailAt), t.below)}
		}
	}
	if t.tolerated > 0 {
		parts = append(parts, fmt.Sprintf("%d undetermined and tolerated", t.tolerated))
	}
	if len(parts) == 0 {
		parts = []string{"no finding"}
	}
	if t.broken > 0 {
		parts = append(parts, fmt.Sprintf("%d not judged", t.broken))
	}
	rest := strings.Join(parts, ", ")
	switch t.status(o) {
	case StatusClean:
		return "passes: " + rest
	case StatusFindings:
		return "fails: " + rest
	}
	if t.jobs <= 1 {
		return "fails: not everything could be judged; " + rest
	}
	return fmt.Sprintf("fails: not everything could be judged in %s; %s", count(t.unjudged, "job", "jobs"), rest)
}
