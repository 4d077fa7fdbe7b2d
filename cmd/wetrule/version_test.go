package main

import (
	"runtime/debug"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestVersion(t *testing.T) {
	const rev = "0123456789abcdef0123456789abcdef01234567"
	build := func(main string, settings ...string) *debug.BuildInfo {
		b := &debug.BuildInfo{GoVersion: "go1.26.8", Main: debug.Module{Path: "wetrule", Version: main}}
		for i := 0; i+1 < len(settings); i += 2 {
			b.Settings = append(b.Settings, debug.BuildSetting{Key: settings[i], Value: settings[i+1]})
		}
		return b
	}
	for name, c := range map[string]struct {
		info        *debug.BuildInfo
		want, about string
	}{
		"nothing known":         {nil, "unknown", "wetrule unknown\nnothing is recorded of this build\n"},
		"no history":            {build("(devel)"), "devel", "wetrule devel\nrevision not recorded: built without its history\nbuilt by go1.26.8\n"},
		"no version":            {build(""), "devel", "wetrule devel\nrevision not recorded: built without its history\nbuilt by go1.26.8\n"},
		"between releases":      {build("v0.0.0-20261125132127-0123456789ab", "vcs.revision", rev, "vcs.time", "2026-11-25T13:21:27Z", "vcs.modified", "false"), "devel+0123456789ab", "wetrule devel+0123456789ab\nrevision " + rev + " of 2026-11-25T13:21:27Z\nbuilt by go1.26.8\n"},
		"with changes":          {build("v0.0.0-20261125132127-0123456789ab+dirty", "vcs.revision", rev, "vcs.time", "2026-11-25T13:21:27Z", "vcs.modified", "true"), "devel+0123456789ab.modified", "wetrule devel+0123456789ab.modified\nrevision " + rev + " of 2026-11-25T13:21:27Z, with changes that are in no revision\nbuilt by go1.26.8\n"},
		"a release":             {build("v1.2.3", "vcs.revision", rev, "vcs.modified", "false"), "v1.2.3+0123456789ab", ""},
		"a release, changed":    {build("v1.2.3+dirty", "vcs.revision", rev, "vcs.modified", "true"), "v1.2.3+0123456789ab.modified", ""},
		"from the module cache": {build("v1.2.3"), "v1.2.3", ""},
	} {
		require.Equal(t, c.want, versionOf(c.info, c.info != nil), name)
		if c.about != "" {
			require.Equal(t, c.about, about(c.info, c.info != nil), name)
		}
	}
	status, out, _ := command("--version")
	require.Zero(t, status)
	require.Regexp(t, `^wetrule \S+\nrevision .*\n(rules evaluated by OPA v1\.\d+\.\d+\n)?built by go1\.`, out)
}

// TestVersionIsInReports: the version stands in every report that a machine or a person keeps.
func TestVersionIsInReports(t *testing.T) {
	for format, want := range map[string]string{"json": `"version":`, "sarif": `"version":`, "html": "Written by wetrule " + version()} {
		_, out, errs := command("review", demoJob, "-f", format)
		require.Contains(t, out, want, errs)
		require.Contains(t, out, version())
	}
}
