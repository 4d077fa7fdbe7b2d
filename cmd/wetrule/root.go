package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"wetrule/lint"
	"wetrule/lint/jobfile"
	"wetrule/lint/report"
)

// app is one run of the command.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	status         int
}

// run carries out a command line and returns the exit status: 0 nothing that fails, 1 findings that fail, 2 something
// could not be judged or the command line is wrong.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	out := &output{to: stdout}
	a := &app{stdin: stdin, stdout: out, stderr: stderr}
	root := &cobra.Command{
		Use:   "wetrule",
		Short: "Reviews the fit-out of foam-panel steam rooms and wet rooms",
		Long: "wetrule reads a job file (what goes into which panel, where, with what and when), measures it and\n" +
			"judges it by rulebooks. Every finding has its severity, the measured value, the limit, the margin, what to\n" +
			"do and where the rule comes from.",
		SilenceUsage:      true,
		SilenceErrors:     true,
		Version:           version(),
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	info, ok := debug.ReadBuildInfo()
	cobra.AddTemplateFunc("about", func() string { return about(info, ok) })
	root.SetVersionTemplate("{{about}}")
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(out)
	root.SetErr(stderr)
	root.AddCommand(
		a.review(),
		a.snapshot(),
		a.compare(),
		a.merge(),
		a.photos(),
		a.rules(),
		a.rulebook(),
		a.explain(),
		a.measures(),
		a.methods(),
		a.programme(),
		a.draw(),
		a.workpack(),
		a.route(),
		a.impact(),
		a.regions(),
		a.ciKit(),
		a.starter(),
		a.schema(),
	)
	err := root.Execute()
	if err == nil {
		err = out.err // of a line whose writing nobody looked at
	}
	if err != nil {
		if errors.Is(err, syscall.EPIPE) {
			return a.status // the reader has seen enough
		}
		a.complain(err)
		return report.StatusUnjudged
	}
	return a.status
}

// complain writes an error: problems of files as they are, others with the program's name.
func (a *app) complain(err error) {
	var ps jobfile.Problems
	if errors.As(err, &ps) {
		fmt.Fprintln(a.stderr, ps.Error())
		return
	}
	fmt.Fprintln(a.stderr, "wetrule: "+strings.TrimSpace(err.Error()))
}

// output is standard output; it keeps the first error, so that none is lost.
type output struct {
	to  io.Writer
	err error
}

func (o *output) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.to.Write(p)
	if err != nil {
		o.err = fmt.Errorf("standard output cannot be written: %w", jobfile.Bare(err))
	}
	return n, o.err
}

// to gives f the place that output goes to: a file that is replaced in one move once it is whole, or standard output. A device or a
// pipe is written into, and a link is followed.
func (a *app) to(file string, f func(io.Writer) error) error {
	if file == "" || file == lint.Stdin {
		return f(a.stdout)
	}
	err := replace(file, f)
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", file, jobfile.Bare(err))
	}
	return nil
}

func replace(file string, f func(io.Writer) error) (err error) {
	info, err := os.Stat(file)
	switch {
	case err == nil && info.IsDir():
		return errors.New("it is a folder")
	case err == nil && !info.Mode().IsRegular():
		return writeInto(file, f)
	case err == nil:
		// The file that a link leads to is replaced, not the link.
		if file, err = filepath.EvalSymlinks(file); err != nil {
			return err
		}
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Lstat(file); err == nil {
			return errors.New("it is a link that leads nowhere")
		}
	default:
		return err
	}
	// The name begins with a dot and has no ending, so what is left of a killed run is never taken for a job.
	tmp, err := os.CreateTemp(filepath.Dir(file), ".wetrule-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name()) // does nothing once it is renamed
	err = f(tmp)
	if err == nil {
		err = tmp.Sync()
	}
	if e := tmp.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Chmod(tmp.Name(), modeFor(file))
	}
	if err == nil {
		err = os.Rename(tmp.Name(), file)
	}
	return err
}

// writeInto writes into what is no regular file.
func writeInto(file string, f func(io.Writer) error) error {
	w, err := os.OpenFile(file, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	err = f(w)
	if e := w.Close(); err == nil {
		err = e
	}
	return err
}

// modeFor keeps the mode of a file that is replaced; a new file is readable by all, as the umask of most systems would have it.
func modeFor(file string) fs.FileMode {
	if info, err := os.Stat(file); err == nil && info.Mode().IsRegular() {
		return info.Mode().Perm()
	}
	return 0o644
}

// terminal says whether a writer or reader is a terminal.
func terminal(x any) bool {
	if o, ok := x.(*output); ok {
		x = o.to
	}
	f, ok := x.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// colour decides whether to colour output by the flag, NO_COLOR and the terminal.
func (a *app) colour(flag, file string) (bool, error) {
	switch flag {
	case "always":
		return true, nil
	case "never":
		return false, nil
	case "auto":
		return file == "" && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && terminal(a.stdout), nil
	}
	return false, fmt.Errorf("--colour is auto, always or never, not %q", flag)
}
