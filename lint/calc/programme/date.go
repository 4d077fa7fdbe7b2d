package programme

import (
	"fmt"
	"time"
)

// Date is a day of the Gregorian calendar, without a time zone.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf is the day that an instant falls on by the clocks of its own location.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// ParseDate reads a date as YYYY-MM-DD (ISO 8601).
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return Date{}, fmt.Errorf("%w: %q is not a date as YYYY-MM-DD", ErrInput, s)
	}
	return DateOf(t), nil
}

func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day) }

// Weekday is the day of the week.
func (d Date) Weekday() time.Weekday { return d.utc().Weekday() }

// AddDays counts days on, or back if n is negative.
func (d Date) AddDays(n int) Date { return DateOf(d.utc().AddDate(0, 0, n)) }

// Compare orders dates.
func (d Date) Compare(e Date) int { return d.utc().Compare(e.utc()) }

// In is the instant at which the day begins in a location. Where the clocks skip midnight, it begins later than that.
func (d Date) In(loc *time.Location) time.Time {
	return time.Unix(0, wallInstant(d.number(), 0, loc)).In(loc)
}

func (d Date) utc() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// number counts days since 1970-01-01.
func (d Date) number() int { return int(d.utc().Unix() / 86400) }

func dateOfNumber(n int) Date { return DateOf(time.Unix(int64(n)*86400, 0).UTC()) }

// Clock is a time of day by the clock on the wall, in minutes after midnight, from 0 to 24 h.
type Clock int

// At is a time of day.
func At(hour, minute int) Clock { return Clock(hour*60 + minute) }

// ParseClock reads a time of day as HH:MM, 24:00 included.
func ParseClock(s string) (Clock, error) {
	if s == "24:00" {
		return At(24, 0), nil
	}
	t, err := time.Parse("15:04", s)
	if err != nil || len(s) != len("15:04") {
		return 0, fmt.Errorf("%w: %q is not a time of day as HH:MM", ErrInput, s)
	}
	return At(t.Hour(), t.Minute()), nil
}

func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// wallInstant is the instant, in nanoseconds since 1970, at which the clocks of a place show a day (since 1970) and minutes after its midnight.
// A time that the clocks show twice is the first of the two; a time that they skip is the instant at which they skip it.
func wallInstant(day, minutes int, loc *time.Location) int64 {
	wall := int64(day)*86400 + int64(minutes)*60
	offset := func(unix int64) int64 {
		_, s := time.Unix(unix, 0).In(loc).Zone()
		return int64(s)
	}
	// Offsets lie within 15 h of UTC, so that these two look at either side of a change near the time that is sought.
	const side = 36 * 3600
	before, after := offset(wall-side), offset(wall+side)
	first, second := wall-before, wall-after
	switch {
	case offset(first) == before:
		return first * 1e9
	case offset(second) == after:
		return second * 1e9
	}
	change, _ := time.Unix(first, 0).In(loc).ZoneBounds()
	return change.UnixNano()
}
