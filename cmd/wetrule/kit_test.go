package main

import (
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

// noSkip forbids to skip what lacks a program.
const noSkip = "WETRULE_NO_SKIP"

// TestKit runs the files of the kit as they are written: the shells, git and make do with them what they would do elsewhere.
func TestKit(t *testing.T) {
	need(t, "bash")
	need(t, "sh")
	demo, err := filepath.Abs("../../fixtures/demo")
	require.NoError(t, err)
	testscript.Run(t, testscript.Params{
		Dir:                 "../../fixtures/kit",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			for name, value := range map[string]string{"DEMO": demo, "NO_COLOR": "", "HOME": e.WorkDir, "LC_ALL": "C",
				"GIT_CONFIG_GLOBAL": os.DevNull, "GIT_CONFIG_NOSYSTEM": "1", "GIT_CEILING_DIRECTORIES": filepath.Dir(e.WorkDir),
				"GIT_AUTHOR_NAME": "t", "GIT_AUTHOR_EMAIL": "t@t.test", "GIT_COMMITTER_NAME": "t", "GIT_COMMITTER_EMAIL": "t@t.test"} {
				e.Setenv(name, value)
			}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			// needs PROGRAM fails without it where nothing may be skipped; elsewhere the next line of the script skips.
			"needs": func(ts *testscript.TestScript, _ bool, args []string) {
				if _, err := exec.LookPath(args[0]); err != nil && os.Getenv(noSkip) == "1" {
					ts.Fatalf("the program %s is not found, and %s=1 forbids to skip", args[0], noSkip)
				}
			},
			// status N COMMAND... runs a command that must end with that status.
			"status": func(ts *testscript.TestScript, _ bool, args []string) {
				want, err := strconv.Atoi(args[0])
				ts.Check(err)
				err = ts.Exec(args[1], args[2:]...)
				got := 0
				var e *exec.ExitError
				if errors.As(err, &e) {
					got = e.ExitCode()
				} else {
					ts.Check(err)
				}
				if got != want {
					ts.Fatalf("%s ended with %d, not %d", strings.Join(args[1:], " "), got, want)
				}
			},
			// steps PIPELINE SCRIPT writes the commands of a pipeline into a script.
			"steps": func(ts *testscript.TestScript, _ bool, args []string) {
				ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(strings.Join(stepsOf(ts, ts.ReadFile(args[0])), "\n")+"\n"), 0o600))
			},
		},
	})
}

// need skips loudly without a program, and fails where nothing may be skipped.
func need(t *testing.T, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		if os.Getenv(noSkip) == "1" {
			t.Fatalf("the program %s is not found, and %s=1 forbids to skip", program, noSkip)
		}
		t.Skipf("SKIPPED: the program %s is not found; nothing of the kit is tested", program)
	}
}

func stepsOf(ts *testscript.TestScript, text string) (out []string) {
	var p struct {
		Steps []struct{ Name, Run string }
	}
	ts.Check(yaml.Unmarshal([]byte(text), &p))
	for _, s := range p.Steps {
		if s.Name == "" || s.Run == "" {
			ts.Fatalf("a step without a name or a command: %+v", s)
		}
		out = append(out, s.Run)
	}
	if len(out) == 0 {
		ts.Fatalf("the pipeline has no steps")
	}
	return out
}

// TestKitIsWhole has every file of the folder in the list, and every command and flag in the files known.
func TestKitIsWhole(t *testing.T) {
	var names []string
	err := fs.WalkDir(kitFiles, "kit", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, strings.TrimPrefix(path, "kit/"))
		}
		return err
	})
	require.NoError(t, err)
	var listed []string
	flag := regexp.MustCompile(`(?:^|\s)--([a-z][a-z-]+)`)
	a := &app{}
	known := a.review().Flags()
	for _, k := range kit {
		listed = append(listed, k.name)
		text := string(k.text())
		require.Equal(t, k.runs, strings.HasPrefix(text, "#!/usr/bin/env sh\n"), k.name)
		require.NotContains(t, text, "\r", k.name)
		for _, line := range strings.Split(text, "\n") {
			require.LessOrEqual(t, len(line), 110, "%s: %s", k.name, line)
			if strings.Contains(line, "review") && !strings.HasPrefix(strings.TrimSpace(line), "#") {
				for _, m := range flag.FindAllStringSubmatch(line, -1) {
					require.NotNil(t, known.Lookup(m[1]), "%s: --%s", k.name, m[1])
				}
			}
		}
	}
	require.ElementsMatch(t, names, listed)
}
