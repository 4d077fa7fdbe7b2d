package report

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"wetrule/lint/measure"
	"wetrule/lint/verdict"
)

// RegionsVersion is the version of the JSON of a table over regions; a new one breaks readers of the old.
const RegionsVersion = 1

// Regions writes a table of rules and regions: only what differs, or everything.
func Regions(w io.Writer, format string, x *verdict.Regions, all bool, o Options) error {
	var rows []*verdict.RegionRow
	for _, r := range x.Rows {
		if all || r.Differs {
			rows = append(rows, r)
		}
	}
	switch format {
	case "json":
		return regionsJSON(w, x, rows, all, o)
	case "text":
		return regionsText(w, x, rows, all)
	}
	return noFormat(format)
}

func regionsText(out io.Writer, x *verdict.Regions, rows []*verdict.RegionRow, all bool) error {
	w := bufio.NewWriter(out)
	wide, words := 0, 0
	for _, c := range x.Columns {
		wide = max(wide, utf8.RuneCountInString(clean(c.Name)))
	}
	for _, r := range rows {
		for i := range r.Cells {
			words = max(words, len(regionOutcome(r.Cells[i])))
		}
	}
	b := block{w, 4, words}
	// Subjects of one rule of which every region says the same share an entry.
	for i := 0; i < len(rows); {
		var subjects []string
		k := i
		for ; k < len(rows) && rows[k].RuleID == rows[i].RuleID && alike(x, rows[k], rows[i]); k++ {
			subjects = append(subjects, rows[k].Subject.ID)
		}
		paragraph(w, 0, rows[i].RuleID+": "+some(subjects))
		for _, said := range regionGroups(x, rows[i]) {
			names := strings.Join(said.names, ", ")
			if said.rest {
				names = "all others"
			}
			if len(said.names) == len(x.Columns) {
				names = "everywhere"
			}
			b.line(said.outcome, strings.TrimSuffix(names+": "+said.limit, ": "))
		}
		i = k
	}
	if len(rows) > 0 {
		fmt.Fprintln(w)
	}
	for _, c := range x.Columns {
		for _, p := range c.Review.Problems {
			fmt.Fprintf(w, "%s: %s\n", clean(c.Name), problemLine(c.Review, p))
		}
		if len(c.Review.Problems) == 0 {
			block{w, 0, wide}.line(clean(c.Name), fmt.Sprintf("%s, %s: %s", c.Title, c.Edition, outcomes(c.Review)))
		}
	}
	n := 0
	for _, r := range x.Rows {
		if r.Differs {
			n++
		}
	}
	hint := ""
	if !all {
		hint = "; --all shows the others too"
	}
	fmt.Fprintf(w, "%d of %s differ between the regions%s\n", n, count(len(x.Rows), "verdict", "verdicts"), hint)
	return w.Flush()
}

// regionGroup is what several regions say alike.
type regionGroup struct {
	names          []string
	outcome, limit string
	rest           bool // most regions
}

// regionGroups puts regions that say the same together, in order of the first of each; most of them, when it is three or more, come last.
func regionGroups(x *verdict.Regions, r *verdict.RegionRow) []regionGroup {
	var out []regionGroup
	for n, cell := range r.Cells {
		g := regionGroup{outcome: regionOutcome(cell), limit: regionLimit(x, n, cell)}
		i := slices.IndexFunc(out, func(o regionGroup) bool { return o.outcome == g.outcome && o.limit == g.limit })
		if i < 0 {
			i = len(out)
			out = append(out, g)
		}
		out[i].names = append(out[i].names, x.Columns[n].Name)
	}
	most := 0
	for i := range out {
		if len(out[i].names) > len(out[most].names) {
			most = i
		}
	}
	if g := out[most]; len(out) > 1 && len(g.names) >= 3 {
		g.rest = true
		out = append(slices.Delete(out, most, most+1), g)
	}
	return out
}

func alike(x *verdict.Regions, a, b *verdict.RegionRow) bool {
	for i := range a.Cells {
		if regionOutcome(a.Cells[i]) != regionOutcome(b.Cells[i]) || regionLimit(x, i, a.Cells[i]) != regionLimit(x, i, b.Cells[i]) {
			return false
		}
	}
	return true
}

func regionOutcome(c verdict.RegionCell) string {
	s := measure.Words(c.Outcome())
	if c.Verdict != nil && c.Verdict.Leave() != nil {
		s = "conceded"
	}
	return s
}

// regionLimit says what a region allows, how grave it is and where that comes from. A rule that does not apply, or is not there,
// has nothing to say.
func regionLimit(x *verdict.Regions, column int, c verdict.RegionCell) string {
	if c.Verdict == nil {
		return ""
	}
	v := c.Verdict
	return strings.Join([]string{allowed(x.Columns[column].Review, v), v.Rule.Severity.String(), v.Rule.Source.String()}, "; ")
}

// The JSON of a table over regions; schema/regions.schema.json says what everything means.
type (
	regionsHead struct {
		Regions   int            `json:"regions"`
		Tool      jsonTool       `json:"tool"`
		File      string         `json:"file"`
		Reference string         `json:"reference,omitempty"`
		Stage     string         `json:"stage,omitempty"`
		JudgedOn  string         `json:"judged_on,omitempty"`
		All       bool           `json:"all"`
		Verdicts  int            `json:"verdicts"`
		Differ    int            `json:"differ"`
		Columns   []regionColumn `json:"columns"`
	}
	regionColumn struct {
		Name     string        `json:"name"`
		Title    string        `json:"title"`
		Edition  string        `json:"edition"`
		Country  string        `json:"country,omitempty"`
		Counts   jsonCounts    `json:"counts"`
		Problems []jsonProblem `json:"problems"`
		Notices  []string      `json:"notices"`
	}
	regionRow struct {
		Rule    string       `json:"rule"`
		Kind    string       `json:"kind"`
		Subject string       `json:"subject"`
		Unit    string       `json:"unit,omitempty"`
		Differs bool         `json:"differs"`
		Cells   []regionCell `json:"cells"`
	}
	regionCell struct {
		Region string `json:"region"`
		impactState
		Title  string      `json:"title,omitempty"`
		Source *jsonSource `json:"source,omitempty"`
	}
)

func regionsJSON(w io.Writer, x *verdict.Regions, rows []*verdict.RegionRow, all bool, o Options) error {
	head := regionsHead{Regions: RegionsVersion, Tool: jsonTool{"wetrule", o.Version}, All: all, Verdicts: len(x.Rows), Columns: []regionColumn{}}
	for _, r := range x.Rows {
		if r.Differs {
			head.Differ++
		}
	}
	for i, c := range x.Columns {
		r := c.Review
		if i == 0 {
			head.File, head.Reference, head.JudgedOn, head.Stage = r.File, r.Reference, r.On, r.Stage.String()
		}
		col := regionColumn{c.Name, c.Title, c.Edition, c.Country, countsOf(r), []jsonProblem{}, append([]string{}, r.Notices...)}
		for _, p := range r.Problems {
			col.Problems = append(col.Problems, jsonProblem{p.Line, p.Col, p.Pointer, p.Message})
		}
		head.Columns = append(head.Columns, col)
	}
	out := newRows(w)
	out.raw("{")
	out.members(head)
	out.raw(",\n  \"rows\": ")
	out.list(len(rows), func(i int) any {
		r := rows[i]
		row := regionRow{Rule: r.RuleID, Kind: r.Subject.Kind, Subject: r.Subject.ID, Differs: r.Differs}
		for n, cell := range r.Cells {
			c := regionCell{Region: x.Columns[n].Name, impactState: impactState{Outcome: cell.Outcome()}}
			if v := cell.Verdict; v != nil {
				c.impactState = stateOf(x.Columns[n].Review, v)
				c.Title, row.Unit = v.Rule.Title, v.Rule.Def.Unit
				s := citation(v.Rule.Source)
				c.Source = &s
			}
			row.Cells = append(row.Cells, c)
		}
		return row
	})
	out.raw("}\n")
	return out.flush()
}
