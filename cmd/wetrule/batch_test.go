//go:build linux

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"wetrule/lint/report"
)

const smallJob = `{"wetrule": 1, "reference": "%d", "stage": "design", "judged_on": "2026-01-01", "room": {"use": "wet_room", "walls": [` +
	`{"id": "n", "width_mm": 2000}, {"id": "e", "width_mm": 1000}, {"id": "s", "width_mm": 2000}, {"id": "w", "width_mm": 1000}]}}` + "\n"

// TestUnreadableInABatch: files and folders that may not be read are told, everything else is judged, and the status is 2.
func TestUnreadableInABatch(t *testing.T) {
	open, program := forNobody(t)
	for i, name := range []string{"a.json", "b.json", "c/d.json", "e.json"} {
		putFile(t, filepath.Join(open, "jobs", name), fmt.Sprintf(smallJob, i))
	}
	require.NoError(t, os.Chmod(filepath.Join(open, "jobs/b.json"), 0))
	require.NoError(t, os.Chmod(filepath.Join(open, "jobs/c"), 0))
	defer os.Chmod(filepath.Join(open, "jobs/c"), 0o755)
	for _, format := range report.Formats() {
		cmd := exec.Command(program, "review", "jobs", "--only", "room", "--fail-at", "critical", "--tolerate-undetermined", "-f", format)
		cmd.Env = append(os.Environ(), childVariable+"=command")
		cmd.Dir = open
		asNobody(cmd)
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		require.Equal(t, report.StatusUnjudged, exitOf(t, cmd.Run()), errs.String())
		require.Empty(t, errs.String())
		text := out.String()
		for _, says := range []string{"jobs/a.json", "jobs/b.json", "jobs/c", "jobs/e.json", "cannot be read: permission denied"} {
			require.True(t, strings.Contains(text, says), "%s: %s", format, says)
		}
		if format == "text" {
			require.Contains(t, text, "jobs/b.json: error: cannot be read: permission denied\n")
			require.Contains(t, text, "jobs/c: error: cannot be read: permission denied\n")
			require.Contains(t, text, "4 jobs: 0 with findings that fail, 2 not judged in full\n")
		}
	}
}

// TestReaderThatLeaves: a reader who has seen enough ends a long batch soon and silently, whether reviews go to a file's worth of output or to a
// pipe that stays open for writing.
func TestReaderThatLeaves(t *testing.T) {
	for _, args := range [][]string{{"review", "--lines", "--only", "room"}, {"review", "--lines", "--only", "room", "-f", "text"}} {
		cmd := child(t, "command", args...)
		in, err := cmd.StdinPipe()
		require.NoError(t, err)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		var errs bytes.Buffer
		cmd.Stderr = &errs
		require.NoError(t, cmd.Start())
		fed := make(chan int)
		go func() {
			n := 0
			for ; ; n++ { // for ever
				if _, err := fmt.Fprintf(in, smallJob, n); err != nil {
					break
				}
			}
			fed <- n
		}()
		line, err := bufio.NewReader(out).ReadString('\n')
		require.NoError(t, err)
		require.NotEmpty(t, line)
		require.NoError(t, out.Close())
		err = cmd.Wait()
		state := cmd.ProcessState.Sys().(syscall.WaitStatus)
		require.True(t, state.Signaled() && state.Signal() == syscall.SIGPIPE || state.ExitStatus() == report.StatusUnjudged, "%v %s", err, errs.String())
		require.NotContains(t, errs.String(), "panic")
		<-fed
	}
	// A pipe by name: no signal comes, and the status says that not everything was judged.
	pipe := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	cmd := child(t, "command", "review", "--lines", "--only", "room", "-o", pipe)
	cmd.Stdin = &endless{}
	var errs bytes.Buffer
	cmd.Stderr = &errs
	require.NoError(t, cmd.Start())
	r, err := os.Open(pipe)
	require.NoError(t, err)
	_, err = bufio.NewReader(r).ReadString('\n')
	require.NoError(t, err)
	require.NoError(t, r.Close())
	_ = cmd.Wait()
	require.Equal(t, report.StatusUnjudged, cmd.ProcessState.ExitCode(), errs.String())
	require.Empty(t, errs.String())
}

// endless gives one job after another.
type endless struct {
	n    int
	rest string
}

func (e *endless) Read(p []byte) (int, error) {
	if e.rest == "" {
		e.rest = fmt.Sprintf(smallJob, e.n)
		e.n++
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

// TestReportComesWhileMoreIsAwaited: whoever sends one job gets its report before the next is sent, so that two programs can talk.
func TestReportComesWhileMoreIsAwaited(t *testing.T) {
	cmd := child(t, "command", "review", "--lines", "--only", "room", "--findings-only")
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	timer := time.AfterFunc(time.Minute, func() { _ = cmd.Process.Kill() })
	defer timer.Stop()
	answers := bufio.NewReader(out)
	for i := range 5 {
		_, err := fmt.Fprintf(in, smallJob, i)
		require.NoError(t, err)
		line, err := answers.ReadString('\n')
		require.NoError(t, err)
		require.Contains(t, line, fmt.Sprintf(`"line":%d,"reference":"%d"`, i+1, i))
	}
	require.NoError(t, in.Close())
	rest, err := io.ReadAll(answers)
	require.NoError(t, err)
	require.Empty(t, rest)
	_ = cmd.Wait()
}

// TestMemoryStaysFlat sends a long stream of jobs through the command and holds its peak memory against what is promised. With
// WETRULE_LARGE it takes 100,000 of them, and as many in a folder.
func TestMemoryStaysFlat(t *testing.T) {
	jobs, most := 200, 300.0
	if os.Getenv("WETRULE_LARGE") != "" {
		jobs = 100_000
	}
	dir := t.TempDir()
	for i := range jobs {
		putFile(t, filepath.Join(dir, "jobs", fmt.Sprintf("%03d/%06d.json", i/1000, i)), fmt.Sprintf(smallJob, i))
	}
	for name, args := range map[string][]string{
		"lines":           {"review", "--lines"},
		"lines as text":   {"review", "--lines", "-f", "text"},
		"folder as lines": {"review", filepath.Join(dir, "jobs"), "-f", "lines"},
		"folder as text":  {"review", filepath.Join(dir, "jobs")},
	} {
		cmd := child(t, "command", args...)
		if strings.HasPrefix(name, "lines") {
			cmd.Stdin = io.LimitReader(&endless{}, jobsBytes(jobs))
		}
		var count lineCount
		cmd.Stdout = &count
		start := time.Now()
		_ = cmd.Run()
		took := time.Since(start)
		require.Contains(t, []int{report.StatusClean, report.StatusFindings}, cmd.ProcessState.ExitCode())
		if strings.HasSuffix(name, "lines") {
			require.Equal(t, lineCount(jobs), count)
		}
		peak := float64(cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss) / 1024
		cpu := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
		t.Logf("%s: %d jobs, %.0f/s on %d cores, %.2f ms of processor each, peak %.0f MB", name, jobs, float64(jobs)/took.Seconds(), runtime.GOMAXPROCS(0), cpu.Seconds()*1000/float64(jobs), peak)
		require.Less(t, peak, most, name)
	}
}

func jobsBytes(n int) int64 {
	size := 0
	for i := range n {
		size += len(fmt.Sprintf(smallJob, i))
	}
	return int64(size)
}

type lineCount int

func (n *lineCount) Write(p []byte) (int, error) {
	*n += lineCount(bytes.Count(p, []byte("\n")))
	return len(p), nil
}
