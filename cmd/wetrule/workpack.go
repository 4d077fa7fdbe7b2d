package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"wetrule/lint"
	"wetrule/lint/draw"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/workpack"
)

func (a *app) workpack() *cobra.Command {
	var o lint.Options
	var output, paper string
	var despite bool
	c := &cobra.Command{
		Use:   "workpack JOB -o FOLDER|FILE.html|FILE.pdf",
		Short: "Make the pack that goes to site: cautions, lists, steps, sheets, inspections, handover",
		Long: "Makes the pack that goes to site: cautions, open findings, tools, materials, steps to tick, setting-out sheets,\n" +
			"programme, inspections, makers' instructions and the handover. A file that ends in .html is one page that needs\n" +
			"nothing else, one that ends in .pdf is ready to print; a folder holds both, the lists as CSV, the drawings and a\n" +
			"list of all files with their SHA-256.\n\n" +
			"While a critical finding is open, or cannot be shown to be none, no pack is issued and the exit status is 1.\n" +
			"With --with-critical it is issued all the same, and every page says so. Exit status 2: the job could not be judged.",
		Example: "  wetrule workpack room.yaml -o room-pack\n  wetrule workpack room.yaml -o room.pdf --paper a4",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if output == "" {
				return errors.New("say where to: -o FOLDER, -o FILE.html or -o FILE.pdf")
			}
			if err := goodPaper(paper); err != nil {
				return err
			}
			l, err := lint.New(o)
			if err != nil {
				return err
			}
			r, f, data, err := a.one(c.Context(), l, args[0])
			if err != nil {
				return err
			}
			planned, err := l.Plan(f)
			if err != nil {
				return err
			}
			dates, err := l.Programme(f, "")
			if err != nil {
				return fmt.Errorf("%s: %w", f.Name, err)
			}
			in := workpack.Input{Review: r, Job: data, Plan: planned.Plan, Programme: dates, Version: version(), Paper: draw.PaperSize(paper), Despite: despite}
			p, err := workpack.New(in)
			var refusal *workpack.Refusal
			if errors.As(err, &refusal) {
				a.complain(refusal)
				a.status = report.StatusFindings
				return nil
			}
			if err != nil {
				return err
			}
			write := map[string]func(io.Writer) error{".html": p.HTML, ".htm": p.HTML, ".pdf": p.PDF}[strings.ToLower(filepath.Ext(output))]
			if write == nil {
				if err := p.Folder(output); err != nil {
					return err
				}
			} else {
				var doc bytes.Buffer
				if err := write(&doc); err != nil {
					return err
				}
				if err := a.to(output, func(w io.Writer) error { _, err := w.Write(doc.Bytes()); return err }); err != nil {
					return err
				}
			}
			if p.Banner != "" {
				fmt.Fprintln(a.stderr, "wetrule: "+p.Banner)
			}
			fmt.Fprintln(a.stdout, output)
			return nil
		},
	}
	booksFlag(c, &o.Rulebooks)
	signatureFlags(c, &o)
	f := c.Flags()
	f.StringVar(&o.Stage, "stage", "", "judge for this stage in place of the job's: "+strings.Join(rulebook.Stages(), ", "))
	f.StringVar(&o.On, "on", "", "judge for this date (YYYY-MM-DD) in place of the job's")
	f.StringArrayVar(&o.Leaves, "leaves", nil, "a file of concessions and deviation permits beside the jobs (may be repeated)")
	f.StringVarP(&output, "output", "o", "", "write into this folder, or this file that ends in .html or .pdf")
	f.StringVar(&paper, "paper", string(draw.A3), "largest paper of the setting-out sheets in the PDF: a3 or a4; larger sheets are cut in parts")
	f.BoolVar(&despite, "with-critical", false, "issue the pack although critical findings are open, with a warning on every page")
	return c
}
