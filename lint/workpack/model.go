// Package workpack makes the pack that goes to site out of a review, a plan of the work and its programme: cautions, open findings, tools,
// materials, steps to tick, setting-out sheets, programme, inspections, makers' instructions and the handover. There is one model of the pack, of
// sections and blocks; a page in HTML and a PDF are written from it, so they cannot say different things.
//
// Text of a job is data: the writers escape it. The bytes depend on what goes in alone.
package workpack

import (
	"wetrule/lint/draw"
	"wetrule/lint/report"
)

// Pack is a work pack.
type Pack struct {
	Reference, Title string // of the job
	File             string // name of the job file
	On               string // date of judgement, 2006-01-02
	Revision         string // of the job file; see draw.Revision
	RulesRevision    string // of what it was judged by
	Version          string // of wetrule
	Banner           string // what every page says first, "" for nothing
	Sections         []Section

	tools, materials [][]string // with their heads
	sheets           []draw.Sheet
	cautions         []string
	paper            draw.PaperSize
	job              []byte
	calendar         []byte // iCalendar
	critical         openCritical
}

// Section is a part of the pack that begins on a new page.
type Section struct {
	ID, Title string
	Blocks    []Block
}

// Block is one thing in a section.
type Block interface{ block() }

// The blocks. Sizes are mm on paper.
type (
	// Cover is the head of the pack.
	Cover struct{ Reference, Title, State string }
	// Contents lists the sections.
	Contents struct{ Sections []Link }
	// Link leads to a section.
	Link struct{ ID, Title string }
	// Heading is a heading below the title of a section.
	Heading struct {
		ID, Text string
		Mark     bool // stands in the outline of a document
	}
	// Paragraph is running text.
	Paragraph struct {
		Text   string
		Strong bool
	}
	// List is a list with a dash before each line.
	List struct{ Lines []string }
	// Facts are words and what is said under them.
	Facts struct{ Facts []Fact }
	// Fact is one of them.
	Fact struct{ Word, Text string }
	// Table is a table with a caption and a head that comes again on every page.
	Table struct {
		Caption string
		Columns []Column
		Rows    []Row
	}
	// Column is a column of a table. The widths of all columns add up to Width at most.
	Column struct {
		Head  string
		MM    float64
		Right bool
	}
	// Row is a row of a table. The first cell is its head.
	Row struct {
		Cells []Cell
		Room  float64 // least height, for handwriting
	}
	// Cell is one cell: text, lines below it, and boxes to tick with a word behind each.
	Cell struct {
		Text   string
		Lines  []string
		Boxes  []string
		Write  []string // words before lines to write on
		Strong bool
	}
	// Steps are steps with a box to tick each.
	Steps struct{ Steps []StepEntry }
	// StepEntry is one step.
	StepEntry struct {
		Number   int // in the order of the whole work
		ID, Text string
		By       string
		Meta     []Fact   // time, tools, materials, what is missing
		Cautions []string // short, with codes of signs
		Point    *PointEntry
	}
	// PointEntry is an inspection where the work stops or somebody is called.
	PointEntry struct {
		Mark, Sort, Means string
		Check, Released   string
		Hold              bool
	}
	// Note is a framed note. Sort is caution, warning or plain.
	Note struct {
		Sort, Title, Code string
		Lines             []string
	}
	// Finding is an open finding.
	Finding struct{ report.Entry }
	// Form are lines to write on.
	Form struct {
		Fields []string
	}
	// Sheets are setting-out sheets.
	Sheets struct{ Sheets []draw.Sheet }
	// Drawing is a drawing among the text, as wide as it is.
	Drawing struct{ Sheet draw.Sheet }
)

func (Cover) block()     {}
func (Contents) block()  {}
func (Heading) block()   {}
func (Paragraph) block() {}
func (List) block()      {}
func (Facts) block()     {}
func (Table) block()     {}
func (Steps) block()     {}
func (Note) block()      {}
func (Finding) block()   {}
func (Form) block()      {}
func (Sheets) block()    {}
func (Drawing) block()   {}

// Width is how wide text is on paper, mm.
const Width = 178

// text makes a cell of a text, bold one in bold letters.
func text(s string) Cell { return Cell{Text: s} }
func bold(s string) Cell { return Cell{Text: s, Strong: true} }
