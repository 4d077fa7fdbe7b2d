package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/compare"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
)

// The commands for two revisions of one job: what the office sent out, and what comes back from site.

func (a *app) compare() *cobra.Command {
	var o lint.Options
	var format, failAt, output, colour string
	var quiet bool
	c := &cobra.Command{
		Use:   "compare EARLIER LATER",
		Short: "Show what differs between two revisions of a job, and which verdicts change",
		Long: "Shows in the words of the trade what was moved, resized, retimed, replaced, filled in or taken out between two\n" +
			"revisions of a job file, and which verdicts change by it. What only stands elsewhere in the file is no difference.\n\n" +
			"Exit status: 0 nothing differs, 1 something differs, 2 a revision could not be read or judged.",
		Example: "  wetrule compare issued.yaml returned.yaml\n" +
			"  git show main:room.yaml | wetrule compare - room.yaml",
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			severity, err := threshold(failAt)
			if err != nil {
				return err
			}
			if err := twoFormats(format); err != nil {
				return err
			}
			coloured, err := a.colour(colour, output)
			if err != nil {
				return err
			}
			var inputs [2]lint.Input
			for i := range args {
				if inputs[i], err = a.oneFile(args[i]); err != nil {
					return err
				}
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			judged := report.Options{Version: version(), FailAt: severity, Quiet: quiet, Colour: coloured}
			x, err := l.Compare(c.Context(), inputs[0], inputs[1], judged)
			if err != nil {
				return err
			}
			a.status = x.Status()
			return a.to(output, func(w io.Writer) error {
				return report.Comparison(w, format, x.Parts, x.Verdicts, x.Reviews, a.status, judged)
			})
		},
	}
	f := c.Flags()
	f.StringArrayVarP(&o.Rulebooks, "rulebook", "r", nil, "also judge by this rulebook: a name or a folder (may be repeated)")
	formatFlag(c, &format)
	f.StringVar(&failAt, "fail-at", "minor", "tell whether each revision passes or fails from this severity on: "+strings.Join(rulebook.Severities(), ", "))
	f.StringVar(&o.Stage, "stage", "", "judge for this stage in place of the jobs': "+strings.Join(rulebook.Stages(), ", "))
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the jobs'")
	f.StringSliceVar(&o.Only, "only", nil, "show verdicts of these rules or subjects only")
	f.StringSliceVar(&o.Without, "without", nil, "leave out verdicts of these rules or subjects")
	f.StringArrayVar(&o.Leaves, "leaves", nil, "a file of concessions and deviation permits beside the jobs (may be repeated)")
	f.BoolVarP(&quiet, "quiet", "q", false, "only what differs, without head and summary")
	f.StringVarP(&output, "output", "o", "", "write to this file")
	f.StringVar(&colour, "colour", "auto", "colours: auto, always or never")
	return c
}

// oneFile takes one job file, or standard input, and reads it once, so that all that is told and written is of the same bytes.
func (a *app) oneFile(arg string) (lint.Input, error) {
	inputs, err := lint.Collect([]string{arg}, a.stdin)
	if err != nil {
		return lint.Input{}, err
	}
	if len(inputs) != 1 || inputs[0].FromFolder {
		return lint.Input{}, fmt.Errorf("give one job file, not the folder %s", arg)
	}
	in := inputs[0]
	if in.Data, err = in.Bytes(); err != nil {
		return in, fmt.Errorf("%s %w", in.Name, err)
	}
	return in, nil
}

// oneJob is oneFile for those who want the job that is in it. It gives the bytes too.
func (a *app) oneJob(arg string) (*jobfile.File, []byte, error) {
	in, err := a.oneFile(arg)
	if err != nil {
		return nil, nil, err
	}
	f, err := jobfile.Load(in.Name, in.Data)
	return f, in.Data, err
}

func (a *app) merge() *cobra.Command {
	var issued, output, prefer string
	c := &cobra.Command{
		Use:   "merge OFFICE SITE -o FILE",
		Short: "Bring a job file that was filled in on site back into the office's revision",
		Long: "Takes over what the site filled in, changed, added or took away since the job was issued, and keeps what the office\n" +
			"changed meanwhile. Where both changed the same fact, it is a conflict: nothing is written, and both values are\n" +
			"shown; --prefer chooses a side. --issued names the revision that went to site (the copy in the work pack). Without\n" +
			"it nobody can tell who changed a fact: what only the site says is taken over, and what both say differently is a\n" +
			"conflict. Comments and order of the office's file are kept.\n\n" +
			"Exit status: 0 merged, 1 conflicts, 2 a file could not be read.",
		Example: "  wetrule merge room.yaml returned.yaml --issued pack/job.yaml -o room.yaml",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			sides := map[string]compare.Prefer{"": compare.Neither, "office": compare.Office, "site": compare.Site}
			side, ok := sides[prefer]
			if !ok {
				return fmt.Errorf("--prefer is office or site, not %q", prefer)
			}
			if output == "" {
				return errors.New("say with -o where the merged job goes: a file, or - for standard output")
			}
			names := args
			if issued != "" {
				names = append(names, issued)
			}
			var inputs [3]lint.Input
			var files [3]*jobfile.File
			var problems jobfile.Problems
			for i, name := range names {
				var err error
				if inputs[i], err = a.oneFile(name); err != nil {
					return err
				}
				if files[i], err = jobfile.Load(inputs[i].Name, inputs[i].Data); err != nil {
					var ps jobfile.Problems
					if !errors.As(err, &ps) {
						return err
					}
					problems = append(problems, ps...)
				}
			}
			if len(problems) > 0 {
				return problems
			}
			m, err := compare.Merge(files[0], files[1], files[2], inputs[0].Data, inputs[1].Data, side)
			if err != nil {
				return err
			}
			told := a.stdout
			if output == lint.Stdin {
				told = a.stderr
			}
			if err := report.Merged(told, m, inputs[0].Name, inputs[1].Name); err != nil {
				return err
			}
			if len(m.Conflicts) > 0 {
				a.status = report.StatusFindings
				return nil
			}
			if _, err := jobfile.Load(inputs[0].Name, m.Data); err != nil {
				return fmt.Errorf("the merged job would not be a good job: %w", err)
			}
			return a.to(output, func(w io.Writer) error { _, err := w.Write(m.Data); return err })
		},
	}
	f := c.Flags()
	f.StringVar(&issued, "issued", "", "the revision that went to site")
	f.StringVar(&prefer, "prefer", "", "where both changed a fact, take that of: office or site")
	f.StringVarP(&output, "output", "o", "", "write the merged job to this file, which may be OFFICE itself; - is standard output")
	return c
}

func (a *app) photos() *cobra.Command {
	var output string
	c := &cobra.Command{
		Use:   "photos JOB FOLDER",
		Short: "Hold the photographs on record against the files of a folder",
		Long: "Looks up every photograph on record in a folder and holds its SHA-256 against the one on record. With -o the job is\n" +
			"written with the SHA-256 of those that have none yet; what is on record is never written over.\n\n" +
			"Exit status: 0 all are the same or new, 1 one differs or is absent, 2 a file could not be read.",
		Example: "  wetrule photos room.yaml photographs -o room.yaml",
		Args:    cobra.ExactArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			f, data, err := a.oneJob(args[0])
			if err != nil {
				return err
			}
			photos, err := lint.Photos(f, args[1])
			if err != nil {
				return fmt.Errorf("%s cannot be read: %w", args[1], jobfile.Bare(err))
			}
			told := a.stdout
			if output == lint.Stdin {
				told = a.stderr
			}
			if err := report.Photos(told, f.Name, photos); err != nil {
				return err
			}
			for _, p := range photos {
				if p.State == verdict.PhotoDiffers || p.State == verdict.PhotoAbsent {
					a.status = report.StatusFindings
				}
			}
			if output == "" {
				return nil
			}
			noted, err := lint.NotePhotos(f.Name, data, photos)
			if err != nil {
				return err
			}
			return a.to(output, func(w io.Writer) error { _, err := w.Write(noted); return err })
		},
	}
	c.Flags().StringVarP(&output, "output", "o", "", "write the job with the SHA-256 of new photographs to this file, which may be JOB itself")
	return c
}
