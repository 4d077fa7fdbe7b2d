package ical

import (
	"bytes"
	"errors"
	"regexp"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"
	"unicode"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	"github.com/stretchr/testify/require"
)

var stamp = time.Date(2026, 3, 1, 7, 0, 0, 0, time.UTC)

func written(t testing.TB, c Calendar) string {
	var b bytes.Buffer
	require.NoError(t, Write(&b, c))
	return b.String()
}

func parsed(t testing.TB, s string) *ics.Calendar {
	c, err := ics.ParseCalendar(strings.NewReader(s))
	require.NoError(t, err, s)
	return c
}

func value(t testing.TB, e *ics.VEvent, p ics.ComponentProperty) string {
	v := e.GetProperty(p)
	require.NotNil(t, v, p)
	return v.Value
}

// The whole of a small file, by hand from RFC 5545.
func TestWholeFile(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	require.NoError(t, err)
	got := written(t, Calendar{Key: "job", Name: "Steam room; ground floor", Stamp: stamp, Sequence: 2, Events: []Event{
		{Key: "cure", Start: time.Date(2026, 3, 28, 16, 0, 0, 0, oslo), Finish: time.Date(2026, 3, 29, 17, 0, 0, 0, oslo), Summary: "Flood test, hold point", Description: "Line one\nLine two",
			Location: "Bench", Categories: []string{"cure", "a,b"}, Alarms: []Alarm{{AtFinish: true, Text: "Cured"}, {Before: 90 * time.Minute}}},
		{Key: "hold", Start: time.Date(2026, 3, 29, 17, 0, 0, 0, oslo), Summary: "Release", Busy: true, Alarms: []Alarm{{AtFinish: true, Before: 15 * time.Minute}}},
	}})
	want := []string{
		"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//wetrule//programme//EN", "CALSCALE:GREGORIAN", `NAME:Steam room\; ground floor`,
		"BEGIN:VEVENT", "UID:" + UID("job", "cure"), "DTSTAMP:20260301T070000Z", "SEQUENCE:2", "DTSTART:20260328T150000Z", "DTEND:20260329T150000Z",
		`SUMMARY:Flood test\, hold point`, `DESCRIPTION:Line one\nLine two`, "LOCATION:Bench", `CATEGORIES:cure,a\,b`, "TRANSP:TRANSPARENT",
		"BEGIN:VALARM", "ACTION:DISPLAY", "DESCRIPTION:Cured", "TRIGGER;RELATED=END:PT0S", "END:VALARM",
		"BEGIN:VALARM", "ACTION:DISPLAY", `DESCRIPTION:Flood test\, hold point`, "TRIGGER:-PT1H30M", "END:VALARM",
		"END:VEVENT",
		"BEGIN:VEVENT", "UID:" + UID("job", "hold"), "DTSTAMP:20260301T070000Z", "SEQUENCE:2", "DTSTART:20260329T150000Z", "SUMMARY:Release", "TRANSP:TRANSPARENT",
		"BEGIN:VALARM", "ACTION:DISPLAY", "DESCRIPTION:Release", "TRIGGER:-PT15M", "END:VALARM",
		"END:VEVENT", "END:VCALENDAR", "",
	}
	require.Equal(t, strings.Join(want, "\r\n"), got)
}

// Instants survive a change of the clocks: 24 h of cure are 24 h on either side, whoever reads the file.
func TestChangeOfTheClocks(t *testing.T) {
	for _, row := range []struct{ zone, from, to string }{
		{"Europe/London", "2026-03-28 16:00", "2026-03-29 17:00"}, {"Europe/London", "2026-10-24 16:00", "2026-10-25 15:00"},
		{"Australia/Sydney", "2026-10-03 16:00", "2026-10-04 17:00"}, {"Asia/Beirut", "2026-03-28 23:30", "2026-03-30 00:30"},
	} {
		loc, err := time.LoadLocation(row.zone)
		require.NoError(t, err)
		start, err := time.ParseInLocation("2006-01-02 15:04", row.from, loc)
		require.NoError(t, err)
		s := written(t, Calendar{Stamp: stamp, Events: []Event{{Start: start, Finish: start.Add(24 * time.Hour), Summary: "Cure", Alarms: []Alarm{{AtFinish: true}}}}})
		e := parsed(t, s).Events()[0]
		a, err := e.GetStartAt()
		require.NoError(t, err)
		b, err := e.GetEndAt()
		require.NoError(t, err)
		require.Equal(t, 24*time.Hour, b.Sub(a))
		require.Equal(t, row.from, a.In(loc).Format("2006-01-02 15:04"))
		require.Equal(t, row.to, b.In(loc).Format("2006-01-02 15:04"))
		require.Len(t, e.Alarms(), 1)
	}
}

func TestUIDsFollowTheKeysAlone(t *testing.T) {
	require.Equal(t, UID("a", "b"), UID("a", "b"))
	require.NotEqual(t, UID("ab", "c"), UID("a", "bc"))
	require.NotEqual(t, UID("", "1:a"), UID("a", ""))
	e := Event{Key: "k", Start: stamp, Summary: "one"}
	one := parsed(t, written(t, Calendar{Key: "job", Stamp: stamp, Events: []Event{e}}))
	e.Start, e.Summary = stamp.Add(time.Hour), "two"
	two := parsed(t, written(t, Calendar{Key: "job", Stamp: stamp.Add(time.Hour), Sequence: 1, Events: []Event{e}}))
	require.Equal(t, one.Events()[0].Id(), two.Events()[0].Id())
}

func TestDurations(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "PT0S", time.Hour: "PT1H", -24 * time.Hour: "-PT24H", 90 * time.Minute: "PT1H30M", -15 * time.Minute: "-PT15M", time.Hour + time.Second: "PT1H0M1S", 59 * time.Second: "PT59S",
	} {
		require.Equal(t, want, duration(d))
	}
}

func TestWhatCannotBeWritten(t *testing.T) {
	for name, c := range map[string]Calendar{
		"no stamp":       {},
		"no start":       {Stamp: stamp, Events: []Event{{}}},
		"year 10000":     {Stamp: stamp, Events: []Event{{Start: time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)}}},
		"finish too far": {Stamp: stamp, Events: []Event{{Start: stamp, Finish: time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)}}},
		"ends before":    {Stamp: stamp, Events: []Event{{Start: stamp, Finish: stamp.Add(-time.Second)}}},
		"keys":           {Stamp: stamp, Events: []Event{{Start: stamp}, {Start: stamp}}},
		"sequence":       {Stamp: stamp, Sequence: -1},
	} {
		var b bytes.Buffer
		require.ErrorIs(t, Write(&b, c), ErrInput, name)
		require.Zero(t, b.Len(), name)
	}
	require.Error(t, Write(full{}, Calendar{Stamp: stamp}))
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

var property = regexp.MustCompile(`^[A-Z-]+(;[A-Z]+=[A-Z]+)?:`)

// said is what is left of a text: the inverse of nothing but what the format cannot hold.
func said(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n").Replace(s)
	return strings.Map(func(r rune) rune {
		if r != '\n' && r != '\t' && (unicode.IsControl(r) || r == '\uFEFF') {
			return -1
		}
		return r
	}, s)
}

func FuzzText(f *testing.F) {
	for _, s := range []string{"", "Cure", "a;b,c\\d\ne", strings.Repeat("ä", 80), strings.Repeat("👷🏽", 40), "x\r\nEND:VEVENT\r\nBEGIN:VEVENT", "\xff\xfe", "\x00\x1b\u0085\u2028", "BEGIN:VALARM", `\n`, ":;=\"", " lead", "tail "} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		c := Calendar{Key: a, Name: a, Stamp: stamp, Events: []Event{
			{Key: a, Start: stamp, Finish: stamp.Add(time.Hour), Summary: a, Description: b, Location: a, Categories: []string{a, b}, Alarms: []Alarm{{Text: b}, {}}},
		}}
		s := written(t, c)
		require.Equal(t, s, written(t, c))
		require.True(t, utf8.ValidString(s))
		require.True(t, strings.HasSuffix(s, "\r\n"))
		lines := strings.Split(strings.TrimSuffix(s, "\r\n"), "\r\n")
		for i, line := range lines {
			require.LessOrEqual(t, len(line), most)
			require.True(t, utf8.ValidString(line))
			require.NotContains(t, line, "\n")
			require.NotContains(t, line, "\r")
			require.True(t, i > 0 && strings.HasPrefix(line, " ") || property.MatchString(line), "%q", line)
		}
		events := parsed(t, s).Events()
		require.Len(t, events, 1)
		require.Len(t, events[0].Alarms(), 2)
		require.Equal(t, UID(a, a), events[0].Id())
		require.Equal(t, said(a), value(t, events[0], ics.ComponentPropertySummary))
		if b != "" {
			require.Equal(t, said(b), value(t, events[0], ics.ComponentPropertyDescription))
		}
		require.NotEmpty(t, events[0].Alarms()[1].GetProperty(ics.ComponentPropertyDescription).Value)
	})
}
