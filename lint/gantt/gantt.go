// Package gantt draws bars over days: what is done when, what waits, and where the work is held. It knows nothing of what the bars stand for.
//
// Nothing is told by colour alone: critical bars are hatched and have a bold outline, waits are dotted, points have shapes of their own.
// The same chart gives the same bytes. Texts are data: they are cleaned, cut to their room and escaped; the whole text is in the title of the element.
package gantt

import (
	"errors"
	"fmt"
	"time"

	"wetrule/lint/calc/programme"
)

// ErrInput is the error for charts that cannot be drawn; tell it with errors.Is.
var ErrInput = errors.New("gantt: not possible")

// Limits of a chart.
const (
	MaxRows = 5000
	MaxDays = 20 * 366
	MaxRow  = 200 // bars, and points, of a row
)

// Chart is what is drawn.
type Chart struct {
	ID       string // begins the ids in the drawing, so that a page can hold several; letters, digits, - and _
	Title    string
	Location *time.Location // whose days are drawn; UTC if nil
	From, To time.Time      // zero: as the rows need
	Rows     []Row
	Shades   []Shade // days without work
	Marks    []Mark
	Links    []Link
	Width    float64 // px; 0 for DefaultWidth; at least MinWidth
}

// Widths of a chart in px.
const (
	DefaultWidth = 1120
	MinWidth     = 480
	MaxWidth     = 20000
)

// Row is one line of the chart.
type Row struct {
	ID     string // for data-ref
	Label  string
	Head   bool // a heading of the rows below
	Bars   []Bar
	Points []Point
}

// Sort says how a bar looks.
type Sort uint8

// Sorts of bars.
const (
	Work  Sort = iota // filled
	Wait              // dotted: nobody works, something cures or dries
	Done              // filled grey, a tick at its end: by record
	Float             // a thin line: how late it may become
	Plan              // a thin bar below: when it was to be
)

// Bar is a stretch of time in a row.
type Bar struct {
	Sort     Sort
	From, To time.Time
	Critical bool   // of Work and Wait
	Label    string // drawn where there is room
	Note     string // the title of the element, after the label
}

// Shape says what a point is.
type Shape uint8

// Shapes of points.
const (
	Hold      Shape = iota // filled diamond: may not be passed without release
	Witness                // open diamond: somebody is to be told
	Review                 // circle: a paper or reading is looked at
	Milestone              // triangle
)

// Point is an instant in a row.
type Point struct {
	Shape       Shape
	At          time.Time
	Label, Note string
}

// Shade is a stretch in which nobody works.
type Shade struct {
	From, To time.Time
	Note     string
	Holiday  bool // marked at the top as well
}

// Mark is an instant of the whole chart: today, or when steam may be raised.
type Mark struct {
	At    time.Time
	Label string
}

// Link is an arrow between the first bars of two rows, from and to the ends that its kind says.
type Link struct {
	From, To string // ids of rows
	Kind     programme.Kind
}

func check(c *Chart) error {
	if len(c.Rows) > MaxRows || len(c.Shades) > MaxDays || len(c.Marks) > MaxRow || len(c.Links) > 10*MaxRows {
		return fmt.Errorf("%w: %d rows, %d shades, %d marks, %d arrows", ErrInput, len(c.Rows), len(c.Shades), len(c.Marks), len(c.Links))
	}
	if c.Width != 0 && !(c.Width >= MinWidth && c.Width <= MaxWidth) {
		return fmt.Errorf("%w: a width of %g px", ErrInput, c.Width)
	}
	for _, r := range c.Rows {
		if len(r.Bars) > MaxRow || len(r.Points) > MaxRow {
			return fmt.Errorf("%w: row %q has %d bars and %d points", ErrInput, r.ID, len(r.Bars), len(r.Points))
		}
		for _, b := range r.Bars {
			if b.From.IsZero() || b.To.Before(b.From) || b.Sort > Plan {
				return fmt.Errorf("%w: a bar of row %q", ErrInput, r.ID)
			}
		}
		for _, p := range r.Points {
			if p.At.IsZero() || p.Shape > Milestone {
				return fmt.Errorf("%w: a point of row %q", ErrInput, r.ID)
			}
		}
	}
	for _, s := range c.Shades {
		if s.To.Before(s.From) {
			return fmt.Errorf("%w: a shade that ends before it begins", ErrInput)
		}
	}
	return nil
}
