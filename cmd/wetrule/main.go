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

// streamingHeap is what the runtime may use for jobs that are written as they are judged, in bytes. Live data is a small part of it, whatever
// the number of jobs; near the limit more garbage is collected.
const streamingHeap = 224 << 20

// limitHeap keeps memory down while nothing has to be held. GOMEMLIMIT comes first.
func limitHeap() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(streamingHeap)
	}
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
