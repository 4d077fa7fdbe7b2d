// Command wetrule reviews the fit-out of foam-panel steam rooms and wet rooms.
package main

import (
	"fmt"
	"os"
	"runtime/debug"
	"strings"

	"wetrule/lint/judge"
	"wetrule/lint/report"
)

func main() {
	// Reviews make much short-lived garbage; a larger heap between collections is a third faster and costs some megabytes.
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
	judge.GiveUp = func(why error) {
		fmt.Fprintf(os.Stderr, "wetrule: %v and cannot be stopped; nothing is judged\n", why)
		os.Exit(report.StatusUnjudged)
	}
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// streamingHeap is what the runtime may use for jobs that are written as they are judged, in bytes. Live data is a small part of it, whatever
// the number of jobs; near the limit more garbage is collected. Collecting costs what live data takes, so with streamingPercent it comes seldom.
const (
	streamingHeap    = 224 << 20
	streamingPercent = 1600
)

// limitHeap keeps memory down while nothing has to be held, and makes use of what it leaves. GOMEMLIMIT and GOGC come first.
func limitHeap() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(streamingHeap)
	}
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(streamingPercent)
	}
}

// version is the version of the module and, where the build knows it, its revision, as reports name them: v1.2.0+0123456789ab, devel+0123456789ab.modified, or
// devel when the build knows no more.
func version() string {
	info, ok := debug.ReadBuildInfo()
	return versionOf(info, ok)
}

func versionOf(info *debug.BuildInfo, ok bool) string {
	if !ok {
		return "unknown"
	}
	v, rev := info.Main.Version, setting(info, "vcs.revision")
	rev = rev[:min(len(rev), 12)]
	// Between releases the go command makes a version of time and revision; the revision follows anyway.
	if v == "" || v == "(devel)" || rev != "" && strings.HasSuffix(strings.TrimSuffix(v, "+dirty"), rev) {
		v = "devel"
	}
	v, _, _ = strings.Cut(v, "+")
	if rev != "" {
		v += "+" + rev
		if setting(info, "vcs.modified") == "true" {
			v += ".modified"
		}
	}
	return v
}

func setting(info *debug.BuildInfo, key string) string {
	for _, s := range info.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	return ""
}

// about says what is known of the build.
func about(info *debug.BuildInfo, ok bool) string {
	if !ok {
		return "wetrule unknown\nnothing is recorded of this build\n"
	}
	text := "wetrule " + versionOf(info, ok) + "\n"
	switch rev := setting(info, "vcs.revision"); {
	case rev == "":
		text += "revision not recorded: built without its history\n"
	case setting(info, "vcs.modified") == "true":
		text += "revision " + rev + " of " + setting(info, "vcs.time") + ", with changes that are in no revision\n"
	default:
		text += "revision " + rev + " of " + setting(info, "vcs.time") + "\n"
	}
	for _, d := range info.Deps {
		if d.Path == "github.com/open-policy-agent/opa" {
			text += "rules evaluated by OPA " + d.Version + "\n"
		}
	}
	return text + "built by " + info.GoVersion + "\n"
}
