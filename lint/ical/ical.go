// Package ical writes calendars as iCalendar text (RFC 5545, read from memory; NAME of the calendar by RFC 7986).
//
// All times are in UTC (RFC 5545 section 3.3.5, form 2). What is written are instants that were worked out: a cure ends after its hours, whatever
// the clocks do in between. UTC carries an instant through any change of the clocks without a definition of the zone, which importers
// read differently or replace with their own; each shows it by the clocks of its user. The price: should a country change its clocks' rules after
// the file was written, shifts are off by the change until the file is written anew.
package ical

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// ErrInput is the error for events that cannot be written; tell it with errors.Is.
var ErrInput = errors.New("ical: not possible")

// Calendar is what is written to one file.
type Calendar struct {
	// Key tells this calendar from others; with the keys of the events it makes their UIDs. An event that keeps its key keeps its UID, so that
	// a file imported again moves the event instead of doubling it.
	Key string
	// Name is shown by programs that keep several calendars.
	Name string
	// Stamp is the instant that the file speaks for (DTSTAMP). It is given, never read from the clock.
	Stamp time.Time
	// Sequence counts the issues of the file from 0; a program that holds an earlier one takes the later.
	Sequence int
	Events   []Event
}

// Event is something with a beginning.
type Event struct {
	Key         string // unique in the calendar
	Start       time.Time
	Finish      time.Time // zero, or not a second after Start: a point in time
	Summary     string
	Description string
	Location    string
	Categories  []string
	// Busy says that somebody is occupied. A cure occupies nobody.
	Busy   bool
	Alarms []Alarm
}

// Alarm is a reminder shown on the screen.
type Alarm struct {
	AtFinish bool          // measured from the finish instead of the start
	Before   time.Duration // how long before; whole seconds; negative for after
	Text     string        // the summary of the event if empty
}

// Write writes a calendar: lines end with CR LF and have at most 75 octets, continued between characters. Texts may hold anything: line breaks of
// all sorts become the one of the format, other control characters are left out, bytes that are no text become U+FFFD. The error is
// ErrInput or that of the writer; nothing is written for the former.
func Write(w io.Writer, c Calendar) error {
	var b builder
	if c.Sequence < 0 {
		return fmt.Errorf("%w: a sequence of %d", ErrInput, c.Sequence)
	}
	stamp, err := instant("stamp", c.Stamp)
	if err != nil {
		return err
	}
	b.line("BEGIN:VCALENDAR")
	b.line("VERSION:2.0")
	b.line("PRODID:-//wetrule//programme//EN")
	b.line("CALSCALE:GREGORIAN")
	if c.Name != "" {
		b.line("NAME:" + text(c.Name))
	}
	keys := map[string]bool{}
	for i := range c.Events {
		e := &c.Events[i]
		if keys[e.Key] {
			return fmt.Errorf("%w: two events with the key %q", ErrInput, e.Key)
		}
		keys[e.Key] = true
		if err := b.event(&c, e, stamp); err != nil {
			return err
		}
	}
	b.line("END:VCALENDAR")
	_, err = io.WriteString(w, b.String())
	return err
}

func (b *builder) event(c *Calendar, e *Event, stamp string) error {
	start, err := instant(e.Key, e.Start)
	if err != nil {
		return err
	}
	finish := ""
	if !e.Finish.IsZero() {
		if finish, err = instant(e.Key, e.Finish); err != nil {
			return err
		}
		if e.Finish.Before(e.Start) {
			return fmt.Errorf("%w: %s finishes before it starts", ErrInput, e.Key)
		}
		if finish == start { // DTEND must be later than DTSTART
			finish = ""
		}
	}
	b.line("BEGIN:VEVENT")
	b.line("UID:" + UID(c.Key, e.Key))
	b.line("DTSTAMP:" + stamp)
	if c.Sequence > 0 {
		b.line(fmt.Sprintf("SEQUENCE:%d", c.Sequence))
	}
	b.line("DTSTART:" + start)
	if finish != "" {
		b.line("DTEND:" + finish)
	}
	b.line("SUMMARY:" + text(e.Summary))
	if e.Description != "" {
		b.line("DESCRIPTION:" + text(e.Description))
	}
	if e.Location != "" {
		b.line("LOCATION:" + text(e.Location))
	}
	if len(e.Categories) > 0 {
		parts := make([]string, len(e.Categories))
		for i, s := range e.Categories {
			parts[i] = text(s)
		}
		b.line("CATEGORIES:" + strings.Join(parts, ","))
	}
	if e.Busy && finish != "" {
		b.line("TRANSP:OPAQUE")
	} else {
		b.line("TRANSP:TRANSPARENT")
	}
	for _, a := range e.Alarms {
		b.line("BEGIN:VALARM")
		b.line("ACTION:DISPLAY")
		words := a.Text
		if text(words) == "" {
			words = e.Summary
		}
		if text(words) == "" {
			words = "Reminder" // an empty one would not be shown
		}
		b.line("DESCRIPTION:" + text(words))
		related := ""
		if a.AtFinish && finish != "" {
			related = ";RELATED=END"
		}
		b.line("TRIGGER" + related + ":" + duration(-a.Before))
		b.line("END:VALARM")
	}
	b.line("END:VEVENT")
	return nil
}

// UID is the identifier of an event: always the same for the same keys, and not to be told from it what they are.
func UID(calendarKey, eventKey string) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d:%s%s", len(calendarKey), calendarKey, eventKey))
	return hex.EncodeToString(sum[:16]) + "@wetrule"
}

func instant(what string, t time.Time) (string, error) {
	u := t.UTC()
	if t.IsZero() || u.Year() < 1 || u.Year() > 9999 {
		return "", fmt.Errorf("%w: %s: %s is no time of the years 1 to 9999", ErrInput, what, u.Format(time.DateOnly))
	}
	return u.Format("20060102T150405Z"), nil
}

// duration is a length of time as RFC 5545 section 3.3.6 writes it. A day there follows the clock, so that hours are used throughout.
func duration(d time.Duration) string {
	sign := ""
	s := int64(d / time.Second)
	if s < 0 {
		sign, s = "-", -s
	}
	out := ""
	h, m, s := s/3600, s/60%60, s%60
	if h > 0 {
		out += fmt.Sprintf("%dH", h)
	}
	if m > 0 || h > 0 && s > 0 { // no unit may be left out between two
		out += fmt.Sprintf("%dM", m)
	}
	if s > 0 || out == "" {
		out += fmt.Sprintf("%dS", s)
	}
	return sign + "PT" + out
}

// text writes a text value (RFC 5545 section 3.3.11).
func text(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n").Replace(s)
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\t' || !unicode.IsControl(r) && r != '\uFEFF':
			b.WriteRune(r)
		}
	}
	return b.String()
}

// most is how many octets a line has, its end not counted (RFC 5545 section 3.1).
const most = 75

type builder struct{ strings.Builder }

func (b *builder) line(s string) {
	room := most
	for len(s) > room {
		cut := room
		for !utf8.RuneStart(s[cut]) {
			cut--
		}
		b.WriteString(s[:cut])
		b.WriteString("\r\n ")
		s, room = s[cut:], most-1
	}
	b.WriteString(s)
	b.WriteString("\r\n")
}
