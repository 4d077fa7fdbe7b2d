package report

import (
	"encoding/xml"
	"io"
	"strconv"
	"strings"

	"wetrule/lint/verdict"
)

// JUnit XML in the form that CI systems agree on: a suite a job, a case a verdict. Not
// applicable verdicts are left out. There is no time in it, since nothing is judged by the clock.
//
// Readers group cases by classname, which they split at full stops into a package and a class, tell cases apart by
// classname and name, and show the message and the text of an error or a failure. So the class
// is the job and the subject of the rule, and the text alone holds all that is needed to mend the fault.
type (
	junitSuites struct {
		XMLName  xml.Name     `xml:"testsuites"`
		Name     string       `xml:"name,attr"`
		Tests    int          `xml:"tests,attr"`
		Failures int          `xml:"failures,attr"`
		Errors   int          `xml:"errors,attr"`
		Suites   []junitSuite `xml:"testsuite"`
	}
	junitSuite struct {
		Name       string          `xml:"name,attr"`
		Package    string          `xml:"package,attr"`
		ID         int             `xml:"id,attr"`
		Tests      int             `xml:"tests,attr"`
		Failures   int             `xml:"failures,attr"`
		Errors     int             `xml:"errors,attr"`
		Skipped    int             `xml:"skipped,attr"`
		Properties []junitProperty `xml:"properties>property"`
		Cases      []junitCase     `xml:"testcase"`
	}
	junitProperty struct {
		Name  string `xml:"name,attr"`
		Value string `xml:"value,attr"`
	}
	junitCase struct {
		Name    string        `xml:"name,attr"`
		Class   string        `xml:"classname,attr"`
		File    string        `xml:"file,attr,omitempty"`
		Line    string        `xml:"line,attr,omitempty"`
		Error   *junitMessage `xml:"error,omitempty"`
		Failure *junitMessage `xml:"failure,omitempty"`
		Skipped *junitMessage `xml:"skipped,omitempty"`
	}
	junitMessage struct {
		Message string `xml:"message,attr"`
		Type    string `xml:"type,attr,omitempty"`
		Text    string `xml:",chardata"`
	}
)

func writeJUnit(w io.Writer, reviews []*verdict.Review, o Options) error {
	all := junitSuites{Name: "wetrule"}
	add := func(s junitSuite) {
		s.ID = len(all.Suites)
		s.Tests = len(s.Cases)
		for _, c := range s.Cases {
			switch {
			case c.Error != nil:
				s.Errors++
			case c.Failure != nil:
				s.Failures++
			case c.Skipped != nil:
				s.Skipped++
			}
		}
		all.Tests += s.Tests
		all.Failures += s.Failures
		all.Errors += s.Errors
		all.Suites = append(all.Suites, s)
	}
	for _, r := range reviews {
		add(junitSuiteOf(r, o))
	}
	if len(reviews) == 0 && o.Empty == "" {
		add(junitSuite{Name: "wetrule", Package: "wetrule", Cases: []junitCase{{Name: "job files", Class: "wetrule", Error: &junitMessage{nothing, "no job", nothing}}}})
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", "  ")
	if err := e.Encode(all); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

func junitSuiteOf(r *verdict.Review, o Options) junitSuite {
	file := clean(r.File)
	s := junitSuite{Name: file, Package: "wetrule", Properties: []junitProperty{{"reference", clean(r.Reference)}, {"judged_on", clean(r.On)}, {"fail_at", o.FailAt.String()}}}
	class := strings.ReplaceAll(file, ".", "_")
	if len(r.Problems) > 0 {
		lines := make([]string, len(r.Problems))
		for i, p := range r.Problems {
			lines[i] = problemLine(r, p)
		}
		message := "the job file is at fault in " + count(len(lines), "place", "places") + ": " + line(r.Problems[0].Message)
		s.Cases = append(s.Cases, junitCase{Name: "job file", Class: class, File: file, Line: lineText(r.Problems[0].Line), Error: &junitMessage{message, "job file", strings.Join(lines, "\n")}})
	}
	for _, f := range r.Faults {
		c := junitCase{Name: "leave " + f.Leave.Rule + " " + clean(f.Leave.Item), Class: class + ".leaves", File: clean(f.File), Line: lineText(f.Place.Line)}
		m := &junitMessage{f.Severity.String() + ": " + line(f.Text), "leave", line(f.Text)}
		if f.Severity >= o.FailAt {
			c.Failure = m
		} else {
			c.Skipped = m
		}
		s.Cases = append(s.Cases, c)
	}
	for i := range r.Verdicts {
		v := &r.Verdicts[i]
		c := junitCase{Name: v.Rule.ID + " " + clean(v.Subject.ID), Class: class + "." + v.Rule.Subject}
		switch {
		case v.Finding():
			p := v.Place(r.Root)
			c.File, c.Line = file, lineText(p.Line)
			m := junitFinding(r, v, p)
			switch {
			case v.Outcome == verdict.NotJudged:
				c.Error = m
			case o.Fails(v):
				c.Failure = m
			default:
				// A finding below the threshold: shown, but it does not fail.
				c.Skipped = m
			}
		case v.Leave() != nil:
			c.Skipped = &junitMessage{Message: leaveText(v), Type: v.Leave().Leave}
		case v.Known() != nil:
			c.Skipped = &junitMessage{Message: "known and no worse than it was: " + clean(v.Known().Measured), Type: "known"}
		case v.Outcome == verdict.NotInForce:
			c.Skipped = &junitMessage{Message: "not in force on " + clean(r.On), Type: v.Outcome.String()}
		}
		s.Cases = append(s.Cases, c)
	}
	return s
}

func junitFinding(r *verdict.Review, v *verdict.Verdict, p verdict.Place) *junitMessage {
	first := v.Rule.Severity.String() + ": " + head(v)
	text := []string{at(r.File, p.Line, p.Col) + first}
	for _, d := range details(r, v) {
		text = append(text, d.word+": "+line(d.text))
	}
	return &junitMessage{first, v.Outcome.String(), strings.Join(text, "\n")}
}

func lineText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
