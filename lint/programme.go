package lint

import (
	"fmt"

	"wetrule/lint/jobfile"
	"wetrule/lint/programme"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// Programme makes the dated programme of a job by the rulebooks that apply to it. With a start (YYYY-MM-DD) it plans anew from that day: the planned
// starts of the job do not hold then. The error is jobfile.Problems where the job is at fault, and *programme.CycleError where its tasks
// wait for one another in a ring.
func (l *Linter) Programme(f *jobfile.File, start string) (*programme.Programme, error) {
	if start != "" && !isDate(start) {
		return nil, fmt.Errorf("%q is not a date (YYYY-MM-DD)", start)
	}
	r := verdict.Review{File: f.Name}
	names := l.applied(f, &r)
	if len(r.Problems) > 0 {
		return nil, r.Problems
	}
	layers, err := l.lay(names)
	if err != nil {
		return nil, err
	}
	on := f.Job.JudgedOn
	if l.o.On != "" {
		on = l.o.On
	}
	rules, err := choose(layers.At(layers.Edition(on)), l.o.Only, l.o.Without)
	if err != nil {
		return nil, err
	}
	laid, err := layers.Methods(layers.Edition(on))
	if err != nil {
		return nil, err
	}
	return programme.Make(programme.Input{
		File: f, On: on, Start: start, Rules: rules, Methods: laid, Books: manifests(layers.Books), Zones: rulebook.ZoneGeometry(rulebook.LayZones(layers.Books)),
	})
}
