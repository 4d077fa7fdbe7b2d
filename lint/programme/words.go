package programme

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/measure"
)

// Day writes a day and a time of day for people: "Tue 3 March 2026, 14:10 GMT".
func Day(t time.Time) string {
	return fmt.Sprintf("%s %d %s %d, %s", t.Format("Mon"), t.Day(), t.Month(), t.Year(), t.Format("15:04 ")+zoneName(t))
}

// ShortDay leaves out the year and the zone: "Tue 3 March 14:10".
func ShortDay(t time.Time) string {
	return fmt.Sprintf("%s %d %s %s", t.Format("Mon"), t.Day(), t.Month(), t.Format("15:04"))
}

// DayOnly is the day alone: "Tue 3 March".
func DayOnly(t time.Time) string {
	return fmt.Sprintf("%s %d %s", t.Format("Mon"), t.Day(), t.Month())
}

// zoneName is the abbreviation of the zone, or the offset where it has none.
func zoneName(t time.Time) string {
	name, _ := t.Zone()
	if name == "" || strings.HasPrefix(name, "+") || strings.HasPrefix(name, "-") {
		return "UTC" + t.Format("-07:00")
	}
	return name
}

// Span writes a length of time for people: "18 h 30 min"; it is rounded to minutes.
func Span(d time.Duration) string {
	sign := ""
	if d < 0 {
		sign, d = "−", -d
	}
	d = d.Round(time.Minute)
	h, m := int(d/time.Hour), int(d%time.Hour/time.Minute)
	switch {
	case h == 0:
		return fmt.Sprintf("%s%d min", sign, m)
	case m == 0:
		return fmt.Sprintf("%s%d h", sign, h)
	}
	return fmt.Sprintf("%s%d h %d min", sign, h, m)
}

// days writes a long time round the clock in days of 24 h, too.
func days(d time.Duration) string {
	n := d / (24 * time.Hour)
	if n < 2 {
		return Span(d)
	}
	out := fmt.Sprintf("%d days", n)
	if d -= n * 24 * time.Hour; d >= time.Minute {
		out += " " + Span(d)
	}
	return out
}

// hoursText writes hours as they are for figures of a data sheet, and whole for what has been worked out, rounded up.
func hoursText(h float64) string { return measure.FormatNumber(h) + " h" }

func ceilHours(h float64) string {
	n := int(h)
	if float64(n) < h-1e-9 {
		n++
	}
	return fmt.Sprintf("%d h", n)
}

// title makes the first letter of some words a capital.
func title(s string) string {
	r := []rune(s)
	if len(r) > 0 {
		r[0] = unicode.ToUpper(r[0])
	}
	return string(r)
}

// label names a task for people.
func label(name string, items, faces []string) string {
	on := append(slices.Clone(items), faces...)
	words := title(measure.Words(name))
	switch n := len(on); {
	case n == 0:
		return words
	case n <= 2:
		return words + " (" + strings.Join(on, ", ") + ")"
	case len(faces) == 0:
		return fmt.Sprintf("%s (%d items)", words, n)
	case len(items) == 0:
		return fmt.Sprintf("%s (%d faces)", words, n)
	default:
		return fmt.Sprintf("%s (%d places)", words, n)
	}
}

// lower writes a label inside a sentence.
func lower(label string) string {
	r := []rune(label)
	if len(r) > 0 {
		r[0] = unicode.ToLower(r[0])
	}
	return string(r)
}

func inWords(list []string) string {
	switch n := len(list); n {
	case 0:
		return ""
	case 1:
		return list[0]
	default:
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
}

// freeBetween says which days without work lie between two instants: "the weekend", "Good Friday".
func freeBetween(c *cpm.Calendar, from, to time.Time, zone *time.Location) string {
	var out []string
	d, last := cpm.DateOf(from.In(zone)), cpm.DateOf(to.In(zone))
	for n := 0; n < 400 && d.Compare(last) < 0; n++ {
		if why, free := c.Free(d); free {
			switch why {
			case "Saturday", "Sunday":
				why = "the weekend"
			case "Monday", "Tuesday", "Wednesday", "Thursday", "Friday":
				why = "a free " + why
			case "":
				why = "a day off"
			}
			if !slices.Contains(out, why) {
				out = append(out, why)
			}
		}
		d = d.AddDays(1)
	}
	return inWords(out)
}

// minutesOf gives a time that some minutes take.
func minutesOf(min float64) time.Duration {
	return time.Duration(min * float64(time.Minute)).Round(time.Second)
}

// hoursOf gives the time of some hours, rounded up to a minute, so that a wait is never too short.
func hoursOf(h float64) time.Duration {
	d := time.Duration(h * float64(time.Hour))
	if r := d % time.Minute; r > time.Millisecond {
		d += time.Minute - r
	}
	return d
}
