package lint

import (
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
	"wetrule/lint/methods"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Planned is the plan of the work for one job.
type Planned struct {
	Plan    *methods.Plan
	Set     *measure.Set
	Methods *rulebook.MethodSet
	Books   []rulebook.Manifest
	On      string // the day whose edition of the rulebooks holds
}

// Plan makes the plan of the work of a job that has been loaded, by the methods of work of the rulebooks that would judge it. The error is
// jobfile.Problems when the job names rulebooks that there are not.
func (l *Linter) Plan(f *jobfile.File) (*Planned, error) {
	r := &verdict.Review{File: f.Name, Country: f.Job.Country, On: f.Job.JudgedOn}
	if l.o.On != "" {
		r.On = l.o.On
	}
	names := l.applied(f, r)
	if len(r.Problems) > 0 {
		return nil, r.Problems
	}
	laid, layers, err := l.methods(names, r.On)
	if err != nil {
		return nil, err
	}
	set := measure.NewPlan(nil, measure.WithZones(rulebook.ZoneGeometry(rulebook.LayZones(layers.Books))...)).Measure(f.Job)
	plan, err := methods.For(f.Job, set, laid)
	if err != nil {
		return nil, err
	}
	return &Planned{Plan: plan, Set: set, Methods: laid, Books: manifests(layers.Books), On: r.On}, nil
}

// Methods returns the methods of work of core and of the options, in the edition of the options' date, or the latest.
func (l *Linter) Methods() (*rulebook.MethodSet, error) {
	day := l.o.On
	if day == "" {
		day = Latest
	}
	set, _, err := l.methods(nil, day)
	return set, err
}

func (l *Linter) methods(names []string, day string) (*rulebook.MethodSet, *rulebook.Layers, error) {
	layers, err := l.lay(names)
	if err != nil {
		return nil, nil, err
	}
	set, err := layers.Methods(day)
	return set, layers, err
}
