package main

import (
	"io"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/report"
)

// methods shows how the work is done: the methods of work, or those of a job with its figures.
func (a *app) methods() *cobra.Command {
	var o lint.Options
	var format, output string
	c := &cobra.Command{
		Use:   "methods [JOB]",
		Short: "List the methods of work, or the steps, tools, materials and inspections of a job",
		Long: "Without a job it lists the methods of work. With one it lists the steps in the order of work with the job's figures, who does them, the\n" +
			"tools with their sizes, the materials with their quantities, inspections, records to take, cautions, and what the job does not say.",
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			if len(args) == 0 {
				set, err := l.Methods()
				if err != nil {
					return err
				}
				return a.to(output, func(w io.Writer) error { return report.MethodList(w, format, set) })
			}
			f, _, err := a.oneJob(args[0])
			if err != nil {
				return err
			}
			p, err := l.Plan(f)
			if err != nil {
				return err
			}
			head := report.PlanHead{File: f.Name, Reference: f.Job.Reference, Title: f.Job.Title, On: p.On, Books: p.Books}
			return a.to(output, func(w io.Writer) error { return report.Plan(w, format, head, p.Plan) })
		},
	}
	booksFlag(c, &o.Rulebooks)
	formatFlag(c, &format)
	c.Flags().StringVar(&o.On, "on", "", "in the edition of this date (YYYY-MM-DD); the job's date by default")
	c.Flags().StringVarP(&output, "output", "o", "", "write to this file")
	return c
}
