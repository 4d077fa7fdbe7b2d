package report

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/url"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strconv"
	"strings"

	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// SARIF 2.1.0 (OASIS, 2020), the parts that are used here.
//
// Known readers: code scanning wants a level on the result and on the rule, a relative
// uri, whole regions and the fingerprint primaryLocationLineHash; it reads neither taxonomies nor logical
// locations, which viewers do.
type (
	// sarifLog goes on with the one run: its tool, which goes on with rules, then sarifRun, which goes on with results.
	sarifLog struct {
		Schema  string `json:"$schema"`
		Version string `json:"version"`
	}
	sarifRun struct {
		Automation  sarifID           `json:"automationDetails"`
		Invocations []sarifInvocation `json:"invocations"`
		Artifacts   []sarifArtifact   `json:"artifacts,omitempty"`
		Taxonomies  []sarifComponent  `json:"taxonomies,omitempty"`
		ColumnKind  string            `json:"columnKind"`
	}
	sarifID struct {
		ID string `json:"id"`
	}
	sarifComponent struct {
		Name             string      `json:"name"`
		SemanticVersion  string      `json:"semanticVersion,omitempty"`
		Version          string      `json:"version,omitempty"`
		ShortDescription *sarifText  `json:"shortDescription,omitempty"`
		Taxa             []sarifRule `json:"taxa,omitempty"`
		Supported        []sarifRef  `json:"supportedTaxonomies,omitempty"`
	}
	sarifRef struct {
		Name  string `json:"name"`
		Index int    `json:"index"`
	}
	sarifText struct {
		Text string `json:"text"`
	}
	sarifRule struct {
		ID               string            `json:"id"`
		ShortDescription *sarifText        `json:"shortDescription,omitempty"`
		FullDescription  *sarifText        `json:"fullDescription,omitempty"`
		Help             *sarifText        `json:"help,omitempty"`
		Default          *sarifDefault     `json:"defaultConfiguration,omitempty"`
		Relationships    []sarifRelation   `json:"relationships,omitempty"`
		DeprecatedIDs    []string          `json:"deprecatedIds,omitempty"`
		Properties       *sarifRuleDetails `json:"properties,omitempty"`
	}
	sarifDefault struct {
		Level string `json:"level"`
	}
	sarifRelation struct {
		Target sarifTarget `json:"target"`
		Kinds  []string    `json:"kinds"`
	}
	sarifTarget struct {
		ID        string   `json:"id"`
		Index     int      `json:"index"`
		Component sarifRef `json:"toolComponent"`
	}
	sarifRuleDetails struct {
		Tags            []string `json:"tags"`
		ProblemSeverity string   `json:"problem.severity"`
		Severity        string   `json:"severity"`
		From            string   `json:"from_stage"`
	}
	sarifInvocation struct {
		Successful    bool                `json:"executionSuccessful"`
		ExitCode      int                 `json:"exitCode"`
		Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
	}
	sarifNotification struct {
		Level     string          `json:"level"`
		Message   sarifText       `json:"message"`
		Locations []sarifLocation `json:"locations,omitempty"`
	}
	sarifArtifact struct {
		Location sarifURI `json:"location"`
	}
	sarifURI struct {
		URI string `json:"uri"`
	}
	sarifResult struct {
		RuleID       string             `json:"ruleId"`
		RuleIndex    int                `json:"ruleIndex"`
		Level        string             `json:"level"`
		Message      sarifText          `json:"message"`
		Locations    []sarifLocation    `json:"locations"`
		Fingerprints map[string]string  `json:"partialFingerprints"`
		Suppressions []sarifSuppression `json:"suppressions,omitempty"`
		Properties   sarifResultDetails `json:"properties"`
	}
	sarifSuppression struct {
		Kind          string `json:"kind"`
		Status        string `json:"status"`
		Justification string `json:"justification"`
	}
	sarifResultDetails struct {
		Outcome  string   `json:"outcome"`
		Severity string   `json:"severity"`
		Measured any      `json:"measured"`
		Unit     string   `json:"unit,omitempty"`
		Lower    *float64 `json:"lower,omitempty"`
		Upper    *float64 `json:"upper,omitempty"`
		Margin   *float64 `json:"margin,omitempty"`
	}
	sarifLocation struct {
		Physical sarifPhysical  `json:"physicalLocation"`
		Logical  []sarifLogical `json:"logicalLocations,omitempty"`
	}
	sarifPhysical struct {
		Artifact sarifURI     `json:"artifactLocation"`
		Region   *sarifRegion `json:"region,omitempty"`
	}
	sarifRegion struct {
		StartLine   int `json:"startLine"`
		StartColumn int `json:"startColumn,omitempty"`
		EndLine     int `json:"endLine,omitempty"`
		EndColumn   int `json:"endColumn,omitempty"`
	}
	sarifLogical struct {
		Name               string `json:"name"`
		FullyQualifiedName string `json:"fullyQualifiedName"`
		Kind               string `json:"kind"`
	}
)

const sourcesTaxonomy = "sources"

// level maps a severity to a SARIF level.
func level(s rulebook.Severity) string {
	switch s {
	case rulebook.Critical, rulebook.Major:
		return "error"
	case rulebook.Minor:
		return "warning"
	}
	return "note"
}

func writeSARIF(w io.Writer, reviews []*verdict.Review, o Options) error {
	driver := sarifComponent{Name: "wetrule", Version: o.Version, ShortDescription: words("Reviews the fit-out of foam-panel steam rooms and wet rooms")}
	if semantic(o.Version) {
		driver.SemanticVersion = strings.TrimPrefix(o.Version, "v")
	}
	var findings []sarifFinding
	index := map[*rulebook.Rule]int{}
	var rules []*rulebook.Rule
	for _, r := range reviews {
		for _, g := range r.Groups() {
			for _, rule := range g.Rules() {
				f := sarifFinding{r: r}
				for _, v := range g.Findings {
					if v.Rule == rule {
						f.same = append(f.same, v)
					}
				}
				findings = append(findings, f)
			}
		}
		for i := range r.Verdicts {
			if v := &r.Verdicts[i]; v.Leave() != nil && o.Suppressed {
				findings = append(findings, sarifFinding{r: r, same: []*verdict.Verdict{v}})
			}
		}
	}
	for _, f := range findings {
		if rule := f.same[0].Rule; !slices.Contains(rules, rule) {
			rules = append(rules, rule)
		}
	}
	sortRules(rules)
	for i, r := range rules {
		index[r] = i
	}
	var faults []*verdict.LeaveFault
	for _, r := range reviews {
		faults = append(faults, r.Faults...)
	}
	sources, targets := sarifSources(rules)
	status := o.Status(reviews)
	inv := sarifInvocation{Successful: status != StatusUnjudged, ExitCode: status}
	if len(reviews) == 0 {
		inv.Notifications = append(inv.Notifications, sarifNotification{Level: pick(o.Empty == "", "error", "note"), Message: *words(o.none())})
	}
	run := sarifRun{Automation: sarifID{"wetrule/"}, ColumnKind: "unicodeCodePoints"}
	uris := map[*verdict.Review]sarifURI{}
	for _, r := range reviews {
		uri := sarifURI{fileURI(r.File)}
		uris[r] = uri
		if n := len(run.Artifacts); n == 0 || run.Artifacts[n-1].Location != uri { // the jobs of a file follow one another
			run.Artifacts = append(run.Artifacts, sarifArtifact{uri})
		}
		for _, p := range r.Problems {
			inv.Notifications = append(inv.Notifications, sarifNotification{"error", *words(line(p.Message)),
				[]sarifLocation{{Physical: sarifPhysical{uri, region(verdict.Place{Line: p.Line, Col: p.Col})}}}})
		}
	}
	run.Invocations = []sarifInvocation{inv}
	if len(sources.Taxa) > 0 {
		driver.Supported = []sarifRef{{sourcesTaxonomy, 0}}
		run.Taxonomies = []sarifComponent{sources}
	}
	out := newRows(w)
	out.raw("{")
	out.members(sarifLog{"https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json", "2.1.0"})
	out.raw(",\n  \"runs\": [{\"tool\": {\"driver\": {")
	out.members(driver)
	out.raw(",\n  \"rules\": ")
	out.list(len(rules)+min(len(faults), 1), func(i int) any {
		if i == len(rules) {
			return leaveRule
		}
		return sarifRuleOf(rules[i], targets[i])
	})
	out.raw("}},")
	out.members(run)
	out.raw(",\n  \"results\": ")
	var result sarifResult
	out.list(len(findings)+len(faults), func(i int) any {
		if i >= len(findings) {
			result = sarifFaultOf(faults[i-len(findings)], len(rules))
			return &result
		}
		f := findings[i]
		result = sarifResultOf(f.r, f.same, index[f.same[0].Rule], uris[f.r])
		return &result
	})
	out.raw("}]}\n")
	return out.flush()
}

// sarifFinding is what becomes one result: findings of one rule that differ in nothing but the subject.
type sarifFinding struct {
	r    *verdict.Review
	same []*verdict.Verdict
}

// sarifSources makes a taxonomy of the sources of rules, and says for each rule where in it its source is.
// Two rulebooks may use one id for different sources; then the later ones get a number.
func sarifSources(rules []*rulebook.Rule) (sarifComponent, []sarifTarget) {
	sources := make([]*rulebook.Source, 0, len(rules))
	for _, r := range rules {
		if !slices.Contains(sources, r.Source.Source) {
			sources = append(sources, r.Source.Source)
		}
	}
	slices.SortStableFunc(sources, func(a, b *rulebook.Source) int {
		return cmp.Or(cmp.Compare(a.ID, b.ID), cmp.Compare(a.Title, b.Title), cmp.Compare(a.Edition, b.Edition))
	})
	t := sarifComponent{Name: sourcesTaxonomy, ShortDescription: words("Where the rules come from")}
	ids := map[string]int{}
	for _, s := range sources {
		id, title := s.ID, s.Title
		if s.Edition != "" {
			title += ", " + s.Edition
		}
		if ids[s.ID]++; ids[s.ID] > 1 {
			id += "/" + strconv.Itoa(ids[s.ID])
		}
		t.Taxa = append(t.Taxa, sarifRule{ID: id, ShortDescription: words(line(title))})
	}
	targets := make([]sarifTarget, len(rules))
	for i, r := range rules {
		n := slices.Index(sources, r.Source.Source)
		targets[i] = sarifTarget{t.Taxa[n].ID, n, sarifRef{sourcesTaxonomy, 0}}
	}
	return t, targets
}

func sarifResultOf(r *verdict.Review, same []*verdict.Verdict, rule int, uri sarifURI) sarifResult {
	v := same[0]
	lo, hi := v.Limits()
	d := sarifResultDetails{Outcome: v.Outcome.String(), Severity: v.Rule.Severity.String(), Measured: exact(v.Rule.Def.Type, *v.Value), Unit: v.Rule.Def.Unit, Lower: finite(lo), Upper: finite(hi)}
	if v.Outcome != verdict.Undetermined {
		d.Margin = finite(v.Margin())
	}
	l := level(v.Rule.Severity)
	if v.Outcome == verdict.NotJudged {
		l = "error" // whatever the rule asks, nobody has judged it
	}
	ids := make([]string, len(same))
	logical := make([]sarifLogical, len(same))
	for i, v := range same {
		ids[i] = v.Subject.ID
		id := clean(v.Subject.ID)
		logical[i] = sarifLogical{id, v.Subject.Kind + "/" + id, "element"}
	}
	print := v.Fingerprint(r.Name())
	var suppressions []sarifSuppression
	if v.Leave() != nil {
		suppressions = []sarifSuppression{{"external", "accepted", leaveText(v)}}
	}
	return sarifResult{RuleID: v.Rule.ID, RuleIndex: rule, Level: l, Message: *words(inOneParagraph(r, v, ids)), Suppressions: suppressions,
		Locations:    []sarifLocation{{sarifPhysical{uri, region(v.Place(r.Root))}, logical}},
		Fingerprints: map[string]string{"primaryLocationLineHash": print, "wetrule/v1": print}, Properties: d}
}

// leaveRule stands for what is wrong with concessions and deviation permits.
var leaveRule = sarifRule{ID: "leave-at-fault", ShortDescription: words("A leave holds, and the work keeps to it."),
	FullDescription: words("A concession or a deviation permit names a rule and an item that exist, has not run out, and the work does not go beyond it."),
	Help:            words("Renew the leave, correct it, or bring the work into order."), Default: &sarifDefault{"error"},
	Properties: &sarifRuleDetails{Tags: []string{"leaves"}, ProblemSeverity: "error", Severity: rulebook.Major.String(), From: rulebook.Design.String()}}

func sarifFaultOf(f *verdict.LeaveFault, rule int) sarifResult {
	sum := sha256.Sum256([]byte(strings.Join([]string{leaveRule.ID, f.File, f.Leave.Rule, f.Leave.Item}, "\x00")))
	print := hex.EncodeToString(sum[:16])
	id := clean(f.Leave.Item)
	return sarifResult{RuleID: leaveRule.ID, RuleIndex: rule, Level: level(f.Severity), Message: *words(sentence(clean(f.Text))),
		Locations:    []sarifLocation{{sarifPhysical{sarifURI{fileURI(f.File)}, region(f.Place)}, []sarifLogical{{id, "leave/" + clean(f.Leave.Rule) + "/" + id, "element"}}}},
		Fingerprints: map[string]string{"primaryLocationLineHash": print, "wetrule/v1": print},
		Properties:   sarifResultDetails{Outcome: "leave_at_fault", Severity: f.Severity.String()}}
}

// words is text of a SARIF file. There braces stand for arguments and are doubled (SARIF 2.1.0, 3.11.5, read), and
// [words](target) is a link (3.11.6, from memory), which text of a job must not become.
func words(s string) *sarifText {
	return &sarifText{unlinked.Replace(s)}
}

var unlinked = strings.NewReplacer("{", "{{", "}", "}}", "](", "] (")

// inOneParagraph says a finding about some subjects in one paragraph.
func inOneParagraph(r *verdict.Review, v *verdict.Verdict, subjects []string) string {
	s := clean(inWords(subjects)) + ": " + what(v) + sentence(v.Rule.Title)
	for _, d := range details(r, v) {
		switch d.word {
		case "why", "source", "worked", "":
			continue // they stand with the rule
		case "do":
			s += " " + sentence(d.text)
		default:
			s += " " + strings.ToUpper(d.word[:1]) + d.word[1:] + ": " + sentence(d.text)
		}
	}
	return s
}

// region is a place as SARIF knows it; there is none for a whole file.
func region(p verdict.Place) *sarifRegion {
	if p.Line == 0 {
		return nil
	}
	col := max(p.Col, 1)
	return &sarifRegion{StartLine: p.Line, StartColumn: col, EndLine: p.Line, EndColumn: max(p.EndCol, col+1)}
}

func sarifRuleOf(r *rulebook.Rule, source sarifTarget) sarifRule {
	help := "Allowed: " + sentence(r.AllowedText()) + "\n\nWhy: " + sentence(r.Why) + "\n\nWhat to do: " + sentence(r.Remedy) + "\n\nSource: " + sentence(r.Source.String())
	l := level(r.Severity)
	return sarifRule{ID: r.ID, ShortDescription: words(line(r.Title)), FullDescription: words(sentence(r.Title) + " " + sentence(r.Why)), Help: words(help),
		Default: &sarifDefault{l}, DeprecatedIDs: r.Aliases, Relationships: []sarifRelation{{source, []string{"relevant"}}},
		Properties: &sarifRuleDetails{Tags: []string{r.Subject, r.AppliesTo}, ProblemSeverity: map[string]string{"error": "error", "warning": "warning", "note": "recommendation"}[l], Severity: r.Severity.String(), From: r.From.String()}}
}

func sortRules(rules []*rulebook.Rule) {
	sort.Slice(rules, func(i, j int) bool { return rules[i].ID < rules[j].ID })
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// fileURI writes a path as a URI reference (RFC 3986). Relative paths stay relative; a colon in their first part does not
// make it a scheme.
func fileURI(file string) string {
	p := path.Clean(filepath.ToSlash(file))
	drive := len(p) > 2 && p[1] == ':' && p[2] == '/'
	switch {
	case drive:
		p = "/" + p
		fallthrough
	case strings.HasPrefix(p, "/"):
		return (&url.URL{Scheme: "file", Path: p}).String()
	}
	return (&url.URL{Path: p}).String()
}

func semantic(v string) bool {
	parts := strings.SplitN(strings.TrimPrefix(v, "v"), ".", 3)
	if len(parts) != 3 {
		return false
	}
	for _, p := range parts[:2] {
		if p == "" || strings.Trim(p, "0123456789") != "" {
			return false
		}
	}
	return parts[2] != "" && parts[2][0] >= '0' && parts[2][0] <= '9'
}
