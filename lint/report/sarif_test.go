package report_test

import (
	"encoding/json"
	"net/url"
	"os"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v5"
	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// sarifFile is what the tests read of a SARIF file.
type (
	sarifFile struct {
		Version string
		Runs    []struct {
			Tool struct {
				Driver struct {
					Name, Version, SemanticVersion string
					Rules                          []struct {
						ID                                      string
						ShortDescription, FullDescription, Help struct{ Text string }
						DefaultConfiguration                    struct{ Level string }
						DeprecatedIDs                           []string
						Relationships                           []struct {
							Target struct {
								ID            string
								Index         int
								ToolComponent struct {
									Name  string
									Index int
								}
							}
						}
						Properties struct{ Tags []string }
					}
				}
			}
			Invocations []struct {
				ExecutionSuccessful        bool
				ExitCode                   int
				ToolExecutionNotifications []struct {
					Level     string
					Message   struct{ Text string }
					Locations []sarifPlace
				}
			}
			Artifacts  []struct{ Location struct{ URI string } }
			Taxonomies []struct {
				Name string
				Taxa []struct{ ID string }
			}
			ColumnKind string
			Results    []sarifFinding
		}
	}
	sarifFinding struct {
		RuleID              string
		RuleIndex           int
		Level               string
		Message             struct{ Text string }
		Locations           []sarifPlace
		PartialFingerprints map[string]string
	}
	sarifPlace struct {
		PhysicalLocation struct {
			ArtifactLocation struct{ URI string }
			Region           *struct{ StartLine, StartColumn, EndLine, EndColumn int }
		}
		LogicalLocations []struct{ Name, FullyQualifiedName string }
	}
)

func sarifOf(t testing.TB, o report.Options, reviews ...*verdict.Review) sarifFile {
	t.Helper()
	text := write(t, "sarif", o, reviews...)
	if s := sarifSchema(t); s != nil {
		var x any
		require.NoError(t, json.Unmarshal([]byte(text), &x))
		require.NoError(t, s.Validate(x))
	}
	var f sarifFile
	require.NoError(t, json.Unmarshal([]byte(text), &f))
	require.Equal(t, "2.1.0", f.Version)
	require.Len(t, f.Runs, 1)
	checkSARIF(t, f)
	return f
}

// checkSARIF holds what every SARIF file must keep and the schema cannot say.
func checkSARIF(t testing.TB, f sarifFile) {
	t.Helper()
	run := f.Runs[0]
	require.Equal(t, "unicodeCodePoints", run.ColumnKind)
	levels := []string{"none", "note", "warning", "error"}
	place := func(p sarifPlace) {
		uri := p.PhysicalLocation.ArtifactLocation.URI
		u, err := url.Parse(uri)
		require.NoError(t, err)
		require.NotEmpty(t, u.Path)
		require.NotContains(t, uri, `\`)
		require.NotContains(t, uri, " ")
		if g := p.PhysicalLocation.Region; g != nil {
			require.Positive(t, g.StartLine)
			require.Positive(t, g.StartColumn)
			require.Equal(t, g.StartLine, g.EndLine)
			require.Greater(t, g.EndColumn, g.StartColumn)
		}
	}
	for _, r := range run.Results {
		require.Contains(t, levels, r.Level)
		require.Less(t, r.RuleIndex, len(run.Tool.Driver.Rules))
		require.Equal(t, r.RuleID, run.Tool.Driver.Rules[r.RuleIndex].ID)
		require.NotEmpty(t, r.Message.Text)
		require.Len(t, r.Locations, 1)
		require.NotNil(t, r.Locations[0].PhysicalLocation.Region)
		require.NotEmpty(t, r.Locations[0].LogicalLocations)
		place(r.Locations[0])
		require.Len(t, r.PartialFingerprints, 2)
		require.Equal(t, r.PartialFingerprints["wetrule/v1"], r.PartialFingerprints["primaryLocationLineHash"])
		require.NotContains(t, r.Message.Text, "](")
		require.NotRegexp(t, `(^|[^{])\{(\{\{)*[^{]`, r.Message.Text)
	}
	for i, r := range run.Tool.Driver.Rules {
		require.Contains(t, levels, r.DefaultConfiguration.Level)
		require.NotEmpty(t, r.ShortDescription.Text)
		require.NotEmpty(t, r.FullDescription.Text)
		require.NotEmpty(t, r.Help.Text)
		require.LessOrEqual(t, len(r.Properties.Tags), 10)
		if i > 0 {
			require.Less(t, run.Tool.Driver.Rules[i-1].ID, r.ID)
		}
		require.Len(t, r.Relationships, 1)
		target := r.Relationships[0].Target
		require.Less(t, target.ToolComponent.Index, len(run.Taxonomies))
		taxonomy := run.Taxonomies[target.ToolComponent.Index]
		require.Equal(t, taxonomy.Name, target.ToolComponent.Name)
		require.Less(t, target.Index, len(taxonomy.Taxa))
		require.Equal(t, taxonomy.Taxa[target.Index].ID, target.ID)
	}
	require.Len(t, run.Invocations, 1)
	for _, n := range run.Invocations[0].ToolExecutionNotifications {
		require.Equal(t, "error", n.Level)
		require.NotEmpty(t, n.Message.Text)
		for _, l := range n.Locations {
			place(l)
		}
	}
}

const (
	sarifSchemaVariable = "WETRULE_SARIF_SCHEMA"
	noSkipVariable      = "WETRULE_NO_SKIP"
)

var sarifSchemas = map[string]*jsonschema.Schema{}

// sarifSchema is the published schema (sarif-2.1.0-rtm.5.json, draft-04), when the environment says where it is.
func sarifSchema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	file := os.Getenv(sarifSchemaVariable)
	if file == "" {
		return nil
	}
	if s := sarifSchemas[file]; s != nil {
		return s
	}
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.Draft = jsonschema.Draft4
	c.AssertFormat = true
	require.NoError(t, c.AddResource("sarif.json", strings.NewReader(string(data))))
	s, err := c.Compile("sarif.json")
	require.NoError(t, err)
	sarifSchemas[file] = s
	return s
}

// TestSARIFKeepsThePublishedSchema validates files of every sort. The other tests validate theirs too when the schema is there.
func TestSARIFKeepsThePublishedSchema(t *testing.T) {
	s := sarifSchema(t)
	if s == nil {
		message := "NOT VALIDATED: set " + sarifSchemaVariable + " to the path of sarif-2.1.0-rtm.5.json, the published schema of SARIF 2.1.0"
		if os.Getenv(noSkipVariable) == "1" {
			t.Fatal(message)
		}
		t.Skip(message)
	}
	reviews := everything(t)
	for name, list := range map[string][]*verdict.Review{"everything": reviews, "broken": reviews[1:], "none": nil, "clean": {review(t, linter(t), "clean.yaml", jobHead+goodOutlet)},
		"hostile": {review(t, hostileLinter(t), hostileFile, jobHead+badOutlet)}} {
		t.Run(name, func(t *testing.T) {
			var x any
			require.NoError(t, json.Unmarshal([]byte(write(t, "sarif", minor, list...)), &x))
			require.NoError(t, s.Validate(x))
		})
	}
	// The schema must be one that refuses something.
	var x any
	require.NoError(t, json.Unmarshal([]byte(strings.Replace(write(t, "sarif", minor, reviews...), `"level":"error"`, `"level":"grave"`, 1)), &x))
	require.Error(t, s.Validate(x))
}

func TestSARIF(t *testing.T) {
	reviews := everything(t)
	f := sarifOf(t, minor, reviews...)
	run := f.Runs[0]
	require.Equal(t, "1.2.3", run.Tool.Driver.SemanticVersion)
	subjects := 0
	for _, r := range run.Results {
		subjects += len(r.Locations[0].LogicalLocations)
	}
	require.Equal(t, len(reviews[0].Findings()), subjects)
	require.Less(t, len(run.Results), subjects)
	require.Len(t, run.Artifacts, 2)
	require.False(t, run.Invocations[0].ExecutionSuccessful)
	require.Len(t, run.Invocations[0].ToolExecutionNotifications, 1)
	require.Equal(t, 4, run.Invocations[0].ToolExecutionNotifications[0].Locations[0].PhysicalLocation.Region.StartLine)
	levels := map[string]string{"house-outlet-height": "error", "house-opening": "warning", "house-guard": "error", "house-material": "note", "house-layers": "warning", "broken-height": "note"}
	for _, r := range run.Tool.Driver.Rules {
		if want := levels[r.ID]; want != "" {
			require.Equal(t, want, r.DefaultConfiguration.Level, r.ID)
		}
		if r.ID == "house-outlet-height" {
			require.Equal(t, []string{"house-outlet-level"}, r.DeprecatedIDs)
			require.Equal(t, "house-book", r.Relationships[0].Target.ID)
		}
	}
	for _, r := range run.Results {
		want := levels[r.RuleID]
		if r.RuleID == "broken-height" {
			want = "error" // what nobody has judged is never a mere note
		}
		require.Equal(t, want, r.Level, r.RuleID)
		if r.RuleID == "house-outlet-height" && r.Locations[0].LogicalLocations[0].Name == "bad" {
			require.Equal(t, "bad: The outlet is 200 to 300 mm above the floor. Measured: 350.5 mm (height of the outlet's centre above finished floor). Allowed: 200 to 300 mm. Margin: 50.5 mm outside. Move the outlet.", r.Message.Text)
			g := r.Locations[0].PhysicalLocation.Region
			require.Equal(t, []int{20, 64, 20, 69}, []int{g.StartLine, g.StartColumn, g.EndLine, g.EndColumn})
			require.Equal(t, "jobs/all.yaml", r.Locations[0].PhysicalLocation.ArtifactLocation.URI)
			require.Equal(t, "steam_outlet/bad", r.Locations[0].LogicalLocations[0].FullyQualifiedName)
		}
	}
}

// TestSARIFOfAWholeFileHasNoRegion looks at a problem that has no line.
func TestSARIFOfAWholeFileHasNoRegion(t *testing.T) {
	r := review(t, linter(t), "big.yaml", strings.Repeat("#", 2<<20))
	require.Len(t, r.Problems, 1)
	require.Zero(t, r.Problems[0].Line)
	n := sarifOf(t, minor, r).Runs[0].Invocations[0].ToolExecutionNotifications
	require.Len(t, n, 1)
	require.Nil(t, n[0].Locations[0].PhysicalLocation.Region)
	require.Equal(t, "big.yaml", n[0].Locations[0].PhysicalLocation.ArtifactLocation.URI)
	require.True(t, strings.HasPrefix(write(t, "text", minor, r), "big.yaml: error: the file is larger than "))
	write(t, "json", minor, r)
	require.Empty(t, junitOf(t, minor, r).Suites[0].Cases[0].Line)
}

// TestColumnsCountCodePoints puts letters with accents and beyond the basic plane before a value.
func TestColumnsCountCodePoints(t *testing.T) {
	job := jobHead + "  - {id: o, note: \"é𝄞日\", kind: steam_outlet, face: west, x_mm: 1, y_mm: 900}\n"
	r := review(t, linter(t), "job.yaml", job)
	for _, x := range sarifOf(t, minor, r).Runs[0].Results {
		if x.RuleID == "house-outlet-height" {
			line := []rune(strings.Split(job, "\n")[18])
			g := x.Locations[0].PhysicalLocation.Region
			require.Equal(t, "900", string(line[g.StartColumn-1:g.EndColumn-1]))
			return
		}
	}
	require.Fail(t, "no finding")
}

func fingerprints(t testing.TB, name, job string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, r := range sarifOf(t, minor, review(t, linter(t), name, job)).Runs[0].Results {
		key := r.RuleID + " " + r.Locations[0].LogicalLocations[0].FullyQualifiedName
		require.Empty(t, out[key], "%s is there twice", key)
		out[key] = r.PartialFingerprints["primaryLocationLineHash"]
	}
	require.NotEmpty(t, out)
	return out
}

func TestFingerprints(t *testing.T) {
	job := jobHead + badOutlet + vagueOutlet
	want := fingerprints(t, "job.yaml", job)
	seen := map[string]string{}
	for key, print := range want {
		require.Empty(t, seen[print], "%s and %s have one fingerprint", key, seen[print])
		seen[print] = key
	}
	require.Equal(t, want, fingerprints(t, "job.yaml", "# a comment\n\n"+job), "lines above")
	require.Equal(t, want, fingerprints(t, "job.yaml", strings.Replace(job, "350.5", "360", 1)), "another value")
	require.Equal(t, want, fingerprints(t, "job.yaml", strings.Replace(job, "title: A room", "title: Another room", 1)), "another title")
	swapped := jobHead + vagueOutlet + badOutlet
	require.Equal(t, want, fingerprints(t, "job.yaml", swapped), "another order")
	for key, print := range fingerprints(t, "other.yaml", job) {
		require.NotEqual(t, want[key], print, "another file")
	}
	for _, print := range fingerprints(t, "job.yaml", strings.Replace(job, "id: bad", "id: worse", 1)) {
		if key := seen[print]; key != "" {
			require.NotContains(t, key, "bad")
		}
	}
}

func TestURIs(t *testing.T) {
	l := linter(t)
	for file, want := range map[string]string{
		"job.yaml":                      "job.yaml",
		"./jobs/../job.yaml":            "job.yaml",
		"../jobs/room 1.yaml":           "../jobs/room%201.yaml",
		"jobs/100%.yaml":                "jobs/100%25.yaml",
		"jobs/what?#now.yaml":           "jobs/what%3F%23now.yaml",
		"jobs/Ölbad.yaml":               "jobs/%C3%96lbad.yaml",
		"a:b.yaml":                      "./a:b.yaml",
		"jobs/a:b.yaml":                 "jobs/a:b.yaml",
		"/srv/jobs/room 1.yaml":         "file:///srv/jobs/room%201.yaml",
		"C:/jobs/room.yaml":             "file:///C:/jobs/room.yaml",
		"//jobs/room.yaml":              "file:///jobs/room.yaml",
		"jobs/\x1b[2J<script>\u202e\n}": "jobs/%1B%5B2J%3Cscript%3E%E2%80%AE%0A%7D",
	} {
		f := sarifOf(t, minor, review(t, l, file, jobHead+badOutlet))
		require.Equal(t, want, f.Runs[0].Artifacts[0].Location.URI, file)
		require.Equal(t, want, f.Runs[0].Results[0].Locations[0].PhysicalLocation.ArtifactLocation.URI, file)
	}
}

func TestSemanticVersionOnlyWhenItIsOne(t *testing.T) {
	for version, want := range map[string]string{"v1.2.3": "1.2.3", "1.2.3-rc.1+abc": "1.2.3-rc.1+abc", "devel": "", "devel+0123456789ab": "", "1.2": "", "1..3": "", "": "", "v1.2.x": ""} {
		f := sarifOf(t, report.Options{Version: version, FailAt: rulebook.Minor}, review(t, linter(t), "job.yaml", jobHead+goodOutlet))
		require.Equal(t, want, f.Runs[0].Tool.Driver.SemanticVersion, version)
	}
}
