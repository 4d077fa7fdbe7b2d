package jobfile

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestProgrammeSection holds what the section programme takes, and where and how it complains.
func TestProgrammeSection(t *testing.T) {
	const head = "wetrule: 1\nreference: a\nstage: design\njudged_on: 2026-03-02\nroom: {use: steam_room, walls: [{id: north, width_mm: 2000}, {id: east, width_mm: 2000}, {id: south, width_mm: 2000}, {id: west, width_mm: 2000}]}\nprogramme:\n"
	for name, c := range map[string]struct{ body, want string }{
		"empty":             {"  {}\n", ""},
		"whole":             {"  start: 2026-02-23\n  time_zone: Europe/London\n  shifts: [{days: [mo, tu], from: '08:00', to: '12:00'}, {days: [mo], from: '12:00', to: '24:00'}]\n  holidays: {country: GB, region: ENG, days_off: [2026-12-24], worked: [2026-05-04]}\n  site_temperature_c: 15\n  site_humidity_percent: 60\n  crew: {fitter: 2, glass_fitter: 1}\n", ""},
		"lists":             {"  holidays: [2026-12-24, 2026-12-31]\n  site_temperature_c: [{from: 2026-03-01, temperature_c: 3}, {from: 2026-03-09, temperature_c: 12.5, humidity_percent: 70}]\n", ""},
		"no such zone":      {"  time_zone: Europe/Lundon\n", `7:14: there is no time zone "Europe/Lundon"; expected a name of the IANA time zone database, such as Europe/London`},
		"zone of a machine": {"  time_zone: Local\n", `7:14: there is no time zone "Local"`},
		"zone as a path":    {"  time_zone: ../../etc/passwd\n", `7:14: there is no time zone`},
		"shift backwards":   {"  shifts: [{days: [mo], from: '22:00', to: '06:00'}]\n", `7:44: the shift ends at 06:00 and begins at 22:00; expected an end after the beginning, on the same day`},
		"shift of nothing":  {"  shifts: [{days: [mo], from: '08:00', to: '08:00'}]\n", `7:44: the shift ends at 08:00 and begins at 08:00`},
		"no time of day":    {"  shifts: [{days: [mo], from: '8:00', to: '12:00'}]\n", `"8:00" does not fit: a time of day such as 08:00`},
		"25 o'clock":        {"  shifts: [{days: [mo], from: '08:00', to: '25:00'}]\n", `7:44: programme.shifts[0].to: "25:00" does not fit`},
		"overlap":           {"  shifts: [{days: [mo, tu], from: '08:00', to: '12:00'}, {days: [tu, we], from: '11:30', to: '16:00'}]\n", `7:58: the shift from 11:30 overlaps the one from 08:00 to 12:00 (7:12) on tu; expected shifts that follow one another`},
		"overlap inside":    {"  shifts: [{days: [tu], from: '08:00', to: '16:00'}, {days: [tu], from: '09:00', to: '10:00'}, {days: [tu], from: '12:00', to: '17:00'}]\n", `7:96: the shift from 12:00 overlaps the one from 08:00 to 16:00 (7:12)`},
		"forecast order":    {"  site_temperature_c: [{from: 2026-03-09, temperature_c: 3}, {from: 2026-03-09, temperature_c: 12}]\n", `7:69: 2026-03-09 does not lie after 2026-03-09; expected days in order of time`},
		"forecast unit":     {"  site_temperature_c: 15 °C\n", `7:23: programme.site_temperature_c: expected`},
		"forecast range":    {"  site_temperature_c: 90\n", `7:23: programme.site_temperature_c: 90 is above the maximum 60`},
		"no such country":   {"  holidays: {country: ZZ}\n", `7:23: the public holidays of "ZZ" are not known; expected one of AT, AU,`},
		"no such region":    {"  holidays: {country: DE, region: XX}\n", `7:35: the public holidays of the region "XX" of DE are not known; expected one of BB, BE,`},
		"no regions":        {"  holidays: {country: NO, region: X}\n", `7:35: the public holidays of the region "X" of NO are not known; expected no region`},
		"region of nothing": {"  holidays: {region: BY}\n", `7:22: the region "BY" has no country`},
		"no such day":       {"  holidays: [2026-02-30]\n", `"2026-02-30" is not a date`},
		"holidays as text":  {"  holidays: GB\n", `7:13: programme.holidays: expected`},
		"nobody":            {"  crew: {fitter: 0}\n", `7:18: programme.crew.fitter: 0 is below the minimum 1`},
		"half a fitter":     {"  crew: {fitter: 0.5}\n", `7:18: programme.crew.fitter: expected a whole number`},
		"unknown key":       {"  crews: {fitter: 1}\n", `7:3: programme: unknown key "crews"; did you mean "crew"?`},
	} {
		f, err := Load("job.yaml", []byte(head+c.body))
		if c.want != "" {
			require.ErrorContains(t, err, c.want, name)
			continue
		}
		require.NoError(t, err, name)
		require.NotNil(t, f.Job.Programme, name)
		switch p := f.Job.Programme; name {
		case "whole":
			require.Equal(t, []SiteForecastDay{{Pos: p.SiteTemperature.Pos, TemperatureC: 15}}, p.SiteTemperature.Steps)
			require.Equal(t, map[string]float64{"fitter": 2, "glass_fitter": 1}, p.Crew)
			require.Equal(t, []string{"GB", "ENG", "2026-12-24", "2026-05-04"}, []string{p.Holidays.Country, p.Holidays.Region, p.Holidays.DaysOff[0], p.Holidays.Worked[0]})
			require.False(t, p.Holidays.Listed)
		case "lists":
			require.True(t, p.Holidays.Listed)
			require.Equal(t, []string{"2026-12-24", "2026-12-31"}, p.Holidays.DaysOff)
			require.Equal(t, 12.5, p.SiteTemperature.Steps[1].TemperatureC)
			require.Equal(t, 70.0, *p.SiteTemperature.Steps[1].HumidityPercent)
		}
	}
}
