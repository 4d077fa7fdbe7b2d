package lint

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// ShippedRegions lists the names of the regional rulebooks that come with wetrule.
func ShippedRegions() []string {
	return slices.DeleteFunc(policies.Books(), func(n string) bool { return n == "core" })
}

// Regions judges one job by core alone and by each of the regional rulebooks (names, or folders) over it, whatever the country of the job.
// The rulebooks of the options lie over each. Rulebooks that the job names are kept, regional ones aside.
func Regions(ctx context.Context, o Options, f *jobfile.File, names []string) (*verdict.Regions, error) {
	job := *f.Job
	// Each name keeps its place in the list, since problems point there; core is below in any case.
	job.Rulebooks = make([]string, len(f.Job.Rulebooks))
	for i, n := range f.Job.Rulebooks {
		if job.Rulebooks[i] = n; strings.HasPrefix(n, "regions/") {
			job.Rulebooks[i] = "core"
		}
	}
	job.Country = "" // it neither chooses a rulebook nor gives cause for a notice here
	file := &jobfile.File{Name: f.Name, Root: f.Root, Job: &job}

	var columns []verdict.RegionColumn
	seen := map[string]bool{}
	for _, name := range append([]string{"core"}, names...) {
		own := o
		if name != "core" {
			own.Rulebooks = append([]string{name}, o.Rulebooks...)
		}
		l, err := New(own)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		c := verdict.RegionColumn{Manifest: l.Books[0].Manifest, Rules: map[string]*rulebook.Rule{}}
		if name != "core" {
			c.Manifest = l.Books[1].Manifest
		}
		if seen[c.Name] {
			return nil, fmt.Errorf("the rulebook %s is given twice", c.Name)
		}
		seen[c.Name] = true
		if c.Review, err = l.ReviewFile(ctx, file); err != nil {
			return nil, err
		}
		if len(c.Review.Problems) == 0 {
			e, err := l.editionFor(c.Review)
			if err != nil {
				return nil, err
			}
			for _, rule := range e.rules() {
				c.Rules[rule.ID] = rule
			}
		}
		columns = append(columns, c)
	}
	return verdict.NewRegions(columns), nil
}
