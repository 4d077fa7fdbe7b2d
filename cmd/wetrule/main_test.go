package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
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
