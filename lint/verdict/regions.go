package verdict

import (
	"cmp"
	"slices"

	"wetrule/lint/measure"
	"wetrule/lint/rulebook"
)

// Regions is one job judged by several rulebooks, one a column.
type Regions struct {
	Columns []RegionColumn
	Rows    []*RegionRow // in order of rule and subject
}

// RegionColumn is the job judged by core and one rulebook over it.
type RegionColumn struct {
	rulebook.Manifest
	Review *Review
	Rules  map[string]*rulebook.Rule // those of its edition by id
}

// RegionRow is what the columns say of one subject by one rule.
type RegionRow struct {
	RuleID  string
	Subject *measure.Subject
	Cells   []RegionCell // one a column
	Differs bool         // whether the columns say different things: outcome, severity, or what is allowed
}

// RegionCell is what one column says.
type RegionCell struct {
	Rule    *rulebook.Rule // nil when the column does not have the rule
	Verdict *Verdict       // nil when the rule does not apply there
}

// Outcome names the outcome: one of Outcomes, or NoRule.
func (c RegionCell) Outcome() string {
	switch {
	case c.Verdict != nil:
		return c.Verdict.Outcome.String()
	case c.Rule == nil:
		return NoRule
	}
	return NotApplicable.String()
}

// same says whether two columns say the same of a subject.
func (c RegionCell) same(d RegionCell) bool {
	if c.Outcome() != d.Outcome() {
		return false
	}
	if c.Verdict == nil {
		return true
	}
	a, b := c.Verdict, d.Verdict
	aLo, aHi := a.Limits()
	bLo, bHi := b.Limits()
	return a.Rule.Severity == b.Rule.Severity && aLo == bLo && aHi == bHi && a.Rule.AllowedText() == b.Rule.AllowedText() && (a.Leave() == nil) == (b.Leave() == nil)
}

// NewRegions lays the columns beside each other. A column whose job could not be judged has no rows of its own.
func NewRegions(columns []RegionColumn) *Regions {
	x := &Regions{Columns: columns}
	type key struct{ rule, kind, subject string }
	index := map[key]*RegionRow{}
	for i, c := range columns {
		for k := range c.Review.Verdicts {
			v := &c.Review.Verdicts[k]
			id := key{v.Rule.ID, v.Subject.Kind, v.Subject.ID}
			row := index[id]
			if row == nil {
				row = &RegionRow{RuleID: v.Rule.ID, Subject: v.Subject, Cells: make([]RegionCell, len(columns))}
				index[id] = row
				x.Rows = append(x.Rows, row)
			}
			row.Cells[i].Verdict = v
		}
	}
	for _, row := range x.Rows {
		for i, c := range columns {
			row.Cells[i].Rule = c.Rules[row.RuleID]
			if i > 0 && !row.Cells[i].same(row.Cells[0]) {
				row.Differs = true
			}
		}
	}
	slices.SortFunc(x.Rows, func(a, b *RegionRow) int {
		return cmp.Or(cmp.Compare(a.RuleID, b.RuleID), cmp.Compare(a.Subject.Kind, b.Subject.Kind), cmp.Compare(a.Subject.ID, b.Subject.ID))
	})
	return x
}

// Judged says whether every column could judge the job in full.
func (x *Regions) Judged() bool {
	for _, c := range x.Columns {
		if !c.Review.Judged() {
			return false
		}
	}
	return len(x.Columns) > 0
}
