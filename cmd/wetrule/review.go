package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// fewJobs is up to how many jobs no progress is shown.
const fewJobs = 20

func (a *app) review() *cobra.Command {
	var o struct {
		format, failAt, output, colour, snapshot string
		quiet, tolerate, tighten, suppressed     bool
		lint.Options
	}
	c := &cobra.Command{
		Use:   "review JOB... | FOLDER... | -",
		Short: "Review job files",
		Long: "Reviews job files (YAML or JSON), folders of them, or standard input (-).\n\n" +
			"Exit status: 0 nothing at or above the threshold, 1 findings, 2 something could not be judged.",
		Example: "  wetrule review room.yaml\n  wetrule review jobs --fail-at major --format sarif -o review.sarif",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			severity, err := threshold(o.failAt)
			if err != nil {
				return err
			}
			if !slices.Contains(report.Formats(), o.format) {
				s := jobfile.Suggest(o.format, report.Formats())
				if s != "" {
					s = fmt.Sprintf("; did you mean %q?", s)
				} else {
					s = "; known: " + strings.Join(report.Formats(), ", ")
				}
				return fmt.Errorf("there is no format %q%s", o.format, s)
			}
			colour, err := a.colour(o.colour, o.output)
			if err != nil {
				return err
			}
			inputs, err := a.jobs(args)
			if err != nil {
				return err
			}
			l, err := lint.New(o.Options)
			if err != nil {
				return err
			}
			progress, stop := a.progress(len(inputs), o.quiet)
			batch, err := l.ReviewAll(c.Context(), inputs, progress)
			stop()
			if err != nil {
				return err
			}
			if err := a.passedOver(batch.PassedOver, len(batch.Reviews)); err != nil {
				return err
			}
			ro := report.Options{Version: version(), FailAt: severity, Tolerate: o.tolerate, Suppressed: o.suppressed, Quiet: o.quiet, Colour: colour}
			if err := a.ratchet(o.snapshot, o.tighten, batch.Reviews, ro); err != nil {
				return err
			}
			a.status = ro.Status(batch.Reviews)
			return a.to(o.output, func(w io.Writer) error { return report.Write(w, o.format, batch.Reviews, ro) })
		},
	}
	f := c.Flags()
	f.StringVarP(&o.format, "format", "f", "text", "how to write the review: "+report.About())
	f.StringVar(&o.failAt, "fail-at", "minor", "fail from this severity on: "+strings.Join(rulebook.Severities(), ", "))
	f.StringVar(&o.Stage, "stage", "", "judge for this stage in place of the job's: "+strings.Join(rulebook.Stages(), ", "))
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the job's")
	f.StringArrayVarP(&o.Rulebooks, "rulebook", "r", nil, "also judge by this rulebook: a name, a folder or a sealed one (.tar.gz) (may be repeated)")
	signatureFlags(c, &o.Options)
	f.StringSliceVar(&o.Only, "only", nil, "judge only by these rules or subjects")
	f.StringSliceVar(&o.Without, "without", nil, "leave out these rules or subjects")
	f.StringArrayVar(&o.Leaves, "leaves", nil, "a file of concessions and deviation permits beside the jobs (may be repeated)")
	f.StringVar(&o.snapshot, "snapshot", "", "fail only for what is new or worse than in this snapshot")
	f.BoolVar(&o.tighten, "tighten", false, "write what got better into the snapshot, when nothing fails")
	f.BoolVar(&o.suppressed, "suppressed", false, "SARIF: also write conceded findings, marked as suppressed")
	f.BoolVar(&o.tolerate, "tolerate-undetermined", false, "do not fail for what the job does not say")
	f.BoolVarP(&o.quiet, "quiet", "q", false, "one line a finding and nothing else")
	f.StringVarP(&o.output, "output", "o", "", "write to this file")
	f.StringVar(&o.colour, "colour", "auto", "colours: auto, always or never")
	return c
}

// threshold reads the severity from which on findings fail a review.
func threshold(name string) (rulebook.Severity, error) {
	severity, ok := rulebook.ParseSeverity(name)
	if !ok {
		return severity, fmt.Errorf("there is no severity %q; known: %s", name, strings.Join(rulebook.Severities(), ", "))
	}
	return severity, nil
}

// jobs finds the job files that the arguments name; none is an error.
func (a *app) jobs(args []string) ([]lint.Input, error) {
	inputs, err := lint.Collect(args, a.stdin)
	if err == nil && len(inputs) == 0 {
		err = fmt.Errorf("there is no job file in %s (looked for .yaml, .yml and .json)", strings.Join(args, ", "))
	}
	return inputs, err
}

// passedOver tells which files are no jobs; when none of them is one, that is an error.
func (a *app) passedOver(names []string, jobs int) error {
	if len(names) > 0 {
		fmt.Fprintf(a.stderr, "wetrule: passed over as no job (without the key wetrule): %s\n", strings.Join(names, ", "))
	}
	if jobs == 0 {
		return errors.New("there is no job among the files")
	}
	return nil
}

// ratchet lays a snapshot over reviews, says what has changed, and tightens the snapshot when asked to and nothing fails.
func (a *app) ratchet(file string, tighten bool, reviews []*verdict.Review, o report.Options) error {
	if file == "" {
		if tighten {
			return errors.New("--tighten goes with --snapshot")
		}
		return nil
	}
	data, err := readUpTo(file, verdict.MaxSnapshot)
	if err != nil {
		return fmt.Errorf("%s cannot be read: %w", file, bare(err))
	}
	s, err := verdict.ReadSnapshot(file, data)
	if err != nil {
		return err
	}
	p := s.Compare(reviews)
	for _, w := range p.Worse {
		fmt.Fprintln(a.stderr, "wetrule: worse than in the snapshot: "+w)
	}
	fmt.Fprintf(a.stderr, "wetrule: snapshot: %d known, %d worse, %d better, %d gone\n", p.Known, len(p.Worse), len(p.Better), len(p.Gone))
	if tighten && o.Status(reviews) == report.StatusClean && len(p.Better)+len(p.Gone) > 0 {
		return a.to(file, s.Tighten(p).Write)
	}
	return nil
}

func (a *app) snapshot() *cobra.Command {
	var o lint.Options
	var output string
	c := &cobra.Command{
		Use:   "snapshot JOB... | FOLDER...",
		Short: "Take a snapshot of the findings of old jobs, so that only new or worse ones fail",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			inputs, err := lint.Collect(args, a.stdin)
			if err != nil {
				return err
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			batch, err := l.ReviewAll(c.Context(), inputs, nil)
			if err != nil {
				return err
			}
			if len(batch.Reviews) == 0 {
				return errors.New("there is no job among the files")
			}
			for _, r := range batch.Reviews {
				if !r.Judged() {
					return fmt.Errorf("%s could not be judged; put it right first", r.File)
				}
			}
			return a.to(output, verdict.Take(batch.Reviews).Write)
		},
	}
	booksFlag(c, &o.Rulebooks)
	signatureFlags(c, &o)
	c.Flags().StringArrayVar(&o.Leaves, "leaves", nil, "a file of concessions and deviation permits beside the jobs (may be repeated)")
	c.Flags().StringVarP(&output, "output", "o", "", "write to this file")
	return c
}

// progress shows on a terminal how far a long batch has come.
func (a *app) progress(total int, quiet bool) (done func(int), stop func()) {
	if quiet || total <= fewJobs || !terminal(a.stderr) {
		return nil, func() {}
	}
	var mu sync.Mutex
	last := time.Now() // for the display alone; nothing is judged by it
	shown := false
	done = func(n int) {
		mu.Lock()
		defer mu.Unlock()
		if time.Since(last) > 200*time.Millisecond {
			last, shown = time.Now(), true
			fmt.Fprintf(a.stderr, "\r%d of %d reviewed", n, total)
		}
	}
	return done, func() {
		if shown {
			fmt.Fprint(a.stderr, "\r\x1b[K")
		}
	}
}
