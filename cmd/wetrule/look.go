package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/schema"
)

// The commands that show what wetrule knows.

func booksFlag(c *cobra.Command, books *[]string) {
	c.Flags().StringArrayVarP(books, "rulebook", "r", nil, "also show this rulebook: a name, a folder or a sealed one (.tar.gz) (may be repeated)")
}

func formatFlag(c *cobra.Command, format *string) {
	c.Flags().StringVarP(format, "format", "f", "text", "text or json")
}

func (a *app) rules() *cobra.Command {
	var o lint.Options
	var format string
	c := &cobra.Command{
		Use:   "rules",
		Short: "List the rules",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			return report.Rules(a.stdout, format, l.Rules())
		},
	}
	booksFlag(c, &o.Rulebooks)
	formatFlag(c, &format)
	c.Flags().StringSliceVar(&o.Only, "only", nil, "only these rules or subjects")
	c.Flags().StringSliceVar(&o.Without, "without", nil, "leave out these rules or subjects")
	return c
}

func (a *app) explain() *cobra.Command {
	var o lint.Options
	var format string
	c := &cobra.Command{
		Use:   "explain RULE",
		Short: "Explain a rule: what it asks, why, where it comes from, with examples",
		Args:  cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			books, err := lint.OpenRulebooks(o.Rulebooks)
			if err != nil {
				return err
			}
			var all []*rulebook.Rule
			for _, b := range books {
				all = append(all, b.Rules...)
			}
			r, err := lint.FindRule(all, args[0])
			if err != nil {
				return err
			}
			for _, b := range books {
				if b.Name == r.Rulebook {
					examples, err := b.ReadExamples()
					if err != nil {
						return err
					}
					return report.Explain(a.stdout, format, r, examples[r.ID])
				}
			}
			return errors.New("the rule has no rulebook")
		},
	}
	booksFlag(c, &o.Rulebooks)
	formatFlag(c, &format)
	return c
}

// policyFormat is the format of measures that a policy server takes as its input.
const policyFormat = "policy"

func (a *app) measures() *cobra.Command {
	var o lint.Options
	var format string
	c := &cobra.Command{
		Use:   "measures [JOB]",
		Short: "List the measures that rules can use, or show those of a job",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case !slices.Contains([]string{"text", "json", policyFormat}, format):
				return fmt.Errorf("there is no format %q; known: text, json, %s", format, policyFormat)
			case len(args) == 0 && format == policyFormat:
				return errors.New("the format policy shows what policies see of a job; name one")
			case len(args) == 0:
				return report.Measures(a.stdout, format)
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			r, _, _, err := a.one(c.Context(), l, args[0])
			if err != nil {
				return err
			}
			if format == policyFormat {
				facts, err := lint.Facts(r)
				if err != nil {
					return err
				}
				_, err = fmt.Fprintf(a.stdout, "%s\n", facts)
				return err
			}
			return report.Measured(a.stdout, format, r)
		},
	}
	booksFlag(c, &o.Rulebooks)
	c.Flags().StringVarP(&format, "format", "f", "text", "text, json, or policy: what the policies see of the job, as JSON")
	return c
}

func (a *app) starter() *cobra.Command {
	var output string
	c := &cobra.Command{
		Use:   "starter",
		Short: "Write a job to begin from",
		Long:  "Writes a job to begin from. With --output it also puts the schema beside it, so that an editor completes and explains every field.",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if output == "" {
				_, err := a.stdout.Write(schema.Starter)
				return err
			}
			const name = "job.schema.json"
			beside := filepath.Join(filepath.Dir(output), name)
			if _, err := os.Stat(output); err == nil {
				return fmt.Errorf("%s is there already; it is left as it is", output)
			}
			// The job comes last: as long as it is not there, the command can be run again.
			if err := a.to(beside, func(w io.Writer) error { _, err := w.Write(schema.Bytes(name)); return err }); err != nil {
				return err
			}
			return a.to(output, func(w io.Writer) error { _, err := w.Write(schema.Starter); return err })
		},
	}
	c.Flags().StringVarP(&output, "output", "o", "", "write to this file, and the schema beside it")
	return c
}

func (a *app) schema() *cobra.Command {
	return &cobra.Command{
		Use:       "schema [NAME]",
		Short:     "Print a JSON Schema: " + strings.Join(schemaNames(), ", "),
		Args:      cobra.MaximumNArgs(1),
		ValidArgs: schemaNames(),
		RunE: func(_ *cobra.Command, args []string) error {
			name := "job"
			if len(args) == 1 {
				name = strings.TrimSuffix(args[0], ".schema.json")
			}
			for _, known := range schemaNames() {
				if known == name {
					_, err := a.stdout.Write(schema.Bytes(name + ".schema.json"))
					return err
				}
			}
			s := jobfile.Suggest(name, schemaNames())
			if s != "" {
				return fmt.Errorf("there is no schema %q; did you mean %q?", name, s)
			}
			return fmt.Errorf("there is no schema %q; known: %s", name, strings.Join(schemaNames(), ", "))
		},
	}
}

func schemaNames() []string {
	entries, err := schema.Files.ReadDir(".")
	if err != nil {
		panic(err) // embedded, so always there
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".schema.json"))
	}
	return out
}

func (a *app) route() *cobra.Command {
	var output string
	c := &cobra.Command{
		Use:   "route JOB CABLE",
		Short: "Propose the groove runs of a heating cable on its face, to paste into the job",
		Args:  cobra.ExactArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			f, _, err := a.oneJob(args[0])
			if err != nil {
				return err
			}
			runs, err := lint.ProposeRoute(f, args[1])
			if err != nil {
				return err
			}
			return a.to(output, func(w io.Writer) error { _, err := io.WriteString(w, runs); return err })
		},
	}
	c.Flags().StringVarP(&output, "output", "o", "", "write to this file")
	return c
}

// one reviews one job. It returns the file and the bytes that were reviewed too.
func (a *app) one(ctx context.Context, l *lint.Linter, arg string) (*verdict.Review, *jobfile.File, []byte, error) {
	f, data, err := a.oneJob(arg)
	if err != nil {
		return nil, nil, nil, err
	}
	r, err := l.ReviewFile(ctx, f)
	if err == nil && len(r.Problems) > 0 {
		err = r.Problems
	}
	return r, f, data, err
}

func goodPaper(paper string) error {
	switch draw.PaperSize(paper) {
	case draw.A3, draw.A4:
		return nil
	}
	return fmt.Errorf("--paper is a3 or a4, not %q", paper)
}

func (a *app) draw() *cobra.Command {
	var o lint.Options
	var output, paper string
	var templates bool
	c := &cobra.Command{
		Use:   "draw JOB -o FOLDER|FILE.pdf",
		Short: "Draw the setting-out of every face, with the findings as numbered marks",
		Long: "Draws the setting-out of every face, with the findings as numbered marks: into a folder as SVG, or into a file that\n" +
			"ends in .pdf as sheets to scale. With --templates the PDF holds the holes at full size, on tiles to tape on the panel.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if output == "" {
				return errors.New("say where to: -o FOLDER for SVG, -o FILE.pdf for PDF")
			}
			pdf := strings.EqualFold(filepath.Ext(output), ".pdf")
			if templates && !pdf {
				return errors.New("templates are a PDF: -o FILE.pdf")
			}
			if err := goodPaper(paper); err != nil {
				return err
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			r, _, data, err := a.one(c.Context(), l, args[0])
			if err != nil {
				return err
			}
			sheets := draw.New(r.Job, r.Set).Sheets(r.Groups(), nil)
			if pdf {
				info := draw.Info{Job: r.Reference, Title: r.Title, File: filepath.Base(r.File), On: r.On, Cautions: report.Cautions(r),
					Paper: draw.PaperSize(paper), Revision: draw.Revision(data)}
				write := draw.PDF
				if templates {
					write = draw.Templates
				}
				// All of it is made before the file is touched, so that what cannot be drawn is not taken for a fault of the file.
				var doc bytes.Buffer
				if err := write(&doc, sheets, info); err != nil {
					return err
				}
				if err := a.to(output, func(w io.Writer) error { _, err := w.Write(doc.Bytes()); return err }); err != nil {
					return err
				}
				fmt.Fprintln(a.stdout, output)
				return nil
			}
			if err := os.MkdirAll(output, 0o755); err != nil {
				return fmt.Errorf("%s cannot be made: %w", output, jobfile.Bare(err))
			}
			for _, s := range sheets {
				name := filepath.Join(output, s.ID+".svg")
				if err := a.to(name, func(w io.Writer) error { return draw.SVG(w, &s, draw.Style{}) }); err != nil {
					return err
				}
				fmt.Fprintln(a.stdout, name)
			}
			return nil
		},
	}
	booksFlag(c, &o.Rulebooks)
	c.Flags().StringVarP(&output, "output", "o", "", "write into this folder, or this file that ends in .pdf")
	c.Flags().BoolVar(&templates, "templates", false, "the holes at full size, on tiles of A4")
	c.Flags().StringVar(&paper, "paper", string(draw.A3), "largest paper of a PDF: a3 or a4; larger sheets are cut in parts")
	return c
}
