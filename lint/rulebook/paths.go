package rulebook

import (
	"slices"
	"strings"
)

// Path is a field that a rule stands on (see measure.Def.Needs), taken apart once and for all jobs.
type Path struct {
	Steps    []string
	Absolute bool // from the root of the job, else from the subject
	Plain    bool // one key of the subject
	FaceMay  bool // a face may say for itself what this begins with, in place of the job
}

// faceMay are the parts of a job that a face may say anew for itself.
var faceMay = []string{"build_up", "panel", "joints"}

// FaceMay says whether a part of a job is one that a face may say anew for itself.
func FaceMay(part string) bool { return slices.Contains(faceMay, part) }

// PathOf takes a field apart.
func PathOf(field string) Path {
	rest, absolute := strings.CutPrefix(field, "/")
	sep := "."
	if absolute {
		sep = "/"
	}
	p := Path{Steps: strings.Split(rest, sep), Absolute: absolute, Plain: !strings.ContainsAny(field, "./{")}
	p.FaceMay = FaceMay(p.Steps[0])
	return p
}

// Paths are the Fields, taken apart.
func (r *Rule) Paths() []Path {
	if r.paths != nil {
		return r.paths
	}
	fields := r.Fields()
	out := make([]Path, len(fields))
	for i, f := range fields {
		out[i] = PathOf(f)
	}
	return out
}
