package report_test

import (
	"encoding/xml"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

type (
	junitFile struct {
		XMLName                 xml.Name `xml:"testsuites"`
		Tests, Failures, Errors int
		RawTests                int `xml:"tests,attr"`
		RawFailures             int `xml:"failures,attr"`
		RawErrors               int `xml:"errors,attr"`
		Suites                  []struct {
			Name       string `xml:"name,attr"`
			ID         int    `xml:"id,attr"`
			Tests      int    `xml:"tests,attr"`
			Failures   int    `xml:"failures,attr"`
			Errors     int    `xml:"errors,attr"`
			Skipped    int    `xml:"skipped,attr"`
			Properties []struct {
				Name  string `xml:"name,attr"`
				Value string `xml:"value,attr"`
			} `xml:"properties>property"`
			Cases []junitCase `xml:"testcase"`
		} `xml:"testsuite"`
	}
	junitCase struct {
		Name    string        `xml:"name,attr"`
		Class   string        `xml:"classname,attr"`
		File    string        `xml:"file,attr"`
		Line    string        `xml:"line,attr"`
		Error   *junitMessage `xml:"error"`
		Failure *junitMessage `xml:"failure"`
		Skipped *junitMessage `xml:"skipped"`
	}
	junitMessage struct {
		Message string `xml:"message,attr"`
		Type    string `xml:"type,attr"`
		Text    string `xml:",chardata"`
	}
)

// junitOf reads a JUnit file back and counts it over again.
func junitOf(t testing.TB, o report.Options, reviews ...*verdict.Review) junitFile {
	t.Helper()
	var f junitFile
	require.NoError(t, xml.Unmarshal([]byte(write(t, "junit", o, reviews...)), &f))
	names := map[string]bool{}
	for i, s := range f.Suites {
		require.Equal(t, i, s.ID)
		var failures, errors, skipped int
		for _, c := range s.Cases {
			key := c.Class + " " + c.Name
			require.False(t, names[key], "%s is there twice", key)
			names[key] = true
			require.NotEmpty(t, c.Class)
			switch {
			case c.Error != nil:
				errors++
				require.Nil(t, c.Failure)
				require.Nil(t, c.Skipped)
			case c.Failure != nil:
				failures++
				require.Nil(t, c.Skipped)
			case c.Skipped != nil:
				skipped++
			}
		}
		require.Equal(t, []int{len(s.Cases), failures, errors, skipped}, []int{s.Tests, s.Failures, s.Errors, s.Skipped})
		f.Tests += s.Tests
		f.Failures += failures
		f.Errors += errors
	}
	require.Equal(t, []int{f.Tests, f.Failures, f.Errors}, []int{f.RawTests, f.RawFailures, f.RawErrors})
	return f
}

func TestJUnit(t *testing.T) {
	reviews := everything(t)
	f := junitOf(t, minor, reviews...)
	require.Len(t, f.Suites, 2)
	require.Equal(t, "jobs/all.yaml", f.Suites[0].Name)
	require.Len(t, f.Suites[0].Cases, len(reviews[0].Verdicts))
	cases := map[string]junitCase{}
	for _, c := range f.Suites[0].Cases {
		cases[c.Name] = c
	}
	require.Nil(t, cases["house-outlet-height good"].Failure)
	bad := cases["house-outlet-height bad"]
	require.Equal(t, "jobs/all_yaml.house", bad.Class)
	require.Equal(t, "jobs/all.yaml", bad.File)
	require.Equal(t, "20", bad.Line)
	require.Equal(t, "nonconforming", bad.Failure.Type)
	require.Equal(t, "major: bad: The outlet is 200 to 300 mm above the floor [house-outlet-height]", bad.Failure.Message)
	require.Equal(t, `jobs/all.yaml:20:64: major: bad: The outlet is 200 to 300 mm above the floor [house-outlet-height]
measured: 350.5 mm (height of the outlet's centre above finished floor)
allowed: 200 to 300 mm
margin: 50.5 mm outside
why: Higher up, the feet stay cold; lower down, splash water and dirt reach the outlet. This sentence is only here so that the reason fills more than one line of 100 mm.
do: Move the outlet.
source: House book of an invented firm, second, page 3`, bad.Failure.Text)
	require.Contains(t, cases["house-outlet-height vague"].Failure.Text, "\nmissing: y_mm of vague\n")
	require.Equal(t, "nonconforming", cases["house-material bad"].Skipped.Type, "below the threshold")
	require.Equal(t, "not in force on 2026-01-01", cases["house-low-points good"].Skipped.Message)
	require.Equal(t, "not_judged", cases["broken-height good"].Error.Type)
	require.NotEmpty(t, cases["broken-height good"].Error.Text)
	broken := f.Suites[1]
	require.Equal(t, []int{1, 1}, []int{broken.Tests, broken.Errors})
	require.Contains(t, broken.Cases[0].Error.Text, "jobs/broken.yaml:4:8: error: ")
	require.Equal(t, "4", broken.Cases[0].Line)
}

func TestJUnitOfABrokenFileIsOneError(t *testing.T) {
	r := review(t, linter(t), "job.yaml", strings.Replace(jobHead, "use: steam_room", "use: larder\n  hight_mm: 1", 1))
	require.Greater(t, len(r.Problems), 1)
	f := junitOf(t, minor, r)
	require.Equal(t, []int{1, 1}, []int{f.Tests, f.Errors})
	text := f.Suites[0].Cases[0].Error.Text
	for _, p := range r.Problems {
		require.Contains(t, text, p.Message)
	}
	require.Len(t, strings.Split(text, "\n"), len(r.Problems))
}

func TestJUnitOfNothingIsAnError(t *testing.T) {
	f := junitOf(t, report.Options{FailAt: rulebook.Critical})
	require.Equal(t, []int{1, 1}, []int{f.Tests, f.Errors})
}
