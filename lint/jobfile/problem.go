package jobfile

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// MaxProblems is how many problems of one file are told; the rest is counted.
const MaxProblems = 50

// Problem is one thing wrong with a file. Line and Col are 1-based and columns count Unicode code points;
// 0:0 means the whole file. Pointer is the JSON Pointer (RFC 6901) of the value that the problem is about,
// or of its parent when the value is missing.
type Problem struct {
	File    string
	Line    int
	Col     int
	Pointer string
	Message string
}

// Error gives `file:line:col: message`, or `file: message` for the whole file.
func (p Problem) Error() string {
	var b strings.Builder
	if p.File != "" {
		b.WriteString(p.File)
		b.WriteByte(':')
	}
	if p.Line > 0 {
		b.WriteString(strconv.Itoa(p.Line))
		b.WriteByte(':')
		b.WriteString(strconv.Itoa(p.Col))
		b.WriteByte(':')
	}
	if b.Len() > 0 {
		b.WriteByte(' ')
	}
	b.WriteString(p.Message)
	return b.String()
}

// Problems is a list of problems, in order of file, line, column and message.
type Problems []Problem

// Error gives one problem a line.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Sort puts the problems in order of file, line, column, message and pointer.
func (ps Problems) Sort() {
	slices.SortFunc(ps, compareProblems)
}

func compareProblems(a, b Problem) int {
	return cmp.Or(
		cmp.Compare(a.File, b.File),
		cmp.Compare(a.Line, b.Line),
		cmp.Compare(a.Col, b.Col),
		cmp.Compare(a.Message, b.Message),
		cmp.Compare(a.Pointer, b.Pointer),
	)
}

// finish sorts the problems of one file, drops repeats, cuts the list to MaxProblems and says how many more there
// are. It gives a nil error for an empty list, never a typed nil.
func (ps Problems) finish() error {
	if len(ps) == 0 {
		return nil
	}
	ps.Sort()
	ps = slices.CompactFunc(ps, func(a, b Problem) bool {
		return a.File == b.File && a.Line == b.Line && a.Col == b.Col && a.Message == b.Message
	})
	if more := len(ps) - MaxProblems; more > 0 {
		// The note stands at the first problem left out, so that it also sorts behind the ones shown.
		note := ps[MaxProblems]
		note.Pointer = ""
		note.Message = "and " + strconv.Itoa(more) + " more"
		ps = append(ps[:MaxProblems:MaxProblems], note)
	}
	return ps
}
