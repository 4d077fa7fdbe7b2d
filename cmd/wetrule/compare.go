package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
)

// The commands that hold rulebooks against each other.

func (a *app) impact() *cobra.Command {
	var o struct {
		lint.Change
		format, failAt, output, colour string
		quiet, tolerate                bool
	}
	c := &cobra.Command{
		Use:   "impact JOB... | FOLDER... --before BOOK --after BOOK",
		Short: "Show which jobs change when a rulebook changes",
		Long: "Reviews jobs by two sets of rulebooks and shows which verdicts change, rule by rule. Core and the rulebook of the\n" +
			"country of each job lie below both. A folder of a git checkout can be read as it was at a revision; nothing in\n" +
			"the checkout is touched. A revision is for every folder of its side; a side without books takes those of the other.\n" +
			"A folder that holds a rulebook of the name of one that comes with wetrule stands in its place.\n\n" +
			"A rule that only one side has changes a job by its findings; what it finds in order is counted.\n\n" +
			"Exit status: 0 no job changes, 1 some job changes, 2 something could not be judged.",
		Example: "  wetrule impact jobs --after firm\n" +
			"  wetrule impact jobs --before firm --before-rev main --after firm\n" +
			"  wetrule impact jobs --rulebook firm --before-rev v1 --after-rev v2 --format json -o impact.json",
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			severity, err := threshold(o.failAt)
			if err != nil {
				return err
			}
			if err := twoFormats(o.format); err != nil {
				return err
			}
			colour, err := a.colour(o.colour, o.output)
			if err != nil {
				return err
			}
			inputs, err := a.jobs(args)
			if err != nil {
				return err
			}
			o.Judged = report.Options{Version: version(), FailAt: severity, Tolerate: o.tolerate, Quiet: o.quiet, Colour: colour}
			progress, stop := a.progress(2*len(inputs), o.quiet)
			x, err := lint.Impact(c.Context(), o.Change, inputs, progress)
			stop()
			if err != nil {
				return err
			}
			if err := a.passedOver(x.PassedOver, len(x.Jobs)); err != nil {
				return err
			}
			a.status = lint.ImpactStatus(x)
			return a.to(o.output, func(w io.Writer) error { return report.Impact(w, o.format, x, a.status, o.Judged) })
		},
	}
	f := c.Flags()
	f.StringArrayVar(&o.Before.Rulebooks, "before", nil, "a rulebook of before: a name or a folder (may be repeated)")
	f.StringArrayVar(&o.After.Rulebooks, "after", nil, "a rulebook of after: a name or a folder (may be repeated)")
	f.StringVar(&o.Before.Revision, "before-rev", "", "read the folders of before as they were at this git revision")
	f.StringVar(&o.After.Revision, "after-rev", "", "read the folders of after as they were at this git revision")
	f.StringArrayVarP(&o.Rulebooks, "rulebook", "r", nil, "a rulebook of both sides: a name or a folder (may be repeated)")
	formatFlag(c, &o.format)
	f.StringVar(&o.failAt, "fail-at", "minor", "tell which jobs pass and fail from this severity on: "+strings.Join(rulebook.Severities(), ", "))
	f.BoolVar(&o.tolerate, "tolerate-undetermined", false, "a job does not fail for what it does not say")
	f.StringVar(&o.Stage, "stage", "", "judge for this stage in place of the job's: "+strings.Join(rulebook.Stages(), ", "))
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the job's")
	f.StringSliceVar(&o.Only, "only", nil, "show only these rules or subjects")
	f.StringSliceVar(&o.Without, "without", nil, "leave out these rules or subjects")
	f.StringArrayVar(&o.Leaves, "leaves", nil, "a file of concessions and deviation permits beside the jobs (may be repeated)")
	f.BoolVarP(&o.quiet, "quiet", "q", false, "one line a changed verdict and nothing else")
	f.StringVarP(&o.output, "output", "o", "", "write to this file")
	f.StringVar(&o.colour, "colour", "auto", "colours: auto, always or never")
	return c
}

func twoFormats(name string) error {
	if name != "text" && name != "json" {
		return fmt.Errorf("there is no format %q; known: text, json", name)
	}
	return nil
}

func (a *app) regions() *cobra.Command {
	var o struct {
		lint.Options
		format, output string
		regions        []string
		all            bool
	}
	c := &cobra.Command{
		Use:   "regions JOB",
		Short: "Judge one job in every region and show where they differ",
		Long: "Judges one job by core alone and by each regional rulebook, whatever the country of the job, and shows the verdicts\n" +
			"that differ: outcome, what is allowed, severity and source.\n\n" +
			"Exit status: 0 judged, 2 something could not be judged. What the job gets wrong does not matter here.",
		Example: "  wetrule regions room.yaml\n  wetrule regions room.yaml --region regions/gb --all",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := twoFormats(o.format); err != nil {
				return err
			}
			f, _, err := a.oneJob(args[0])
			if err != nil {
				return err
			}
			names := o.regions
			if len(names) == 0 {
				names = lint.ShippedRegions()
			}
			x, err := lint.Regions(c.Context(), o.Options, f, names)
			if err != nil {
				return err
			}
			if !x.Judged() {
				a.status = report.StatusUnjudged
			}
			return a.to(o.output, func(w io.Writer) error {
				return report.Regions(w, o.format, x, o.all, report.Options{Version: version()})
			})
		},
	}
	f := c.Flags()
	f.StringArrayVar(&o.regions, "region", nil, "only this regional rulebook: a name or a folder (may be repeated)")
	f.BoolVar(&o.all, "all", false, "also show what is the same in every region")
	f.StringArrayVarP(&o.Rulebooks, "rulebook", "r", nil, "also judge by this rulebook over each region: a name or a folder (may be repeated)")
	formatFlag(c, &o.format)
	f.StringVar(&o.Stage, "stage", "", "judge for this stage in place of the job's: "+strings.Join(rulebook.Stages(), ", "))
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the job's")
	f.StringSliceVar(&o.Only, "only", nil, "judge only by these rules or subjects")
	f.StringSliceVar(&o.Without, "without", nil, "leave out these rules or subjects")
	f.StringVarP(&o.output, "output", "o", "", "write to this file")
	return c
}

// readUpTo reads no more of a file than it takes to see that it is too large.
func readUpTo(name string, most int64) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, most+1))
}

func (a *app) ciKit() *cobra.Command {
	var output string
	var names, about []string
	for _, k := range kit {
		names = append(names, k.name)
		about = append(about, fmt.Sprintf("  %-16s %s", k.name, k.about))
	}
	c := &cobra.Command{
		Use:   "ci-kit [NAME]",
		Short: "Write small ready files that review jobs in CI and before a commit",
		Long: "Prints one file of the kit, or writes it, or all of them, into a folder. What is there already is left as it is.\n\n" +
			strings.Join(about, "\n"),
		Example:   "  wetrule ci-kit\n  wetrule ci-kit wetrule-gate.sh\n  wetrule ci-kit -o ci\n  wetrule ci-kit pre-commit -o .git/hooks",
		Args:      cobra.MaximumNArgs(1),
		ValidArgs: names,
		RunE: func(_ *cobra.Command, args []string) error {
			files := kit
			if len(args) == 1 {
				i := slices.Index(names, args[0])
				if i < 0 {
					s := "; known: " + strings.Join(names, ", ")
					if near := jobfile.Suggest(args[0], names); near != "" {
						s = fmt.Sprintf("; did you mean %q?", near)
					}
					return fmt.Errorf("there is no %q in the kit%s", args[0], s)
				}
				files = kit[i : i+1]
			}
			switch {
			case output != "":
				return a.putKit(output, files)
			case len(args) == 1:
				_, err := a.stdout.Write(files[0].text())
				return err
			}
			for _, line := range about {
				if _, err := fmt.Fprintln(a.stdout, strings.TrimPrefix(line, "  ")); err != nil {
					return err
				}
			}
			return nil
		},
	}
	c.Flags().StringVarP(&output, "output", "o", "", "write into this folder")
	return c
}

// putKit writes files of the kit into a folder: all of them or, when one is there already, none.
func (a *app) putKit(folder string, files []kitFile) error {
	for _, k := range files {
		if name := filepath.Join(folder, k.name); exists(name) {
			return fmt.Errorf("%s is there already; it is left as it is", name)
		}
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("%s cannot be made: %w", folder, jobfile.Bare(err))
	}
	for _, k := range files {
		name := filepath.Join(folder, k.name)
		if err := a.to(name, func(w io.Writer) error { _, err := w.Write(k.text()); return err }); err != nil {
			return err
		}
		if k.runs {
			if err := os.Chmod(name, 0o755); err != nil {
				return fmt.Errorf("%s cannot be made a command: %w", name, jobfile.Bare(err))
			}
		}
		fmt.Fprintln(a.stdout, name)
	}
	return nil
}

func exists(name string) bool {
	_, err := os.Lstat(name)
	return err == nil
}
