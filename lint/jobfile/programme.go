package jobfile

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // so that a machine without time zones knows them too

	calendar "wetrule/lint/calc/programme"
)

// Weekdays are the words of the job format for the days of the week, Monday first.
var Weekdays = []string{"mo", "tu", "we", "th", "fr", "sa", "su"}

// DayMinutes reads a time of day, hh:mm, in minutes from midnight; 24:00 is the end of the day. The schema has checked how it is written.
func DayMinutes(clock string) (int, bool) {
	if len(clock) != len("00:00") || clock[2] != ':' {
		return 0, false
	}
	h, err1 := strconv.Atoi(clock[:2])
	m, err2 := strconv.Atoi(clock[3:])
	n := h*60 + m
	return n, err1 == nil && err2 == nil && h >= 0 && m >= 0 && m < 60 && n <= 24*60
}

// Zone finds a time zone by its IANA name. The zone of the machine is none.
func Zone(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fmt.Errorf("%q is no time zone", name)
	}
	return time.LoadLocation(name)
}

// programme sees that zone, shifts, holidays and forecast of the programme can be reckoned with.
func (c *crossCheck) programme(job *Job) {
	p := job.Programme
	if p == nil {
		return
	}
	if h := p.Holidays; h != nil && !h.Listed {
		c.holidays(h, job.Country)
	}
	if p.TimeZone != "" {
		if _, err := Zone(p.TimeZone); err != nil {
			c.bad(p.Pos.Get("time_zone"), "/programme/time_zone", "there is no time zone %q; expected a name of the IANA time zone database, such as Europe/London", p.TimeZone)
		}
	}
	type stretch struct {
		from, to int
		at       *Node
	}
	week := map[string][]stretch{}
	for i := range p.Shifts {
		s := &p.Shifts[i]
		from, ok1 := DayMinutes(s.From)
		to, ok2 := DayMinutes(s.To)
		if !ok1 || !ok2 {
			continue // the schema has said so
		}
		if to <= from {
			c.bad(s.Pos.Get("to"), fmt.Sprintf("/programme/shifts/%d/to", i), "the shift ends at %s and begins at %s; expected an end after the beginning, on the same day (write a night shift as two: one to 24:00, one from 00:00 on the next day)", s.To, s.From)
			continue
		}
		for _, day := range s.Days {
			week[day] = append(week[day], stretch{from, to, s.Pos})
		}
	}
	told := map[*Node]bool{}
	for _, day := range Weekdays {
		list := week[day]
		sort.SliceStable(list, func(i, j int) bool { return list[i].from < list[j].from })
		for i := 1; i < len(list); i++ {
			a, b := list[0], list[i] // a ends last of those before b
			for _, x := range list[:i] {
				if x.to > a.to {
					a = x
				}
			}
			if b.from < a.to && !told[b.at] {
				told[b.at] = true
				c.bad(b.at, fmt.Sprintf("/programme/shifts/%d", indexOf(p.Pos.Get("shifts"), b.at)), "the shift from %s overlaps the one from %s to %s (%d:%d) on %s; expected shifts that follow one another", clockOf(b.from), clockOf(a.from), clockOf(a.to), a.at.Line, a.at.Col, day)
			}
		}
	}
	if f := p.SiteTemperature; f != nil {
		for i := 1; i < len(f.Steps); i++ {
			if a, b := f.Steps[i-1].From, f.Steps[i].From; b <= a {
				c.bad(f.Steps[i].Pos.Get("from"), fmt.Sprintf("/programme/site_temperature_c/%d/from", i), "%s does not lie after %s; expected days in order of time", b, a)
			}
		}
	}
}

// holidays sees that country and region have public holidays that are known.
func (c *crossCheck) holidays(h *Holidays, country string) {
	at, key := h.Pos.Get("country"), "country"
	if h.Country != "" {
		country = h.Country
	}
	if h.Region != "" {
		at, key = h.Pos.Get("region"), "region"
	}
	where := "/programme/holidays/" + key
	if country == "" {
		if h.Region != "" {
			c.bad(at, where, "the region %q has no country; expected a country beside it, or one of the job", h.Region)
		}
		return
	}
	_, err := calendar.PublicHolidays(country, "")
	switch {
	case err != nil && h.Country != "":
		c.bad(h.Pos.Get("country"), "/programme/holidays/country", "the public holidays of %q are not known; expected one of %s, or a list of days off", country, strings.Join(calendar.Countries(), ", "))
		return
	case err != nil && h.Region == "":
		return // the country of the job alone; the programme says so
	}
	if _, err := calendar.PublicHolidays(country, h.Region); err != nil {
		regions := calendar.Regions(country)
		known := make([]string, len(regions))
		for i, r := range regions {
			known[i] = r.Code
		}
		want := "expected one of " + strings.Join(known, ", ")
		if len(known) == 0 {
			want = "expected no region; only the country as a whole is known"
		}
		c.bad(at, where, "the public holidays of the region %q of %s are not known; %s", h.Region, country, want)
	}
}

func indexOf(list, item *Node) int {
	for i, n := range list.Items() {
		if n == item {
			return i
		}
	}
	return -1
}

func clockOf(minutes int) string { return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60) }
