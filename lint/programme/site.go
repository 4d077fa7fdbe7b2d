package programme

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"wetrule/lint/calc/maturity"
	cpm "wetrule/lint/calc/programme"
	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// zones are the time zones of countries that have one for all, or nearly all, of their land (IANA time zone database).
var zones = map[string]string{"AT": "Europe/Vienna", "DE": "Europe/Berlin", "FI": "Europe/Helsinki", "GB": "Europe/London", "NO": "Europe/Oslo", "SE": "Europe/Stockholm"}

// weekdays are the words of the job format.
var weekdays = map[string]time.Weekday{"su": time.Sunday, "mo": time.Monday, "tu": time.Tuesday, "we": time.Wednesday, "th": time.Thursday, "fr": time.Friday, "sa": time.Saturday}

// usualWeek is taken when the job gives no shifts: Monday to Friday 08:00 to 16:30 with half an hour's break.
//
// Source: common practice.
var usualWeek = []cpm.WeekShift{
	{Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}, Shift: cpm.Shift{From: cpm.At(8, 0), To: cpm.At(12, 0)}},
	{Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}, Shift: cpm.Shift{From: cpm.At(12, 30), To: cpm.At(16, 30)}},
}

// site is what the work is reckoned with: hours, crew, weather.
type site struct {
	zone     *time.Location
	calendar *cpm.Calendar
	lengths  *cpm.Calendar // in which the days on which the job plans work are worked, for the lengths that it plans
	crew     map[string]int
	forecast *jobfile.SiteForecast
	humidity *float64
	assume   []string
	cautions []string
}

func (s *site) assumed(format string, args ...any) {
	s.assume = append(s.assume, fmt.Sprintf(format, args...))
}

func (s *site) caution(format string, args ...any) {
	s.cautions = append(s.cautions, fmt.Sprintf(format, args...))
}

// newSite reads the section programme of a job. planned are the instants at which the job plans attended work to begin or end; fresh says that
// nothing begins when it is planned.
func newSite(f *jobfile.File, trades []string, planned []plannedAt, fresh bool) (*site, error) {
	p := f.Job.Programme
	if p == nil {
		p = &jobfile.Programme{}
	}
	s := &site{forecast: p.SiteTemperature, humidity: p.SiteHumidityPercent}
	if err := s.findZone(f.Job, p); err != nil {
		return nil, err
	}
	pattern := cpm.Pattern{Location: s.zone, Week: usualWeek}
	if len(p.Shifts) == 0 {
		s.assumed("No shifts are given: Monday to Friday 08:00 to 16:30 with half an hour's break is taken.")
	} else {
		pattern.Week = nil
		for i := range p.Shifts {
			w := cpm.WeekShift{}
			for _, d := range p.Shifts[i].Days {
				w.Days = append(w.Days, weekdays[d])
			}
			from, _ := jobfile.DayMinutes(p.Shifts[i].From)
			to, _ := jobfile.DayMinutes(p.Shifts[i].To)
			w.Shift = cpm.Shift{From: cpm.Clock(from), To: cpm.Clock(to)}
			pattern.Week = append(pattern.Week, w)
		}
	}
	if err := s.findHolidays(f, p, &pattern); err != nil {
		return nil, err
	}
	var err error
	make := func(c **cpm.Calendar, p cpm.Pattern) {
		if err == nil {
			*c, err = cpm.NewCalendar(p)
		}
	}
	make(&s.calendar, pattern)
	if err == nil {
		worked := s.overtime(planned, len(p.Shifts) == 0 && !fresh, fresh, pattern)
		make(&s.lengths, worked)
		if len(p.Shifts) == 0 && !fresh {
			make(&s.calendar, worked)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("the working hours cannot be reckoned with: %w", err)
	}
	return s, s.findCrew(f, p, trades)
}

func (s *site) findZone(job *jobfile.Job, p *jobfile.Programme) error {
	name := p.TimeZone
	if name == "" {
		name = zones[job.Country]
		switch {
		case name != "":
			s.assumed("No time zone is given: %s is taken, as the country is %s.", name, job.Country)
		case job.Country == "":
			name = "UTC"
			s.assumed("Neither a time zone nor a country is given: UTC is taken. Give programme.time_zone, or hours and clock changes are not those of the site.")
		default:
			name = "UTC"
			s.assumed("No time zone is given and %s has several: UTC is taken. Give programme.time_zone, or hours and clock changes are not those of the site.", job.Country)
		}
	}
	var err error
	if s.zone, err = jobfile.Zone(name); err != nil {
		return fmt.Errorf("the time zone %s is not known: %w", name, err)
	}
	return nil
}

// findHolidays finds the days off.
func (s *site) findHolidays(f *jobfile.File, p *jobfile.Programme, pattern *cpm.Pattern) error {
	h := p.Holidays
	if h == nil {
		h = &jobfile.Holidays{}
		switch {
		case f.Job.Country == "":
			s.assumed("Neither holidays nor a country are given: no public holidays are kept.")
		}
	}
	off := map[cpm.Date]string{}
	for _, d := range h.DaysOff {
		if date, err := cpm.ParseDate(d); err == nil {
			off[date] = "a day off"
		}
	}
	country, region, given := h.Country, h.Region, h.Country != "" || h.Region != ""
	if country == "" && !h.Listed {
		country = f.Job.Country
	}
	if region == "" && h.Country == "" && !h.Listed {
		region = f.Job.Region
	}
	if country != "" {
		set, err := cpm.PublicHolidays(country, region)
		if err != nil && !given {
			// The region of a job is a word of the rulebooks; it may be none of the calendar's.
			if whole, e := cpm.PublicHolidays(country, ""); e == nil {
				set = whole
				s.assumed("No public holidays are known for the region %q: those of all of %s are kept. Give programme.holidays.", region, country)
			} else {
				s.assumed("No public holidays are known for %s: none are kept. Give programme.holidays.", country)
			}
			err = nil
		} else if err == nil && !given {
			note := ""
			if set.Note != "" {
				note = " (" + set.Note + ")"
			}
			place := set.Place
			if strings.HasPrefix(place, "United ") {
				place = "the " + place
			}
			s.assumed("No holidays are given: the public holidays of %s are kept%s.", place, note)
		}
		if err != nil {
			return jobfile.Problems{problemAt(f, h.Pos, "/programme/holidays", err.Error())}
		}
		pattern.Holidays = set
	}
	for _, d := range sortedDates(off) {
		pattern.Exceptions = append(pattern.Exceptions, cpm.Exception{Date: d, Why: off[d]})
	}
	for _, text := range h.Worked {
		d, err := cpm.ParseDate(text)
		if err != nil || off[d] != "" {
			continue // a day off by the list is one
		}
		if shifts := shiftsOn(pattern.Week, d.Weekday()); len(shifts) > 0 {
			pattern.Exceptions = append(pattern.Exceptions, cpm.Exception{Date: d, Shifts: shifts, Why: "worked"})
		}
	}
	return nil
}

func problemAt(f *jobfile.File, n *jobfile.Node, pointer, message string) jobfile.Problem {
	p := jobfile.Problem{File: f.Name, Pointer: pointer, Message: message}
	if n != nil {
		p.Line, p.Col = int(n.Line), int(n.Col)
	}
	return p
}

func sortedDates(m map[cpm.Date]string) []cpm.Date {
	out := make([]cpm.Date, 0, len(m))
	for d := range m {
		out = append(out, d)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Compare(out[j]) < 0 })
	return out
}

func shiftsOn(week []cpm.WeekShift, day time.Weekday) []cpm.Shift {
	var out []cpm.Shift
	for _, w := range week {
		if slices.Contains(w.Days, day) {
			out = append(out, w.Shift)
		}
	}
	return out
}

// plannedAt is a time at which the job plans attended work.
type plannedAt struct {
	at    time.Time
	label string
}

// overtime makes days on which the job plans work, and on which nobody would work, working days. Where the shifts are only assumed the job knows better, and
// they are worked; told says that this is to be said. Where shifts are given the days count for the lengths of the tasks alone, and it warns.
func (s *site) overtime(planned []plannedAt, told, quiet bool, pattern cpm.Pattern) cpm.Pattern {
	pattern.Exceptions = slices.Clone(pattern.Exceptions)
	seen := map[cpm.Date]bool{}
	for _, p := range planned {
		at := p.at.In(s.zone)
		d := cpm.DateOf(at)
		why, free := s.calendar.Free(d)
		if !free || seen[d] {
			continue
		}
		seen[d] = true
		var shifts []cpm.Shift
		for k := 0; k < 7 && len(shifts) == 0; k++ {
			shifts = shiftsOn(pattern.Week, time.Weekday((int(time.Monday)+k)%7))
		}
		pattern.Exceptions = slices.DeleteFunc(pattern.Exceptions, func(e cpm.Exception) bool { return e.Date == d })
		pattern.Exceptions = append(pattern.Exceptions, cpm.Exception{Date: d, Shifts: shifts})
		day := DayOnly(at)
		if why != d.Weekday().String() {
			day += " (" + why + ")"
		}
		switch {
		case told:
			s.assumed("%s is worked, as the job plans for it: %s.", day, lower(p.label))
		case !quiet:
			s.caution("%s is planned for %s, on which nobody works.", p.label, day)
		}
	}
	return pattern
}

func (s *site) findCrew(f *jobfile.File, p *jobfile.Programme, trades []string) error {
	s.crew = map[string]int{"fitter": 1, "tiler": 1}
	if len(p.Crew) == 0 {
		s.assumed("No crew is given: one fitter and one tiler are taken, and other trades come when they are needed.")
		return nil
	}
	s.crew = map[string]int{}
	var problems jobfile.Problems
	names := make([]string, 0, len(p.Crew))
	for name := range p.Crew {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		s.crew[name] = int(p.Crew[name])
		if len(trades) > 0 && !slices.Contains(trades, name) {
			hint := "; expected one of " + strings.Join(trades, ", ")
			if near := jobfile.Suggest(name, trades); near != "" {
				hint = fmt.Sprintf("; did you mean %q?", near)
			}
			problems = append(problems, problemAt(f, p.Pos.Get("crew").Get(name), "/programme/crew/"+name, fmt.Sprintf("the methods of work know no trade %q%s", name, hint)))
		}
	}
	if len(problems) > 0 {
		return problems
	}
	return nil
}

// weather is what a task cures in: steps from an instant on, the last one for ever.
type weather struct {
	steps    []maturity.Step
	assumed  bool // no temperature is given
	humidity bool // nor is the humidity, which is needed
}

// weatherFrom gives the temperature and humidity from an instant on: those of the task, or else those of the forecast, or else those of data sheets.
func (s *site) weatherFrom(t *jobfile.Task, p maturity.Product, referenceC float64, from time.Time) weather {
	rh := func(own *float64) (float64, bool) {
		for _, h := range []*float64{t.SiteHumidityPercent, own, s.humidity} {
			if h != nil {
				return *h, true
			}
		}
		return maturity.DataSheetPercent, false
	}
	step := func(c float64, own *float64) (maturity.Step, bool) {
		h, ok := rh(own)
		return maturity.Step{Hours: 0, TemperatureC: c, HumidityPercent: h}, !ok && p.NeedsHumidity()
	}
	var w weather
	one := func(c float64, own *float64) {
		st, lacks := step(c, own)
		w.steps = append(w.steps, st)
		w.humidity = w.humidity || lacks
	}
	switch {
	case t.SiteTemperatureC != nil:
		one(*t.SiteTemperatureC, nil)
	case s.forecast == nil:
		w.assumed = true
		one(referenceC, nil)
	default:
		list := s.forecast.Steps
		for i := range list {
			if i+1 < len(list) {
				next, err := cpm.ParseDate(list[i+1].From)
				if err != nil {
					continue
				}
				end := next.In(s.zone)
				if !end.After(from) {
					continue
				}
				one(list[i].TemperatureC, list[i].HumidityPercent)
				w.steps[len(w.steps)-1].Hours = min(end.Sub(from).Hours(), maturity.MaxHours)
				from = end
				continue
			}
			one(list[i].TemperatureC, list[i].HumidityPercent)
		}
	}
	return w
}

// cureTime gives the hours for what takes so many at the reference, and the coldest and warmest that it is on the way.
func (w weather) cureTime(p maturity.Product, hours, referenceC float64) (needed, minC, maxC float64, err error) {
	needed, err = maturity.TimeOverH(hours, w.steps, maturity.CautiousRate(p, referenceC))
	left := needed
	for i, s := range w.steps {
		if i > 0 && err == nil && left <= 0 {
			break
		}
		if i == 0 || s.TemperatureC < minC {
			minC = s.TemperatureC
		}
		if i == 0 || s.TemperatureC > maxC {
			maxC = s.TemperatureC
		}
		left -= s.Hours
	}
	return needed, minC, maxC, err
}

// stands says whether an error means that nothing cures.
func stands(err error) bool { return errors.Is(err, maturity.ErrNoProgress) }

func degrees(minC, maxC float64) string {
	if minC == maxC {
		return measure.FormatNumber(minC) + " °C"
	}
	return measure.FormatNumber(minC) + " to " + measure.FormatNumber(maxC) + " °C"
}
