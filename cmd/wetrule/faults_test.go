//go:build linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
	"wetrule/schema"
)

// child starts the test binary as another program.
func child(t *testing.T, what string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	c := exec.Command(self, args...)
	c.Env = append(os.Environ(), childVariable+"="+what)
	return c
}

// house makes a rulebook and returns its folder, and a sealed one.
func house(t *testing.T) (folder, sealed string) {
	t.Helper()
	folder = filepath.Join(t.TempDir(), "house")
	status, _, errs := command("rulebook", "new", folder)
	require.Zero(t, status, errs)
	sealed = filepath.Join(filepath.Dir(folder), "house.tar.gz")
	status, _, errs = command("rulebook", "seal", folder, "-o", sealed)
	require.Zero(t, status, errs)
	return folder, sealed
}

// printing are commands that write to standard output, one of each sort.
func printing(t *testing.T) [][]string {
	folder, sealed := house(t)
	out := [][]string{
		{"snapshot", demoJob}, {"rules"}, {"rules", "-f", "json"}, {"explain", "steam-outlet-height"}, {"explain", "steam-outlet-height", "-f", "json"},
		{"measures"}, {"measures", demoJob}, {"measures", demoJob, "-f", "json"}, {"measures", demoJob, "-f", "policy"}, {"schema"}, {"schema", "report"}, {"starter"},
		{"ci-kit"}, {"ci-kit", "pre-commit"}, {"ci-kit", "-o", filepath.Join(t.TempDir(), "ci")}, {"route", cleanJob, "heat"}, {"draw", demoJob, "-o", t.TempDir()},
		{"rulebook", "show"}, {"rulebook", "document"}, {"rulebook", "document", "-f", "html"}, {"rulebook", "check", folder}, {"rulebook", "compare", "--after", folder},
		{"rulebook", "open", sealed}, {"rulebook", "seal", folder, "-o", sealed}, {"rulebook", "new", filepath.Join(t.TempDir(), "other")},
		{"impact", demoJob, "--after", folder}, {"regions", demoJob}, {"--version"}, {"--help"}, {"help", "review"},
	}
	for _, f := range report.Formats() {
		out = append(out, []string{"review", demoJob, "-f", f})
	}
	return out
}

// TestFullDisk: when nothing more can be written the status is 2 and the message says where.
func TestFullDisk(t *testing.T) {
	for _, args := range printing(t) {
		t.Run(strings.Join(args[:min(len(args), 4)], " "), func(t *testing.T) {
			full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
			require.NoError(t, err)
			defer full.Close()
			var errs bytes.Buffer
			require.Equal(t, report.StatusUnjudged, run(args, strings.NewReader(""), full, &errs), errs.String())
			require.Contains(t, errs.String(), "standard output cannot be written: no space left on device")
		})
	}
	// A file that cannot grow: nothing is left of it, and what was there stays as it was.
	for name, args := range map[string][]string{
		"review":      {"review", demoJob, "-f", "html", "-o"},
		"snapshot":    {"snapshot", demoJob, "-o"},
		"draw pdf":    {"draw", demoJob, "-o"},
		"document":    {"rulebook", "document", "-o"},
		"regions":     {"regions", demoJob, "-f", "json", "-o"},
		"draw folder": {"draw", demoJob, "-o"},
		"starter":     {"starter", "-o"},
	} {
		t.Run("file of "+name, func(t *testing.T) {
			abs, err := filepath.Abs(demoJob)
			require.NoError(t, err)
			for i := range args {
				if args[i] == demoJob {
					args[i] = abs
				}
			}
			dir := t.TempDir()
			file := filepath.Join(dir, map[string]string{"draw pdf": "a.pdf", "draw folder": "sheets", "starter": "new/job.yaml"}[name])
			if file == dir {
				file = putFile(t, filepath.Join(dir, "out"), "what was there\n")
			}
			require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
			c := child(t, "command")
			self := c.Path
			c.Path, c.Args = "/bin/sh", append([]string{"sh", "-c", `ulimit -f 2 && exec "$0" "$@"`, self}, append(args, file)...)
			c.Dir = dir
			var errs bytes.Buffer
			c.Stderr = &errs
			var exit *exec.ExitError
			require.ErrorAs(t, c.Run(), &exit, errs.String())
			require.Equal(t, report.StatusUnjudged, exit.ExitCode(), errs.String())
			require.Regexp(t, `^wetrule: .*(out|a\.pdf|\.svg|job\.schema\.json) cannot be written: file too large\n$`, errs.String())
			require.Contains(t, errs.String(), dir)
			var left []string
			require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
				if err == nil && !d.IsDir() {
					left = append(left, d.Name())
				}
				return err
			}))
			if filepath.Base(file) == "out" {
				require.Equal(t, []string{"out"}, left)
				got, err := os.ReadFile(file)
				require.NoError(t, err)
				require.Equal(t, "what was there\n", string(got))
			} else {
				require.Empty(t, left)
			}
		})
	}
}

// TestDevicesStayDevices: output into a device or a pipe goes into it and does not put a file in its place; a link is followed.
func TestDevicesStayDevices(t *testing.T) {
	status, _, errs := command("review", demoJob, "-o", "/dev/full")
	require.Equal(t, report.StatusUnjudged, status)
	require.Contains(t, errs, "/dev/full cannot be written: no space left on device")
	status, _, errs = command("review", demoJob, "-o", os.DevNull)
	require.Equal(t, report.StatusFindings, status, errs)
	for _, name := range []string{"/dev/full", os.DevNull} {
		info, err := os.Stat(name)
		require.NoError(t, err)
		require.NotZero(t, info.Mode()&fs.ModeCharDevice, name)
	}
	dir := t.TempDir()
	target := putFile(t, filepath.Join(dir, "kept", "target.txt"), "old")
	link := filepath.Join(dir, "link.txt")
	require.NoError(t, os.Symlink("kept/target.txt", link))
	require.NoError(t, os.Chmod(target, 0o600))
	status, _, errs = command("review", demoJob, "-o", link)
	require.Equal(t, report.StatusFindings, status, errs)
	info, err := os.Lstat(link)
	require.NoError(t, err)
	require.NotZero(t, info.Mode()&fs.ModeSymlink)
	info, err = os.Stat(target)
	require.NoError(t, err)
	require.Greater(t, info.Size(), int64(1000))
	require.Equal(t, fs.FileMode(0o600), info.Mode().Perm())
	for name, want := range map[string]string{
		dir: "it is a folder", filepath.Join(dir, "gone", "x.txt"): "no such file or directory", filepath.Join(target, "x.txt"): "not a directory", filepath.Join(dir, "nowhere"): "it is a link that leads nowhere",
	} {
		if filepath.Base(name) == "nowhere" {
			require.NoError(t, os.Symlink("no/such/file", name))
		}
		status, _, errs := command("review", demoJob, "-o", name)
		require.Equal(t, report.StatusUnjudged, status)
		require.Equal(t, "wetrule: "+name+" cannot be written: "+want+"\n", errs)
	}
}

// TestReadOnlyFolder writes where nothing may be written. As root, which may write everywhere, it does so as another user.
func TestReadOnlyFolder(t *testing.T) {
	open, program := forNobody(t)
	demo, err := os.ReadFile(demoJob)
	require.NoError(t, err)
	job := putFile(t, filepath.Join(open, "job.yaml"), string(demo))
	demo, err = os.ReadFile(cleanJob)
	require.NoError(t, err)
	clean := putFile(t, filepath.Join(open, "clean.yaml"), string(demo))
	folder, _ := house(t)
	require.NoError(t, os.CopyFS(filepath.Join(open, "house"), os.DirFS(folder)))
	shut := filepath.Join(open, "shut")
	require.NoError(t, os.Mkdir(shut, 0o755))
	kept := putFile(t, filepath.Join(shut, "kept.txt"), "kept")
	require.NoError(t, os.Chmod(shut, 0o555))
	defer os.Chmod(shut, 0o755)
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"review":          {[]string{"review", job, "-o", kept}, "kept.txt cannot be written: permission denied"},
		"review anew":     {[]string{"review", job, "-f", "sarif", "-o", filepath.Join(shut, "new.sarif")}, "new.sarif cannot be written: permission denied"},
		"snapshot":        {[]string{"snapshot", job, "-o", filepath.Join(shut, "s.json")}, "s.json cannot be written: permission denied"},
		"draw folder":     {[]string{"draw", job, "-o", filepath.Join(shut, "sheets")}, "sheets cannot be made: permission denied"},
		"draw in it":      {[]string{"draw", job, "-o", shut}, ".svg cannot be written: permission denied"},
		"draw pdf":        {[]string{"draw", job, "-o", filepath.Join(shut, "a.pdf")}, "a.pdf cannot be written: permission denied"},
		"templates":       {[]string{"draw", job, "--templates", "-o", filepath.Join(shut, "t.pdf")}, "t.pdf cannot be written: permission denied"},
		"rulebook seal":   {[]string{"rulebook", "seal", filepath.Join(open, "house"), "-o", filepath.Join(shut, "h.tar.gz")}, "h.tar.gz cannot be written: permission denied"},
		"rulebook new":    {[]string{"rulebook", "new", filepath.Join(shut, "house")}, "house/examples cannot be made: permission denied"},
		"document":        {[]string{"rulebook", "document", "-o", filepath.Join(shut, "d.md")}, "d.md cannot be written: permission denied"},
		"starter":         {[]string{"starter", "-o", filepath.Join(shut, "job.yaml")}, "job.schema.json cannot be written: permission denied"},
		"ci-kit":          {[]string{"ci-kit", "-o", shut}, "wetrule-gate.sh cannot be written: permission denied"},
		"ci-kit below it": {[]string{"ci-kit", "-o", filepath.Join(shut, "ci")}, "ci cannot be made: permission denied"},
		"route":           {[]string{"route", clean, "heat", "-o", filepath.Join(shut, "r.yaml")}, "r.yaml cannot be written: permission denied"},
		"regions":         {[]string{"regions", job, "-o", filepath.Join(shut, "r.txt")}, "r.txt cannot be written: permission denied"},
	} {
		t.Run(name, func(t *testing.T) {
			cmd := exec.Command(program, c.args...)
			cmd.Env = append(os.Environ(), childVariable+"=command")
			cmd.Dir = open
			asNobody(cmd)
			var errs bytes.Buffer
			cmd.Stderr = &errs
			var exit *exec.ExitError
			require.ErrorAs(t, cmd.Run(), &exit, errs.String())
			require.Equal(t, report.StatusUnjudged, exit.ExitCode(), errs.String())
			require.Contains(t, errs.String(), c.says)
			require.Equal(t, 1, strings.Count(errs.String(), "\n"), errs.String())
			entries, err := os.ReadDir(shut)
			require.NoError(t, err)
			require.Len(t, entries, 1)
		})
	}
}

// TestKilledWhileWriting: a run that is killed in the middle of writing leaves the old file whole; what else it leaves is no job to later runs.
func TestKilledWhileWriting(t *testing.T) {
	dir := t.TempDir()
	file := putFile(t, filepath.Join(dir, "old.yaml"), string(schema.Starter))
	c := child(t, "dies "+file)
	var errs bytes.Buffer
	c.Stderr = &errs
	var exit *exec.ExitError
	require.ErrorAs(t, c.Run(), &exit)
	require.Equal(t, -1, exit.ExitCode(), "it was not killed: %s", errs.String())
	got, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(schema.Starter), string(got))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 2, "the half file of the killed run")
	require.Regexp(t, `^\.wetrule-\d+$`, entries[0].Name())
	status, out, stderr := command("review", dir)
	require.NotEqual(t, report.StatusUnjudged, status, stderr)
	require.Contains(t, out, "old.yaml")
	require.NotContains(t, out+stderr, ".wetrule-")
	require.NoError(t, replace(file, func(w io.Writer) error { _, err := io.WriteString(w, "new"); return err }))
	got, err = os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, "new", string(got))
}

// TestKilledAtAnyTime kills the whole command at times spread over its run: the file is the old one or the new one.
func TestKilledAtAnyTime(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "page.html")
	whole := time.Hour
	for range 3 { // the first run may be slow
		start := time.Now()
		require.Equal(t, 1, exitOf(t, child(t, "command", "review", demoJob, "-f", "html", "-o", file).Run()))
		whole = min(whole, time.Since(start))
	}
	fresh, err := os.ReadFile(file)
	require.NoError(t, err)
	killed := 0
	for i := range 24 {
		putFile(t, file, "old page")
		c := child(t, "command", "review", demoJob, "-f", "html", "-o", file)
		require.NoError(t, c.Start())
		// Most of the writing is at the end.
		time.Sleep(whole * time.Duration(40+3*i) / 100)
		_ = c.Process.Kill()
		if exitOf(t, c.Wait()) == -1 {
			killed++
		}
		got, err := os.ReadFile(file)
		require.NoError(t, err)
		require.True(t, string(got) == "old page" || bytes.Equal(got, fresh), "half a file of %d bytes", len(got))
	}
	require.Positive(t, killed)
}

func exitOf(t *testing.T, err error) int {
	t.Helper()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode()
	}
	require.NoError(t, err)
	return 0
}

// forNobody makes a folder that everybody may enter, and puts the command there: the test binary lies in one that others cannot enter.
func forNobody(t *testing.T) (open, program string) {
	t.Helper()
	open = t.TempDir()
	for dir := open; dir != os.TempDir() && dir != "/"; dir = filepath.Dir(dir) {
		require.NoError(t, os.Chmod(dir, 0o755))
	}
	self, err := os.Executable()
	require.NoError(t, err)
	program = filepath.Join(open, "wetrule")
	if os.Link(self, program) != nil {
		data, err := os.ReadFile(self)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(program, data, 0o755))
	}
	require.NoError(t, os.Chmod(program, 0o755))
	return open, program
}

// asNobody lets a command of root run as a user who owns nothing.
func asNobody(c *exec.Cmd) {
	if testing.CoverMode() != "" {
		// What was covered goes to a folder that others may write into.
		dir := filepath.Join(filepath.Dir(c.Path), "covered")
		if os.MkdirAll(dir, 0o777) == nil && os.Chmod(dir, 0o777) == nil {
			c.Env = append(c.Env, "GOCOVERDIR="+dir)
		}
	}
	if os.Getuid() == 0 {
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
}

// TestFilesThatAreNoText gives every command that reads a file what is no text, or no such file as it expects: the status is 2, the message names the
// file and, inside it, the place.
func TestFilesThatAreNoText(t *testing.T) {
	demo, err := os.ReadFile(cleanJob)
	require.NoError(t, err)
	dir := t.TempDir()
	folder, _ := house(t)
	good := string(demo)
	title := strings.Index(good, "title: ")
	require.Positive(t, title)
	inTitle := func(bad string) string { return good[:title+7] + bad + good[title+7:] }
	line := 1 + strings.Count(good[:title], "\n")
	at := fmt.Sprintf("%d:8: ", line)
	for name, c := range map[string]struct{ text, says string }{
		"NUL":             {inTitle("\x00"), at + "%scontrol character U+0000 in the file"},
		"Latin 1":         {inTitle("\xfc"), at + "%sbyte 0xFC is not valid UTF-8; save the file as UTF-8"},
		"UTF-16":          {"\xff\xfew\x00e\x00", "1:1: %sthe file is UTF-16 text; save it as UTF-8"},
		"CR alone":        {strings.ReplaceAll(good, "\n", "\r"), ": %sa carriage return without a line feed; end lines with LF or CRLF"},
		"escape sequence": {inTitle("\x1b[2J"), at + "%scontrol character U+001B in the file"},
		"mark inside":     {inTitle("\ufeff"), at + "%sa byte order mark inside the file; delete this invisible character"},
		"long text":       {good + "note: " + strings.Repeat("x", 70_000) + "\n", "%stext of 70000 bytes; the limit is 65536"},
		"long line":       {good + "# " + strings.Repeat("x", 1<<20) + "\n", ": %sthe file is larger than 1048576 bytes"},
		"nothing":         {"", ": %sthe file is empty"},
	} {
		file := putFile(t, filepath.Join(dir, "job.yaml"), c.text)
		for _, args := range [][]string{{"review", file}, {"snapshot", file}, {"draw", file, "-o", filepath.Join(dir, "sheets")}, {"draw", file, "-o", filepath.Join(dir, "a.pdf")}, {"route", file, "heat"},
			{"measures", file}, {"regions", file}, {"impact", file, "--after", folder}, {"review", cleanJob, "--leaves", file}} {
			status, out, errs := command(args...)
			require.Equal(t, report.StatusUnjudged, status, "%s: %v", name, args)
			all := out + errs
			require.True(t, strings.Contains(all, fmt.Sprintf(c.says, "")) || strings.Contains(all, fmt.Sprintf(c.says, "error: ")), "%s: %v says %q", name, args, all[:min(len(all), 400)])
			require.Contains(t, all, "job.yaml", "%s: %v", name, args)
			require.NotContains(t, all, "\x1b")
			require.NotContains(t, all, "\x00")
		}
		for _, left := range []string{"sheets", "a.pdf"} {
			require.NoFileExists(t, filepath.Join(dir, left))
		}
	}
	// What differs in its line breaks alone, or begins with a byte order mark, is the same job.
	want, _, _ := command("review", cleanJob)
	for name, text := range map[string]string{"CRLF": strings.ReplaceAll(good, "\n", "\r\n"), "byte order mark": "\ufeff" + good, "long comment": good + "# " + strings.Repeat("x", 500_000) + "\n"} {
		status, out, errs := command("review", putFile(t, filepath.Join(dir, "job.yaml"), text))
		require.Equal(t, want, status, "%s: %s%s", name, out, errs)
	}
	for name, c := range map[string]struct {
		text, says string
		args       []string
	}{
		"snapshot with NUL":         {"{\"snapshot\": 1, \"findings\": []}\x00", "x is no snapshot: ", []string{"review", cleanJob, "--snapshot"}},
		"snapshot in Latin 1":       {"{\"snapshot\": 1, \"findings\": [{\"fingerprint\": \"\xfc\"}]}", "x is no snapshot: it is not valid UTF-8", []string{"review", cleanJob, "--snapshot"}},
		"snapshot with more behind": {"{\"snapshot\": 1, \"findings\": []} {}", "x is no snapshot: something follows its end", []string{"review", cleanJob, "--snapshot"}},
		"snapshot cut short":        {"{\"snapshot\": 1, \"findings\": [", "x is no snapshot: ", []string{"review", cleanJob, "--snapshot"}},
		"rulebook that is a file":   {"rulebook: x\n", "x is not a folder", []string{"review", cleanJob, "-r"}},
		"sealed, cut short":         {"\x1f\x8b\x08", "is refused: ", []string{"review", cleanJob, "-r"}},
		"key that is none":          {"no key", "x", []string{"rulebook", "seal", folder, "-o", filepath.Join(dir, "h.tar.gz"), "--key"}},
	} {
		file := putFile(t, filepath.Join(dir, "x"), c.text)
		status, _, errs := command(append(c.args, file)...)
		require.Equal(t, report.StatusUnjudged, status, name)
		require.Contains(t, errs, c.says, name)
	}
}
