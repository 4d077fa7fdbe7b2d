package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/judge"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// fewJobs is up to how many jobs no progress is shown.
const fewJobs = 20

func (a *app) review() *cobra.Command {
	var o reviewFlags
	c := &cobra.Command{
		Use:   "review JOB... | FOLDER... | -",
		Short: "Review job files",
		Long: "Reviews job files (YAML or JSON), folders of them, or standard input (-).\n\n" +
			"With --lines the files hold many jobs, one in JSON on each line, and the review of each is a line too, in the same\n" +
			"order: a JSON report without its list of rules (wetrule rules has it). A line at fault has a report that says so;\n" +
			"the others are judged. Without a file, standard input is read.\n\n" +
			"The formats text and lines are written while jobs are judged, and hold nothing back, however many there are. Each\n" +
			"of the others is one document: all of its reviews are kept in memory until the last is done.\n\n" +
			"--shard 2/8 judges one of 8 parts of the jobs, so that 8 machines can share them with nobody to hand them out. What is in a\n" +
			"job decides on its part, not its name or place.\n\n" +
			"Exit status: 0 nothing at or above the threshold, 1 findings, 2 something could not be judged.",
		Example: "  wetrule review room.yaml\n  wetrule review jobs --fail-at major --format sarif -o review.sarif\n" +
			"  wetrule review --lines < jobs.ndjson > reviews.ndjson\n  wetrule review jobs --format lines --shard 2/8",
		Args: func(c *cobra.Command, args []string) error {
			if o.lines {
				return nil
			}
			return cobra.MinimumNArgs(1)(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if o.lines && !c.Flags().Changed("format") {
				o.format = report.Lines
			}
			if o.lines && len(args) == 0 {
				args = []string{lint.Stdin}
			}
			if o.Deadline <= 0 {
				return fmt.Errorf("--time-for-rules is longer than nothing, not %v", o.Deadline)
			}
			return a.runReview(c.Context(), &o, args)
		},
	}
	f := c.Flags()
	f.StringVarP(&o.format, "format", "f", "text", "how to write the review: "+report.About())
	f.BoolVar(&o.lines, "lines", false, "the files hold a job in JSON on each line; reviews are written as lines too unless --format says otherwise")
	f.StringVar(&o.shard, "shard", "", "judge only this part of the jobs: 2/8 is part 2 of 8")
	f.StringVar(&o.failAt, "fail-at", "minor", "fail from this severity on: "+strings.Join(rulebook.Severities(), ", "))
	f.StringVar(&o.Stage, "stage", "", "judge for this stage in place of the job's: "+strings.Join(rulebook.Stages(), ", "))
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the job's")
	f.StringArrayVarP(&o.Rulebooks, "rulebook", "r", nil, "also judge by this rulebook: a name, a folder or a sealed one (.tar.gz) (may be repeated)")
	signatureFlags(c, &o.Options)
	f.DurationVar(&o.Deadline, "time-for-rules", judge.Deadline, "longest time that the rules may take for one job")
	f.StringSliceVar(&o.Only, "only", nil, "judge only by these rules or subjects")
	f.StringSliceVar(&o.Without, "without", nil, "leave out these rules or subjects")
	f.StringArrayVar(&o.Leaves, "leaves", nil, "a file of concessions and deviation permits beside the jobs (may be repeated)")
	f.StringVar(&o.snapshot, "snapshot", "", "fail only for what is new or worse than in this snapshot")
	f.BoolVar(&o.tighten, "tighten", false, "write what got better into the snapshot, when nothing fails")
	f.BoolVar(&o.suppressed, "suppressed", false, "SARIF: also write conceded findings, marked as suppressed")
	f.BoolVar(&o.findings, "findings-only", false, "json, lines: list findings alone; the counts stay")
	f.BoolVar(&o.tolerate, "tolerate-undetermined", false, "do not fail for what the job does not say")
	f.BoolVarP(&o.quiet, "quiet", "q", false, "one line a finding and nothing else")
	f.StringVarP(&o.output, "output", "o", "", "write to this file")
	f.StringVar(&o.colour, "colour", "auto", "colours: auto, always or never")
	return c
}

type reviewFlags struct {
	format, failAt, output, colour, snapshot, shard       string
	quiet, tolerate, tighten, suppressed, lines, findings bool
	lint.Options
}

func (a *app) runReview(ctx context.Context, o *reviewFlags, args []string) error {
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
	var shard lint.Shard
	if o.shard != "" {
		if shard, err = lint.ParseShard(o.shard); err != nil {
			return err
		}
	}
	switch {
	case o.lines && o.snapshot != "":
		return errors.New("--snapshot is for jobs with a file each, not for --lines")
	case o.shard != "" && o.tighten:
		return errors.New("--tighten needs all jobs, not a shard of them")
	}
	go func() { _ = jobfile.Prepare() }() // while rulebooks are opened; whoever reads the first job sees the error
	var inputs iter.Seq[lint.Input]
	total := unknown
	if o.lines {
		inputs, err = lint.Lines(args, a.stdin)
	} else {
		var found []lint.Input
		found, err = a.jobs(args)
		inputs, total = slices.Values(found), len(found)
	}
	if err != nil {
		return err
	}
	l, err := lint.New(o.Options)
	if err != nil {
		return err
	}
	ro := report.Options{Version: version(), FailAt: severity, Tolerate: o.tolerate, Suppressed: o.suppressed, FindingsOnly: o.findings, Quiet: o.quiet, Colour: colour}
	if report.Streams(o.format) && o.snapshot == "" {
		limitHeap()
	}
	b := batch{app: a, l: l, inputs: inputs, total: total, shard: shard, where: named(args), lines: o.lines}
	if o.snapshot == "" && !o.tighten {
		err := a.to(o.output, func(w io.Writer) error { return b.write(ctx, w, o.format, ro) })
		if b.err != nil {
			return b.err // nothing is wrong with where it is written
		}
		return err
	}
	reviews, err := b.all(ctx, o.quiet)
	if err != nil {
		return err
	}
	if len(reviews) == 0 {
		ro.Empty = b.nothing()
	}
	if err := a.ratchet(o.snapshot, o.tighten, reviews, ro); err != nil {
		return err
	}
	a.status = ro.Status(reviews)
	return a.to(o.output, func(w io.Writer) error { return report.Write(w, o.format, reviews, ro) })
}

// batch is one run over many jobs.
type batch struct {
	*app
	l      *lint.Linter
	inputs iter.Seq[lint.Input]
	total  int // of inputs, or unknown
	shard  lint.Shard
	where  string // the inputs came from
	lines  bool

	jobs, elsewhere int
	passedOver      []string
	progress        func(n int)
	err             error // of judging
}

const unknown = -1

// count takes note of what became of an input.
func (b *batch) count(r lint.Result) {
	switch {
	case r.Review != nil:
		b.jobs++
	case r.Elsewhere:
		b.elsewhere++
	default:
		b.passedOver = append(b.passedOver, r.Name)
	}
	b.progress(b.jobs + b.elsewhere + len(b.passedOver))
}

// end tells what was passed over, and why there is nothing to review when there is nothing; that is an error unless other shards have it all.
func (b *batch) end() error {
	err := b.app.passedOver(b.passedOver, b.jobs+b.elsewhere)
	switch {
	case err != nil && b.lines:
		return fmt.Errorf("there is no job in %s", b.where)
	case err != nil:
		return err
	}
	if b.jobs == 0 {
		fmt.Fprintln(b.stderr, "wetrule: "+b.nothing())
	}
	return nil
}

// nothing says that the shard is empty.
func (b *batch) nothing() string {
	return fmt.Sprintf("shard %s holds none of the jobs in %s", b.shard, b.where)
}

// write reviews the jobs and writes each review as soon as it is its turn.
func (b *batch) write(ctx context.Context, w io.Writer, format string, o report.Options) error {
	if b.shard.N > 0 {
		o.Empty = b.nothing()
	}
	out, err := report.NewStream(w, format, o)
	if err != nil {
		return err
	}
	type part struct {
		lint.Result
		report.Part
	}
	b.status = report.StatusUnjudged // until everything is
	var writing error
	// Reviews that appear on the same terminal show by themselves how far it has come.
	var stop func()
	b.progress, stop = b.app.progress(b.total, o.Quiet || report.Streams(format) && terminal(w))
	defer stop()
	err = lint.Each(ctx, b.l, b.inputs, b.shard, func(r lint.Result) (p part, err error) {
		if r.Review != nil {
			if p.Part, err = out.Part(r.Review); report.Streams(format) {
				r.Release()
			}
			r.Review = reviewed
		}
		p.Result = r
		return p, err
	}, func(p part) error {
		b.count(p.Result)
		if p.Review == nil {
			return nil
		}
		writing = out.Add(p.Part)
		return writing
	})
	stop()
	if writing != nil {
		return writing
	}
	if err == nil {
		err = b.end()
	}
	if err != nil {
		b.err = err
		return err
	}
	b.status = out.Status()
	return out.Close()
}

// reviewed stands for a review that has been made into a part, so that nothing of the job is kept.
var reviewed = &verdict.Review{}

// all reviews the jobs and keeps the reviews.
func (b *batch) all(ctx context.Context, quiet bool) (reviews []*verdict.Review, err error) {
	var stop func()
	b.progress, stop = b.app.progress(b.total, quiet)
	defer stop()
	err = lint.Each(ctx, b.l, b.inputs, b.shard, func(r lint.Result) (lint.Result, error) { return r, nil }, func(r lint.Result) error {
		b.count(r)
		if r.Review != nil {
			reviews = append(reviews, r.Review)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	stop()
	return reviews, b.end()
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
		return fmt.Errorf("%s cannot be read: %w", file, jobfile.Bare(err))
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
				if len(r.Problems) > 0 {
					return r.Problems
				}
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

// progress shows on a terminal how far a long batch has come. It is for work whose output comes at the end.
func (a *app) progress(total int, quiet bool) (done func(n int), stop func()) {
	if quiet || total >= 0 && total <= fewJobs || !terminal(a.stderr) {
		return func(int) {}, func() {}
	}
	var mu sync.Mutex
	last := time.Now() // for the display alone; nothing is judged by it
	shown := false
	done = func(n int) {
		mu.Lock()
		defer mu.Unlock()
		if time.Since(last) < 200*time.Millisecond {
			return
		}
		last, shown = time.Now(), true
		if total >= 0 {
			fmt.Fprintf(a.stderr, "\r%d of %d reviewed", n, total)
		} else {
			fmt.Fprintf(a.stderr, "\r%d reviewed", n)
		}
	}
	return done, func() {
		mu.Lock()
		defer mu.Unlock()
		if shown {
			fmt.Fprint(a.stderr, "\r\x1b[K")
			shown = false
		}
	}
}

// named lists the arguments for people.
func named(args []string) string {
	out := slices.Clone(args)
	for i, a := range out {
		if a == lint.Stdin {
			out[i] = "stdin"
		}
	}
	return strings.Join(out, ", ")
}
