package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

func TestMain(m *testing.M) {
	beChild()
	testscript.Main(m, map[string]func(){"wetrule": main})
}

// TestCommand runs the scripts of fixtures/cli. With UPDATE=1 the expected output in them is written anew.
func TestCommand(t *testing.T) {
	demo, err := filepath.Abs("../../fixtures/demo")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "../../fixtures/cli",
		Cmds:                scriptCommands,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("UPDATE") != "",
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", demo)
			e.Setenv("NO_COLOR", "")
			return nil
		},
	})
}

// childVariable makes the test binary another program: the command itself, or one that dies while it writes a file.
const childVariable = "WETRULE_TEST_CHILD"

func beChild() {
	switch what, file, _ := strings.Cut(os.Getenv(childVariable), " "); what {
	case "command":
		main()
	case "dies":
		err := replace(file, func(w io.Writer) error {
			if _, err := w.Write(bytes.Repeat([]byte("half "), 10_000)); err != nil {
				return err
			}
			me, err := os.FindProcess(os.Getpid())
			if err != nil {
				return err
			}
			if err := me.Kill(); err != nil {
				return err
			}
			select {} // until it arrives
		})
		fmt.Fprintln(os.Stderr, "still alive:", err)
		os.Exit(3)
	}
}

// command runs the command in this process.
func command(args ...string) (status int, stdout, stderr string) {
	var out, errs bytes.Buffer
	status = run(args, strings.NewReader(""), &out, &errs)
	return status, out.String(), errs.String()
}

func putFile(t *testing.T, name, text string) string {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
	require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	return name
}

const (
	demoJob  = "../../fixtures/demo/faults.yaml"
	cleanJob = "../../fixtures/demo/clean.yaml"
)
