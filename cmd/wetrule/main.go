// Command wetrule reviews the fit-out of foam-panel steam rooms and wet rooms.
package main

import (
	"os"
	"runtime/debug"
)

func main() {
	// Reviews make much short-lived garbage; a larger heap between collections is a third faster and costs some megabytes.
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// version is the version of the module and, for a build from a checkout, its revision.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	if v == "" || v == "(devel)" {
		v = "devel"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			v += "+" + s.Value[:12]
		}
	}
	return v
}
