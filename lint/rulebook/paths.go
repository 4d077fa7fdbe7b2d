package rulebook

import (
	"slices"
	"strings"

	"wetrule/lint/jobfile"
)

// Path is a field that a rule stands on (see measure.Def.Needs), taken apart once and for all jobs.
type Path struct {
	Steps    []string
	Keys     []string // by step: the key of the subject whose value stands for it, "" for a step that stands for itself
	Absolute bool     // from the root of the job, else from the subject
	FaceMay  bool     // a face may say for itself what this begins with, in place of the job
	Part     int      // which of FaceParts that is
	Straight bool     // it leads through keys that are the same for every subject and stand in Tail
	Own      bool     // it leads straight through keys of the subject, no more than OwnSteps of them
	Tail     string
	Slot     uint8 // made of the tail: equal paths have the same, and most others another
}

// OwnSteps is how many steps a path within a subject mostly has at the most.
const OwnSteps = 3

// faceMay are the parts of a job that a face may say anew for itself.
var faceMay = [FaceParts]string{"build_up", "panel", "joints"}

// FaceParts is how many parts of a job a face may say anew.
const FaceParts = 3

// FacePart names one of them.
func FacePart(i int) string { return faceMay[i] }

// FaceMay says whether a part of a job is one that a face may say anew for itself.
func FaceMay(part string) bool { return slices.Contains(faceMay[:], part) }

// PathOf takes a field apart.
func PathOf(field string) Path {
	rest, absolute := strings.CutPrefix(field, "/")
	sep := "."
	if absolute {
		sep = "/"
	}
	p := Path{Steps: strings.Split(rest, sep), Absolute: absolute, Straight: !strings.Contains(rest, "{"), Tail: "/" + strings.ReplaceAll(rest, sep, "/")}
	p.Keys = make([]string, len(p.Steps))
	for i, step := range p.Steps {
		p.Steps[i] = jobfile.Key(step)
		if strings.HasPrefix(step, "{") && strings.HasSuffix(step, "}") {
			p.Keys[i] = jobfile.Key(step[1 : len(step)-1])
		}
	}
	p.Part = slices.Index(faceMay[:], p.Steps[0])
	p.FaceMay = p.Part >= 0
	for i := range len(p.Tail) {
		p.Slot = p.Slot*31 + p.Tail[i]
	}
	p.Own = p.Straight && !p.Absolute && !p.FaceMay && len(p.Steps) <= OwnSteps
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
