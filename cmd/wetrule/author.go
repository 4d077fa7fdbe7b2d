package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
)

// rulebook groups the commands for authors of rulebooks.
func (a *app) rulebook() *cobra.Command {
	c := &cobra.Command{Use: "rulebook", Short: "Make, check, show, document, compare and seal rulebooks"}
	c.AddCommand(a.bookNew(), a.bookCheck(), a.bookShow(), a.bookDocument(), a.bookCompare(), a.bookSeal(), a.bookOpen())
	return c
}

func (a *app) bookNew() *cobra.Command {
	var name, layer, country string
	c := &cobra.Command{
		Use:   "new FOLDER",
		Short: "Make a new rulebook that passes its own check",
		Args:  cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if name == "" {
				name = filepath.Base(filepath.Clean(args[0]))
			}
			files, err := lint.NewRulebook(name, layer, country)
			if err != nil {
				return err
			}
			if entries, err := os.ReadDir(args[0]); err == nil && len(entries) > 0 {
				return fmt.Errorf("%s is not empty; it is left as it is", args[0])
			}
			names := make([]string, 0, len(files))
			for n := range files {
				names = append(names, n)
			}
			slices.Sort(names)
			for _, n := range names {
				file := filepath.Join(args[0], filepath.FromSlash(n))
				if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
					return fmt.Errorf("%s cannot be made: %w", filepath.Dir(file), jobfile.Bare(err))
				}
				if err := a.to(file, func(w io.Writer) error { _, err := io.WriteString(w, files[n]); return err }); err != nil {
					return err
				}
				fmt.Fprintln(a.stdout, filepath.ToSlash(file))
			}
			return nil
		},
	}
	c.Flags().StringVar(&name, "name", "", "name of the rulebook; the folder's by default")
	c.Flags().StringVar(&layer, "layer", "firm", "where it lies: region, firm or job")
	c.Flags().StringVar(&country, "country", "", "ISO 3166-1 alpha-2 code, for a region")
	return c
}

func (a *app) bookCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check FOLDER",
		Short: "Check a rulebook: rows, sources, measures, examples both ways, slips that no example notices, Rego and its tests, methods of work",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			check, err := lint.CheckRulebook(c.Context(), args[0])
			if err != nil {
				return err
			}
			for _, p := range check.Problems {
				fmt.Fprintln(a.stdout, p.Error())
			}
			for _, n := range check.Notes {
				fmt.Fprintln(a.stdout, "note: "+n)
			}
			if len(check.Problems) > 0 {
				a.status = report.StatusFindings
				fmt.Fprintf(a.stdout, "%d to put right\n", len(check.Problems))
				return nil
			}
			steps := ""
			switch {
			case check.Steps == 1:
				steps = ", one step of work"
			case check.Steps > 1:
				steps = fmt.Sprintf(", %d steps of work", check.Steps)
			}
			fmt.Fprintf(a.stdout, "%s %s is in order: %d rules, %d examples, %d slips noticed, %d Rego tests%s\n", check.Book.Name, check.Book.Edition, check.Rules, check.Examples, check.Mutants, check.Tests, steps)
			return nil
		},
	}
}

func (a *app) bookShow() *cobra.Command {
	var o lint.Options
	var format string
	c := &cobra.Command{
		Use:   "show",
		Short: "Show the rules in force with the layer that set each limit",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			rules, err := lint.EffectiveRules(o.Rulebooks, o.On)
			if err != nil {
				return err
			}
			return report.Effective(a.stdout, format, rules)
		},
	}
	booksFlag(c, &o.Rulebooks)
	formatFlag(c, &format)
	c.Flags().StringVar(&o.On, "on", "", "in the edition of this date (YYYY-MM-DD); the latest by default")
	return c
}

func (a *app) bookDocument() *cobra.Command {
	var o lint.Options
	var format, output string
	c := &cobra.Command{
		Use:   "document",
		Short: "Write the rules as a document, with sources and examples",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			rules, err := lint.EffectiveRules(o.Rulebooks, o.On)
			if err != nil {
				return err
			}
			examples, err := lint.AllExamples(o.Rulebooks)
			if err != nil {
				return err
			}
			return a.to(output, func(w io.Writer) error { return report.Document(w, format, rules, examples) })
		},
	}
	booksFlag(c, &o.Rulebooks)
	c.Flags().StringVarP(&format, "format", "f", "markdown", "markdown or html")
	c.Flags().StringVar(&o.On, "on", "", "in the edition of this date (YYYY-MM-DD); the latest by default")
	c.Flags().StringVarP(&output, "output", "o", "", "write to this file")
	return c
}

func (a *app) bookCompare() *cobra.Command {
	var before, after []string
	var on string
	c := &cobra.Command{
		Use:   "compare --before BOOK --after BOOK",
		Short: "Say in words how two rulebooks, laid over core, differ",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if len(before)+len(after) == 0 {
				return errors.New("give --before, --after or both; core is always below")
			}
			x, err := lint.EffectiveRules(before, on)
			if err != nil {
				return err
			}
			y, err := lint.EffectiveRules(after, on)
			if err != nil {
				return err
			}
			diff := lint.CompareRules(x, y)
			for _, d := range diff {
				fmt.Fprintln(a.stdout, d.Rule)
				for _, w := range d.Words {
					fmt.Fprintln(a.stdout, "    "+w)
				}
			}
			fmt.Fprintf(a.stdout, "%d of %d rules differ\n", len(diff), max(len(x), len(y)))
			if len(diff) > 0 {
				a.status = report.StatusFindings
			}
			return nil
		},
	}
	c.Flags().StringArrayVar(&before, "before", nil, "rulebooks before: names or folders (may be repeated)")
	c.Flags().StringArrayVar(&after, "after", nil, "rulebooks after: names or folders (may be repeated)")
	c.Flags().StringVar(&on, "on", "", "in the edition of this date (YYYY-MM-DD)")
	return c
}
