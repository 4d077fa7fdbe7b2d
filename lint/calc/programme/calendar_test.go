package programme

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func zone(t require.TestingT, name string) *time.Location {
	loc, err := time.LoadLocation(name)
	require.NoError(t, err)
	return loc
}

var (
	weekdays = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}
	allDays  = append([]time.Weekday{time.Saturday, time.Sunday}, weekdays...)
)

func calendar(t require.TestingT, p Pattern) *Calendar {
	c, err := NewCalendar(p)
	require.NoError(t, err)
	return c
}

// eight works 08:00 to 16:00 on weekdays, but not on 2026-06-01.
func eight(t require.TestingT) *Calendar {
	return calendar(t, Pattern{
		Location: zone(t, "Europe/London"), Week: []WeekShift{{weekdays, Shift{At(8, 0), At(16, 0)}}},
		Exceptions: []Exception{{Date: Date{2026, time.June, 1}, Why: "free"}},
	})
}

func local(t require.TestingT, c *Calendar, s string) time.Time {
	v, err := time.ParseInLocation("2006-01-02 15:04", s, c.Location())
	require.NoError(t, err)
	return v
}

const stamp = "2006-01-02 15:04"

func TestWorkingTimeByHand(t *testing.T) {
	c := eight(t)
	const day = 8 * time.Hour
	for _, row := range []struct {
		id, from string
		work     time.Duration
		to       string
	}{
		{"T29: three working days from a Thursday, Monday free", "2026-05-28 08:00", 3 * day, "2026-06-02 16:00"},
		{"before the shift", "2026-05-28 03:00", time.Hour, "2026-05-28 09:00"},
		{"after the shift", "2026-05-28 17:00", time.Hour, "2026-05-29 09:00"},
		{"to the end of a shift", "2026-05-28 12:00", 4 * time.Hour, "2026-05-28 16:00"},
		{"over the weekend", "2026-05-29 15:30", time.Hour, "2026-06-02 08:30"},
		{"nothing", "2026-05-30 12:00", 0, "2026-05-30 12:00"},
		{"back within a shift", "2026-05-28 12:00", -2 * time.Hour, "2026-05-28 10:00"},
		{"back to the beginning of the shift, not the end of the one before", "2026-05-28 12:00", -4 * time.Hour, "2026-05-28 08:00"},
		{"back over the weekend", "2026-06-02 09:00", -2 * time.Hour, "2026-05-29 15:00"},
		{"back from the weekend", "2026-05-30 12:00", -time.Hour, "2026-05-29 15:00"},
	} {
		got, err := c.Add(local(t, c, row.from), row.work)
		require.NoError(t, err, row.id)
		require.Equal(t, row.to, got.Format(stamp), row.id)
	}
	next, err := c.Next(local(t, c, "2026-05-29 16:00"))
	require.NoError(t, err)
	require.Equal(t, "2026-06-02 08:00", next.Format(stamp))
	previous, err := c.Previous(local(t, c, "2026-06-02 08:00"))
	require.NoError(t, err)
	require.Equal(t, "2026-05-29 16:00", previous.Format(stamp))
	between, err := c.Between(local(t, c, "2026-05-28 12:00"), local(t, c, "2026-06-02 09:00"))
	require.NoError(t, err)
	require.Equal(t, 13*time.Hour, between)
	why, free := c.Free(Date{2026, time.June, 1})
	require.True(t, free)
	require.Equal(t, "free", why)
	_, free = c.Free(Date{2026, time.June, 2})
	require.False(t, free)
}

// A shift is as long as it really is. The clocks of London go on at 2026-03-29 01:00 UTC and back at 2026-10-25 01:00 UTC, those of Sydney on at
// 2026-10-03 16:00 UTC; those of Beirut skip midnight of 2026-03-29, those of Apia skipped 2011-12-30 altogether.
func TestChangesOfTheClocks(t *testing.T) {
	for _, row := range []struct {
		id, zone string
		shift    Shift
		from, to string // days
		want     time.Duration
	}{
		{"day shift on the day of the change", "Europe/London", Shift{At(8, 0), At(16, 0)}, "2026-03-29", "2026-03-30", 8 * time.Hour},
		{"night shift, clocks go on", "Europe/London", Shift{At(22, 0), At(6, 0)}, "2026-03-29", "2026-03-30", 5*time.Hour + 2*time.Hour},
		{"night shift, clocks go back", "Europe/London", Shift{At(22, 0), At(6, 0)}, "2026-10-25", "2026-10-26", 7*time.Hour + 2*time.Hour},
		{"night shift in Sydney, clocks go on", "Australia/Sydney", Shift{At(22, 0), At(6, 0)}, "2026-10-04", "2026-10-05", 5*time.Hour + 2*time.Hour},
		{"a shift that begins in the hour that is skipped", "Europe/London", Shift{At(1, 30), At(4, 0)}, "2026-03-29", "2026-03-30", 2 * time.Hour},
		{"a shift within the hour that is skipped", "Europe/London", Shift{At(1, 15), At(1, 45)}, "2026-03-29", "2026-03-30", 0},
		{"midnight is skipped", "Asia/Beirut", Shift{At(0, 0), At(8, 0)}, "2026-03-29", "2026-03-30", 7 * time.Hour},
		{"the whole day, midnight is skipped", "Asia/Beirut", Shift{At(0, 0), At(24, 0)}, "2026-03-29", "2026-03-30", 23 * time.Hour},
		{"a day that never was", "Pacific/Apia", Shift{At(8, 0), At(16, 0)}, "2011-12-29", "2012-01-01", 16 * time.Hour},
	} {
		c := calendar(t, Pattern{Location: zone(t, row.zone), Week: []WeekShift{{allDays, row.shift}}})
		from, err := ParseDate(row.from)
		require.NoError(t, err)
		to, err := ParseDate(row.to)
		require.NoError(t, err)
		got, err := c.Between(from.In(c.Location()), to.In(c.Location()))
		require.NoError(t, err, row.id)
		require.Equal(t, row.want, got, row.id)
	}
	c := calendar(t, Pattern{Location: zone(t, "Europe/London"), Week: []WeekShift{{allDays, Shift{At(22, 0), At(6, 0)}}}})
	got, err := c.Add(local(t, c, "2026-03-28 22:00"), 7*time.Hour)
	require.NoError(t, err)
	require.Equal(t, "2026-03-29 06:00", got.Format(stamp), "the night is an hour short")
	require.Equal(t, "2026-03-29 01:00", Date{2026, time.March, 29}.In(zone(t, "Asia/Beirut")).Format(stamp))
}

// Working time agrees with counting minutes by the clock on the wall.
func TestWorkingTimeAgreesWithCountingMinutes(t *testing.T) {
	set, err := PublicHolidays("GB", "SCT")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"Europe/London", "Australia/Sydney", "Asia/Beirut", "UTC", "America/New_York"}).Draw(t, "zone")
		loc := zone(t, name)
		var week []WeekShift
		for d := time.Sunday; d <= time.Saturday; d++ {
			if rapid.Bool().Draw(t, "works") {
				from := rapid.IntRange(6, 12).Draw(t, "from")
				week = append(week, WeekShift{[]time.Weekday{d}, Shift{At(from, 0), At(from+rapid.IntRange(1, 5).Draw(t, "long"), 0)}})
				if rapid.Bool().Draw(t, "night") {
					week = append(week, WeekShift{[]time.Weekday{d}, Shift{At(20, 0), At(6, 0)}})
				}
			}
		}
		if week == nil {
			week = []WeekShift{{[]time.Weekday{time.Wednesday}, Shift{At(9, 0), At(17, 0)}}}
		}
		c := calendar(t, Pattern{Location: loc, Week: week, Holidays: set})
		starts := []time.Time{time.Date(2026, 3, 24, 0, 0, 0, 0, loc), time.Date(2026, 9, 30, 0, 0, 0, 0, loc), time.Date(2026, 10, 22, 0, 0, 0, 0, loc), time.Date(2026, 12, 20, 0, 0, 0, 0, loc)}
		a := rapid.SampledFrom(starts).Draw(t, "start").Add(time.Duration(rapid.IntRange(0, 1440).Draw(t, "minute")) * time.Minute)
		b := a.Add(time.Duration(rapid.IntRange(0, 14*1440).Draw(t, "minutes")) * time.Minute)
		works := func(at time.Time) bool {
			d := DateOf(at)
			m := at.Hour()*60 + at.Minute()
			for _, w := range week {
				if _, off := set.On(d); w.Days[0] == at.Weekday() && !off && m >= int(w.From) && (m < int(w.To) || w.To < w.From) {
					return true
				}
				if _, off := set.On(d.AddDays(-1)); w.To < w.From && w.Days[0] == d.AddDays(-1).Weekday() && !off && m < int(w.To) {
					return true
				}
			}
			return false
		}
		count := time.Duration(0)
		for at := a; at.Before(b); at = at.Add(time.Minute) {
			if works(at.In(loc)) {
				count += time.Minute
			}
		}
		got, err := c.Between(a, b)
		require.NoError(t, err)
		require.Equal(t, count, got)
		back, err := c.Between(b, a)
		require.NoError(t, err)
		require.Equal(t, -count, back)
		if count > 0 {
			finish, err := c.Add(a, count)
			require.NoError(t, err)
			require.False(t, finish.After(b))
			require.True(t, works(finish.Add(-time.Nanosecond)))
			start, err := c.Sub(b, count)
			require.NoError(t, err)
			require.False(t, start.Before(a))
			require.True(t, works(start))
			again, err := c.Between(start, finish)
			require.NoError(t, err)
			next, err := c.Next(a)
			require.NoError(t, err)
			require.Equal(t, count, again)
			require.True(t, start.Equal(next))
		}
		var sum time.Duration
		parts, err := c.Working(a, b)
		require.NoError(t, err)
		for _, p := range parts {
			sum += p.To.Sub(p.From)
		}
		require.Equal(t, count, sum)
	})
}

func TestCalendarsThatCannotBe(t *testing.T) {
	loc := zone(t, "Europe/Oslo")
	day := []WeekShift{{weekdays, Shift{At(8, 0), At(16, 0)}}}
	for name, p := range map[string]Pattern{
		"no zone":            {Week: day},
		"out of the day":     {Location: loc, Week: []WeekShift{{weekdays, Shift{At(25, 0), At(26, 0)}}}},
		"no such weekday":    {Location: loc, Week: []WeekShift{{[]time.Weekday{9}, Shift{At(8, 0), At(16, 0)}}}},
		"overlap":            {Location: loc, Week: append(day, WeekShift{weekdays[:1], Shift{At(15, 0), At(17, 0)}})},
		"overlap by night":   {Location: loc, Week: []WeekShift{{[]time.Weekday{time.Saturday}, Shift{At(20, 0), At(6, 0)}}, {[]time.Weekday{time.Sunday}, Shift{At(5, 0), At(7, 0)}}}},
		"exception twice":    {Location: loc, Week: day, Exceptions: []Exception{{Date: Date{2026, 6, 1}}, {Date: Date{2026, 6, 1}}}},
		"exception no date":  {Location: loc, Week: day, Exceptions: []Exception{{Date: Date{2026, 2, 30}}}},
		"exception no shift": {Location: loc, Week: day, Exceptions: []Exception{{Date: Date{2026, 2, 3}, Shifts: []Shift{{-1, 5}}}}},
	} {
		_, err := NewCalendar(p)
		require.ErrorIs(t, err, ErrInput, name)
	}
	_, err := NewCalendar(Pattern{Location: loc})
	require.ErrorIs(t, err, ErrNoWorkingTime)
	_, err = new(Calendar).Next(time.Date(2026, 1, 1, 0, 0, 0, 0, loc))
	require.ErrorIs(t, err, ErrNoWorkingTime)

	// The search ends with the years.
	c := calendar(t, Pattern{Location: loc, Week: day})
	_, err = c.Add(time.Date(2026, 1, 1, 0, 0, 0, 0, loc), 290*365*24*time.Hour)
	require.ErrorIs(t, err, ErrHorizon)
	_, err = c.Sub(time.Date(2026, 1, 1, 0, 0, 0, 0, loc), 290*365*24*time.Hour)
	require.ErrorIs(t, err, ErrHorizon)
	_, err = c.Next(time.Date(2200, 1, 1, 0, 0, 0, 0, loc))
	require.ErrorIs(t, err, ErrHorizon)
}

func TestExceptionsTakeTheDaysPlace(t *testing.T) {
	set, err := PublicHolidays("DE", "BY")
	require.NoError(t, err)
	c := calendar(t, Pattern{Location: zone(t, "Europe/Berlin"), Holidays: set, Week: []WeekShift{{weekdays, Shift{At(8, 0), At(16, 0)}}}, Exceptions: []Exception{
		{Date: Date{2026, time.June, 6}, Shifts: []Shift{{At(9, 0), At(12, 0)}}, Why: "Saturday worked"},
		{Date: Date{2026, time.June, 4}, Shifts: []Shift{{At(9, 0), At(12, 0)}}, Why: "holiday worked"},
	}})
	got, err := c.Between(Date{2026, time.June, 4}.In(c.Location()), Date{2026, time.June, 8}.In(c.Location()))
	require.NoError(t, err)
	require.Equal(t, 14*time.Hour, got)
	_, free := c.Free(Date{2026, time.June, 6})
	require.False(t, free)
}

func TestDatesAndTimesOfDay(t *testing.T) {
	for _, s := range []string{"00:00", "07:30", "24:00"} {
		c, err := ParseClock(s)
		require.NoError(t, err)
		require.Equal(t, s, c.String())
	}
	for _, s := range []string{"", "7:30", "24:01", "25:00", "07:60", "0730"} {
		_, err := ParseClock(s)
		require.ErrorIs(t, err, ErrInput, s)
	}
	for _, s := range []string{"", "2026-02-30", "26-01-01", "2026-1-1"} {
		_, err := ParseDate(s)
		require.ErrorIs(t, err, ErrInput, s)
	}
	require.Equal(t, "2026-03-01", Date{2026, time.February, 28}.AddDays(1).String())
}
