package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// ImpactVersion is the version of the JSON of a comparison; a new one breaks readers of the old.
const ImpactVersion = 1

// Impact writes a comparison: what another set of rulebooks makes of jobs. The status is the exit status of the command.
func Impact(w io.Writer, format string, x *verdict.Impact, status int, o Options) error {
	switch format {
	case "json":
		return impactJSON(w, x, status, o)
	case "text":
		return impactText(w, x, status, o)
	}
	return noFormat(format)
}

// arrow writes what was and what is; one of them when they are the same.
func arrow(before, after string) string {
	if before == after {
		return after
	}
	return before + " → " + after
}

// results are the exit statuses of a review in words.
var results = []string{"passes", "fails", "not_judged"}

func impactText(out io.Writer, x *verdict.Impact, status int, o Options) error {
	w := bufio.NewWriter(out)
	b := block{w, 4, 9}
	if !o.Quiet {
		for side, word := range []string{"before", "after"} {
			books := make([]string, len(x.Books[side]))
			for i, from := range x.Books[side] {
				books[i] = origin(from)
			}
			block{w, 0, 9}.line(word, strings.Join(books, ", "))
		}
		fmt.Fprintln(w)
	}
	idle := 0
	for _, r := range x.Rules {
		if len(r.Changes) == 0 {
			idle++
			continue
		}
		if !o.Quiet {
			impactRule(w, r)
		}
		for _, c := range r.Changes {
			impactChange(w, c, o)
		}
		if !o.Quiet {
			fmt.Fprintln(w)
		}
	}
	if idle > 0 && !o.Quiet {
		fmt.Fprintln(w, "Rules that differ and change no job")
		for _, r := range x.Rules {
			if len(r.Changes) == 0 {
				impactRule(w, r)
			}
		}
		fmt.Fprintln(w)
	}
	for _, j := range x.Jobs {
		if j.Judged {
			continue
		}
		for side, r := range j.Reviews {
			for _, p := range r.Problems {
				if side == verdict.After && same(j.Reviews[verdict.Before], p.Error()) {
					continue // told already
				}
				fmt.Fprintln(w, problemLine(r, p))
			}
			for i := range r.Verdicts {
				if v := &r.Verdicts[i]; v.Outcome == verdict.NotJudged {
					fmt.Fprintf(w, "%s: error: not judged by the rulebooks of %s: %s of %s: %s\n", clean(r.File), sideWords[side], v.Rule.ID, clean(v.Subject.ID), line(v.Reason()))
				}
			}
		}
	}
	if o.Quiet {
		return w.Flush()
	}
	head := false
	if _, unjudged := x.Changed(); unjudged > 0 {
		fmt.Fprintln(w)
	}
	for _, j := range x.Jobs {
		if !j.Changed() && j.Judged {
			continue
		}
		if !head {
			fmt.Fprintln(w, "Jobs that change or could not be judged")
			head = true
		}
		parts := []string{measure.Words(arrow(results[j.Status[verdict.Before]], results[j.Status[verdict.After]]))}
		if n := len(j.Changes); n > 0 {
			parts = append(parts, count(n, "verdict changes", "verdicts change"))
		}
		name := j.File
		if j.Reference != "" {
			name += " (" + j.Reference + ")"
		}
		paragraph(w, 4, name+": "+strings.Join(parts, ", "))
		for side, faults := range j.Faults {
			for _, f := range faults {
				paragraph(w, 8, []string{"no longer: ", "new: "}[side]+f)
			}
		}
	}
	if head {
		fmt.Fprintln(w)
	}
	changed, unjudged := x.Changed()
	fmt.Fprintf(w, "%s: %d change, %d not judged\n", count(len(x.Jobs), "job", "jobs"), changed, unjudged)
	b.line("rules", ruleCounts(x))
	e := x.Effects()
	b.line("findings", fmt.Sprintf("%d appear, %d get graver, %d get milder, %d go", e[verdict.Appears], e[verdict.Graver], e[verdict.Milder], e[verdict.Goes]))
	if n := e[verdict.Differs]; n > 0 {
		b.line("others", count(n, "verdict has", "verdicts have")+" another outcome")
	}
	b.line("jobs", resultCounts(x))
	b.line("result", []string{"no job changes", "some job changes", "not everything could be judged"}[status])
	return w.Flush()
}

var sideWords = [2]string{"before", "after"}

func same(r *verdict.Review, text string) bool {
	for _, p := range r.Problems {
		if p.Error() == text {
			return true
		}
	}
	return false
}

// origin names a rulebook of a side and where it was read.
func origin(b verdict.Origin) string {
	s := clean(b.Name + " " + b.Edition)
	switch {
	case b.Revision != "":
		s += fmt.Sprintf(" (%s at %s, commit %.12s)", clean(b.Folder), clean(b.Revision), b.Commit)
	case b.Folder != "":
		s += " (" + clean(b.Folder) + ")"
	}
	return s
}

// differenceWords name the parts of a rule for people.
var differenceWords = map[string]string{"applies_to": "applies to", "in_force": "in force", "limit_by": "limit by", "from": "asked from",
	"at_least_measure": "at least", "at_most_measure": "at most", "id": "once called"}

func impactRule(w io.Writer, r *verdict.RuleImpact) {
	rule := r.Rule()
	paragraph(w, 0, r.ID+": "+rule.Title)
	b := block{w, 4, 11}
	jobs := count(r.Jobs, "job", "jobs")
	switch change := r.Change(); {
	case r.Jobs == 0:
		b.line("rule", change+"; no job here is judged by it so: it holds at another date or in another country")
	case change == "same":
		b.line("rule", "as it was, in "+jobs+"; what it stands on is measured otherwise")
	default:
		b.line("rule", change+", in "+jobs)
	}
	if change := r.Change(); change == "added" || change == "removed" {
		b.line("severity", rule.Severity.String())
		b.line("allowed", rule.AllowedText())
		b.line("source", rule.Source.String())
	}
	for _, d := range r.Differences {
		word := d.What
		if s := differenceWords[word]; s != "" {
			word = s
		}
		before, after := d.Before, d.After
		if before == "" {
			before = "nothing"
		}
		if after == "" {
			after = "nothing"
		}
		if d.What == "id" {
			after = before
		}
		b.line(word, arrow(before, after))
	}
	was, is := ruleVerdicts(r, verdict.Before), ruleVerdicts(r, verdict.After)
	if was != "" || is != "" {
		b.line("verdicts", arrow(orNone(was), orNone(is)))
	}
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// ruleVerdicts counts the verdicts of a rule on one side.
func ruleVerdicts(r *verdict.RuleImpact, side int) string {
	var parts []string
	for i, name := range verdict.Outcomes() {
		if n := r.Counts[side][i]; n > 0 {
			parts = append(parts, count(n, measure.Words(name), pick(i == int(verdict.Conforms), "conform", measure.Words(name))))
		}
	}
	return strings.Join(parts, ", ")
}

// last is the side on which a changed verdict is shown: after, where it is there.
func last(c *verdict.Changed) int {
	if c.Verdicts[verdict.After] != nil {
		return verdict.After
	}
	return verdict.Before
}

func impactChange(w io.Writer, c *verdict.Changed, o Options) {
	impactChanges(w, []*verdict.Changed{c}, o)
}

// impactChanges writes changed verdicts that are alike but for their subjects as one.
func impactChanges(w io.Writer, like []*verdict.Changed, o Options) {
	c := like[0]
	shown := c.Verdicts[last(c)]
	p := shown.Place(c.Job.Reviews[last(c)].Root)
	on, off := "", ""
	if o.Colour {
		on, off = colours[c.Severity()], plain
	}
	subjects := make([]string, len(like))
	for i, c := range like {
		subjects[i] = clean(c.Subject.ID)
	}
	fmt.Fprintf(w, "%s%s%s%s: %s: %s [%s]\n", at(c.Job.Reviews[last(c)].File, p.Line, p.Col), on, changeWord(c), off, some(subjects), outcomeChange(c), c.Rule.ID)
	if !o.Quiet {
		impactBlock(w, c)
	}
}

// impactBlock writes what a changed verdict measured and allowed before and after.
func impactBlock(w io.Writer, c *verdict.Changed) {
	b := block{w, 4, 9}
	pair := func(f func(side int, v *verdict.Verdict) string) string {
		var parts [2]string
		for side, v := range c.Verdicts {
			if v != nil {
				parts[side] = f(side, v)
			}
		}
		switch {
		case parts[verdict.Before] == "":
			return parts[verdict.After]
		case parts[verdict.After] == "":
			return parts[verdict.Before]
		}
		return arrow(parts[verdict.Before], parts[verdict.After])
	}
	b.line("measured", pair(func(_ int, v *verdict.Verdict) string { return v.Rule.Def.Format(*v.Value) }))
	b.line("allowed", pair(func(side int, v *verdict.Verdict) string { return allowed(c.Job.Reviews[side], v) }))
	b.line("margin", pair(func(_ int, v *verdict.Verdict) string {
		if v.Outcome == verdict.Undetermined {
			return "not known"
		}
		return margin(v)
	}))
	if v := c.Verdicts[verdict.After]; v != nil {
		switch v.Outcome {
		case verdict.Undetermined:
			lack, all := missing(c.Job.Reviews[verdict.After], v)
			b.line(pick(all, "look at", "missing"), lack)
		case verdict.NotJudged:
			b.line("because", v.Reason())
		}
	}
}

// changeWord says in a word what the change is, with the severity of the finding.
func changeWord(c *verdict.Changed) string {
	s := c.Severity().String()
	switch c.Effect {
	case verdict.Appears:
		return "new " + s
	case verdict.Goes:
		return "no longer " + s
	case verdict.Graver, verdict.Milder:
		return c.Verdicts[verdict.Before].Rule.Severity.String() + " → " + s
	}
	return s
}

func outcomeChange(c *verdict.Changed) string {
	word := func(side int) string {
		s := measure.Words(c.Outcome(side))
		if v := c.Verdicts[side]; v != nil && v.Leave() != nil {
			s += " (conceded)"
		}
		return s
	}
	return arrow(word(verdict.Before), word(verdict.After))
}

func ruleCounts(x *verdict.Impact) string {
	seen := map[string]int{}
	for _, r := range x.Rules {
		seen[r.Change()]++
	}
	return fmt.Sprintf("%d added, %d removed, %d changed", seen["added"], seen["removed"], seen["changed"])
}

func resultCounts(x *verdict.Impact) string {
	words := []string{"passed and fail now", "failed and pass now", "pass as before", "fail as before", "not judged"}
	n := make([]int, len(words))
	for _, j := range x.Jobs {
		switch before, after := j.Status[verdict.Before], j.Status[verdict.After]; {
		case before == StatusUnjudged || after == StatusUnjudged:
			n[4]++
		case before == after:
			n[2+after]++
		default:
			n[before]++
		}
	}
	var parts []string
	for i, word := range words {
		if n[i] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[i], word))
		}
	}
	return strings.Join(parts, ", ")
}

// The JSON of a comparison; schema/impact.schema.json says what everything means.
type (
	impactHead struct {
		Impact int            `json:"impact"`
		Tool   jsonTool       `json:"tool"`
		FailAt string         `json:"fail_at"`
		Status int            `json:"status"`
		Before []impactBook   `json:"before"`
		After  []impactBook   `json:"after"`
		Counts impactCounters `json:"counts"`
	}
	impactBook struct {
		Name     string `json:"name"`
		Edition  string `json:"edition"`
		Folder   string `json:"folder,omitempty"`
		Revision string `json:"revision,omitempty"`
		Commit   string `json:"commit,omitempty"`
	}
	impactCounters struct {
		Jobs      int `json:"jobs"`
		Changed   int `json:"changed"`
		NotJudged int `json:"not_judged"`
		Added     int `json:"rules_added"`
		Removed   int `json:"rules_removed"`
		Altered   int `json:"rules_changed"`
		Appears   int `json:"appears"`
		Graver    int `json:"graver"`
		Milder    int `json:"milder"`
		Goes      int `json:"goes"`
		Differs   int `json:"differs"`
	}
	impactRuleRow struct {
		ID          string             `json:"id"`
		Change      string             `json:"change"`
		Title       string             `json:"title"`
		Severity    string             `json:"severity"`
		Allowed     string             `json:"allowed"`
		Source      jsonSource         `json:"source"`
		Rulebook    string             `json:"rulebook"`
		Differences []impactDifference `json:"differences"`
		Jobs        int                `json:"jobs"`
		Before      *impactOutcomes    `json:"verdicts_before,omitempty"`
		After       *impactOutcomes    `json:"verdicts_after,omitempty"`
		Changes     int                `json:"changes"`
	}
	impactDifference struct {
		What   string `json:"what"`
		Before string `json:"before"`
		After  string `json:"after"`
	}
	// impactOutcomes has the members of verdict.Outcomes that are listed, in their order.
	impactOutcomes struct {
		Conforms      int `json:"conforms"`
		Nonconforming int `json:"nonconforming"`
		Undetermined  int `json:"undetermined"`
		NotInForce    int `json:"not_in_force"`
		NotJudged     int `json:"not_judged"`
	}
	impactJob struct {
		File      string          `json:"file"`
		Reference string          `json:"reference,omitempty"`
		Title     string          `json:"title,omitempty"`
		Changed   bool            `json:"changed"`
		Before    string          `json:"before"`
		After     string          `json:"after"`
		Changes   int             `json:"changes"`
		Gone      []string        `json:"leave_faults_gone"`
		New       []string        `json:"leave_faults_new"`
		Problems  []impactProblem `json:"problems"`
	}
	impactProblem struct {
		Side string `json:"side"`
		jsonProblem
	}
	impactRow struct {
		File    string      `json:"file"`
		Rule    string      `json:"rule"`
		Kind    string      `json:"kind"`
		Subject string      `json:"subject"`
		Effect  string      `json:"effect"`
		Unit    string      `json:"unit,omitempty"`
		Before  impactState `json:"before"`
		After   impactState `json:"after"`
		Place   jsonPlace   `json:"place"`
	}
	impactState struct {
		Outcome  string   `json:"outcome"`
		Finding  bool     `json:"finding"`
		Conceded bool     `json:"conceded,omitempty"`
		Severity string   `json:"severity,omitempty"`
		Measured any      `json:"measured"`
		Allowed  string   `json:"allowed,omitempty"`
		LimitBy  string   `json:"limit_by,omitempty"`
		Lower    *float64 `json:"lower,omitempty"`
		Upper    *float64 `json:"upper,omitempty"`
		Margin   *float64 `json:"margin,omitempty"`
		Missing  []string `json:"missing,omitempty"`
		Reason   string   `json:"reason,omitempty"`
	}
)

func impactJSON(w io.Writer, x *verdict.Impact, status int, o Options) error {
	out := newRows(w)
	books := func(list []verdict.Origin) []impactBook {
		books := []impactBook{}
		for _, b := range list {
			books = append(books, impactBook{b.Name, b.Edition, b.Folder, b.Revision, b.Commit})
		}
		return books
	}
	head := impactHead{Impact: ImpactVersion, Tool: jsonTool{"wetrule", o.Version}, FailAt: o.FailAt.String(), Status: status,
		Before: books(x.Books[verdict.Before]), After: books(x.Books[verdict.After])}
	n := &head.Counts
	n.Jobs = len(x.Jobs)
	n.Changed, n.NotJudged = x.Changed()
	e := x.Effects()
	n.Appears, n.Graver, n.Milder, n.Goes, n.Differs = e[verdict.Appears], e[verdict.Graver], e[verdict.Milder], e[verdict.Goes], e[verdict.Differs]
	var changes []*verdict.Changed
	for _, r := range x.Rules {
		switch r.Change() {
		case "added":
			n.Added++
		case "removed":
			n.Removed++
		case "changed":
			n.Altered++
		}
		changes = append(changes, r.Changes...)
	}
	out.raw("{")
	out.members(head)
	out.raw(",\n  \"rules\": ")
	out.list(len(x.Rules), func(i int) any { return impactRuleOf(x.Rules[i]) })
	out.raw(",\n  \"jobs\": ")
	out.list(len(x.Jobs), func(i int) any { return impactJobOf(x.Jobs[i]) })
	out.raw(",\n  \"changes\": ")
	out.list(len(changes), func(i int) any { return impactRowOf(changes[i]) })
	out.raw("}\n")
	return out.flush()
}

func impactRuleOf(r *verdict.RuleImpact) impactRuleRow {
	rule := r.Rule()
	row := impactRuleRow{ID: r.ID, Change: r.Change(), Title: rule.Title, Severity: rule.Severity.String(), Allowed: rule.AllowedText(), Source: citation(rule.Source),
		Rulebook: rule.Rulebook, Differences: []impactDifference{}, Jobs: r.Jobs, Changes: len(r.Changes)}
	for _, d := range r.Differences {
		row.Differences = append(row.Differences, impactDifference(d))
	}
	counts := func(side int) *impactOutcomes {
		if r.Rules[side] == nil {
			return nil
		}
		c := r.Counts[side]
		return &impactOutcomes{c[verdict.Conforms], c[verdict.Nonconforming], c[verdict.Undetermined], c[verdict.NotInForce], c[verdict.NotJudged]}
	}
	row.Before, row.After = counts(verdict.Before), counts(verdict.After)
	return row
}

func citation(c rulebook.Citation) jsonSource {
	return jsonSource{ID: c.ID, Kind: c.Source.Kind, Title: c.Source.Title, Edition: c.Source.Edition, Clause: c.Clause, Basis: c.Basis, Note: c.Note}
}

func impactJobOf(j *verdict.JobImpact) impactJob {
	row := impactJob{File: j.File, Reference: j.Reference, Title: j.Title, Changed: j.Changed(), Before: results[j.Status[verdict.Before]], After: results[j.Status[verdict.After]],
		Changes: len(j.Changes), Gone: append([]string{}, j.Faults[verdict.Before]...), New: append([]string{}, j.Faults[verdict.After]...), Problems: []impactProblem{}}
	if j.Judged {
		return row
	}
	for side, r := range j.Reviews {
		for _, p := range r.Problems {
			row.Problems = append(row.Problems, impactProblem{sideWords[side], jsonProblem{p.Line, p.Col, p.Pointer, p.Message}})
		}
		for i := range r.Verdicts {
			if v := &r.Verdicts[i]; v.Outcome == verdict.NotJudged {
				row.Problems = append(row.Problems, impactProblem{sideWords[side], jsonProblem{Message: fmt.Sprintf("the rule %s could not be carried out for %s: %s", v.Rule.ID, v.Subject.ID, v.Reason())}})
			}
		}
	}
	return row
}

func impactRowOf(c *verdict.Changed) impactRow {
	v := c.Verdicts[last(c)]
	p := v.Place(c.Job.Reviews[last(c)].Root)
	return impactRow{File: c.Job.Reviews[last(c)].File, Rule: c.Rule.ID, Kind: c.Subject.Kind, Subject: c.Subject.ID, Effect: c.Effect.String(), Unit: v.Rule.Def.Unit,
		Before: impactStateOf(c, verdict.Before), After: impactStateOf(c, verdict.After), Place: jsonPlace{p.Pointer, p.Line, p.Col, p.EndCol}}
}

func impactStateOf(c *verdict.Changed, side int) impactState {
	v := c.Verdicts[side]
	s := impactState{Outcome: c.Outcome(side)}
	if v == nil {
		return s
	}
	return stateOf(c.Job.Reviews[side], v)
}

// stateOf says of one verdict what a comparison needs.
func stateOf(r *verdict.Review, v *verdict.Verdict) impactState {
	lo, hi := v.Limits()
	s := impactState{Outcome: v.Outcome.String(), Finding: v.Finding(), Conceded: v.Leave() != nil, Severity: v.Rule.Severity.String(), Measured: exact(v.Rule.Def.Type, *v.Value),
		Allowed: allowed(r, v), LimitBy: v.Rule.LimitBy(), Lower: finite(lo), Upper: finite(hi), Reason: v.Reason()}
	if v.Outcome == verdict.Undetermined {
		s.Missing, _ = r.Missing(v)
	} else {
		s.Margin = finite(v.Margin())
	}
	return s
}
