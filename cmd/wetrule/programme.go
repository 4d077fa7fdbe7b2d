package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/programme"
	"wetrule/lint/report"
)

func (a *app) programme() *cobra.Command {
	var o struct {
		lint.Options
		format, output, start string
	}
	c := &cobra.Command{
		Use:   "programme JOB",
		Short: "Make the dated programme of the work: order, cure times, working hours, crew",
		Long: "Makes the dated programme of a job: its tasks in the order that the rules ask for, with the time that the methods of work\n" +
			"or the job give them, cure times at the temperature of the site, working hours, public holidays and the crew (section\n" +
			"programme of the job). Says for each task what it waits for, which tasks are critical, when to inspect, and when steam may\n" +
			"first be raised. Against recorded times it forecasts anew, and says what slipped and why.\n\n" +
			"Exit status: 0 every task has its dates, 1 something has no date or a time is not known, 2 no programme can be made.",
		Example: "  wetrule programme room.yaml\n  wetrule programme room.yaml --start 2026-03-02 --format html -o programme.html\n  wetrule programme room.yaml -f ics -o programme.ics",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if known := report.ProgrammeFormats(); !slices.Contains(known, o.format) {
				return fmt.Errorf("there is no format %q; known: %s", o.format, strings.Join(known, ", "))
			}
			l, err := lint.New(o.Options)
			if err != nil {
				return err
			}
			f, _, err := a.oneJob(args[0])
			if err != nil {
				return err
			}
			p, err := l.Programme(f, o.start)
			var ring *programme.CycleError
			if errors.As(err, &ring) {
				return fmt.Errorf("%s: %w", f.Name, ring)
			}
			if err != nil {
				return err
			}
			if !p.Whole {
				a.status = report.StatusFindings
			}
			return a.to(o.output, func(w io.Writer) error { return report.Programme(w, o.format, p, report.Options{Version: version()}) })
		},
	}
	booksFlag(c, &o.Rulebooks)
	f := c.Flags()
	f.StringVarP(&o.format, "format", "f", "text", strings.Join(report.ProgrammeFormats(), ", "))
	f.StringVarP(&o.output, "output", "o", "", "write to this file")
	f.StringVar(&o.start, "start", "", "plan anew from this day (YYYY-MM-DD); planned starts of the job do not hold")
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the job's")
	return c
}
