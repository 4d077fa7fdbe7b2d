package lint

import (
	"context"

	"wetrule/lint/compare"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/verdict"
)

// Comparison is what differs between two revisions of a job.
type Comparison struct {
	Parts []*compare.Part
	// Verdicts are the verdicts that change, each revision judged by the rulebooks, the stage and the date that it asks for.
	Verdicts *verdict.Impact
	Reviews  [2]*verdict.Review
}

// Compare holds two revisions of a job against each other: facts and verdicts. Files that are at fault are in the reviews.
func (l *Linter) Compare(ctx context.Context, before, after Input, judged report.Options) (*Comparison, error) {
	c := &Comparison{Verdicts: &verdict.Impact{}}
	var roots [2]*jobfile.Node
	var editions [2]edition
	for side, in := range []Input{before, after} {
		result, err := l.reviewInput(ctx, &Memory{}, in, Shard{})
		if err != nil {
			return nil, err
		}
		r := result.Review
		c.Reviews[side] = r
		roots[side] = r.Root
		if len(r.Problems) == 0 {
			if editions[side], err = l.editionFor(r); err != nil {
				return nil, err
			}
		}
	}
	var status [2]int
	for side, r := range c.Reviews {
		status[side] = judged.Status([]*verdict.Review{r})
	}
	var pair *verdict.Pair
	if len(c.Reviews[0].Problems)+len(c.Reviews[1].Problems) == 0 {
		c.Parts = compare.Jobs(roots[0], roots[1])
		chosen, err := chooser(l.o.Only, l.o.Without, [2]*Linter{l, l})
		if err != nil {
			return nil, err
		}
		pair = c.Verdicts.Pair(editions[0].rules(), editions[1].rules(), regoOf(editions[0].layers), regoOf(editions[1].layers), chosen)
	}
	c.Verdicts.Add(c.Reviews[0], c.Reviews[1], pair, status)
	c.Verdicts.Finish()
	return c, nil
}

// Status is the exit status of a comparison: 0 nothing differs, 1 something does, 2 one of the revisions could not be read or judged.
func (c *Comparison) Status() int {
	_, unjudged := c.Verdicts.Changed()
	switch {
	case unjudged > 0:
		return report.StatusUnjudged
	case len(c.Parts) > 0 || c.Verdicts.Jobs[0].Changed():
		return report.StatusFindings
	}
	return report.StatusClean
}
