package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/schema"
)

// The commands that show what wetrule knows.

func booksFlag(c *cobra.Command, books *[]string) {
	c.Flags().StringArrayVarP(books, "rulebook", "r", nil, "also show this rulebook: a name or a folder (may be repeated)")
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

func (a *app) measures() *cobra.Command {
	var o lint.Options
	var format string
	c := &cobra.Command{
		Use:   "measures [JOB]",
		Short: "List the measures that rules can use, or show those of a job",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return report.Measures(a.stdout, format)
			}
			inputs, err := lint.Collect(args, a.stdin)
			if err != nil {
				return err
			}
			if len(inputs) != 1 {
				return fmt.Errorf("give one job file, not a folder")
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			b, err := l.ReviewAll(c.Context(), inputs, nil)
			if err != nil {
				return err
			}
			if len(b.Reviews) != 1 {
				return fmt.Errorf("%s is no job", args[0])
			}
			if r := b.Reviews[0]; len(r.Problems) > 0 {
				return r.Problems
			}
			return report.Measured(a.stdout, format, b.Reviews[0])
		},
	}
	booksFlag(c, &o.Rulebooks)
	formatFlag(c, &format)
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
			if err := a.to(output, func(w io.Writer) error { _, err := w.Write(schema.Starter); return err }); err != nil {
				return err
			}
			return a.to(beside, func(w io.Writer) error { _, err := w.Write(schema.Bytes(name)); return err })
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
			data, err := os.ReadFile(args[0])
			if err != nil {
				return fmt.Errorf("%s cannot be read: %w", args[0], bare(err))
			}
			f, err := jobfile.Load(args[0], data)
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

func (a *app) draw() *cobra.Command {
	var o lint.Options
	var output string
	c := &cobra.Command{
		Use:   "draw JOB -o FOLDER",
		Short: "Draw the setting-out of every face as SVG, with the findings as numbered marks",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if output == "" {
				return errors.New("say into which folder: -o FOLDER")
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			inputs, err := lint.Collect(args, a.stdin)
			if err != nil {
				return err
			}
			b, err := l.ReviewAll(c.Context(), inputs, nil)
			if err != nil {
				return err
			}
			if len(b.Reviews) != 1 {
				return fmt.Errorf("give one job file")
			}
			r := b.Reviews[0]
			if len(r.Problems) > 0 {
				return r.Problems
			}
			if err := os.MkdirAll(output, 0o755); err != nil {
				return fmt.Errorf("%s cannot be made: %w", output, bare(err))
			}
			for _, s := range draw.New(r.Job, r.Set).Sheets(r.Groups(), nil) {
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
	c.Flags().StringVarP(&output, "output", "o", "", "write into this folder")
	return c
}
