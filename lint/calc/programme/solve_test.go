package programme

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// net reads "A 4, B 3" and "A-C FS+2, A-D" with one unit of work for each number.
func net(t require.TestingT, acts, links string, start time.Time, c *Calendar, unit time.Duration) Network {
	n := Network{Start: start}
	for _, s := range strings.Split(acts, ", ") {
		var id string
		var d int
		_, err := fmt.Sscanf(s, "%s %d", &id, &d)
		require.NoError(t, err)
		n.Activities = append(n.Activities, Activity{ID: id, Work: time.Duration(d) * unit, Calendar: c})
	}
	for _, s := range strings.Split(links, ", ") {
		pair, how, _ := strings.Cut(s, " ")
		from, to, _ := strings.Cut(pair, "-")
		l := Link{From: from, To: to}
		if how != "" {
			var ok bool
			l.Kind, ok = ParseKind(how[:2])
			require.True(t, ok, s)
			if len(how) > 2 {
				var lag int
				_, err := fmt.Sscanf(how[2:], "%d", &lag)
				require.NoError(t, err)
				l.Lag = time.Duration(lag) * unit
			}
		}
		n.Links = append(n.Links, l)
	}
	return n
}

const (
	c1Acts  = "A 4, B 3, C 8, D 7, E 9, F 12, G 2, H 5, I 6"
	c1Links = "A-C, A-D, B-E, C-E, B-F, C-F, D-G, E-G, D-H, E-H, F-I, G-I"
	c8Acts  = "P 2, G 1, W 1, T 2, D 1, C 1, H 1, S 1"
	c8Links = "P-G, G-W, W-T FS+2, W-D FS+2, T-C FS+1, D-H, C-S FS+3, H-S"
)

// Dates are ES EF LS LF TF FF in units after the start.
var networks = []struct {
	id, source  string
	published   bool
	acts, links string
	end         int
	dates       map[string][6]int
	float       map[string]int // where only the total float is given
	path        string
}{
	{id: "C1", source: "Hendrickson, Project Management for Construction, ch. 10, table of nine activities (read)", published: true,
		acts: c1Acts, links: c1Links, end: 30, path: "A C F I",
		dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {0, 3, 9, 12, 9, 9}, "C": {4, 12, 4, 12, 0, 0}, "D": {4, 11, 15, 22, 11, 10}, "E": {12, 21, 13, 22, 1, 0},
			"F": {12, 24, 12, 24, 0, 0}, "G": {21, 23, 22, 24, 1, 1}, "H": {21, 26, 25, 30, 4, 4}, "I": {24, 30, 24, 30, 0, 0}}},
	{id: "C2", source: "course sheet, table of a manufacture (read)", published: true,
		acts: "A 6, B 2, C 2, D 3, F 2, E 4, G 1", links: "A-B, A-C, B-D, C-F, D-E, F-E, E-G", end: 16, path: "A B D E G",
		dates: map[string][6]int{"A": {0, 6, 0, 6, 0, 0}, "B": {6, 8, 6, 8, 0, 0}, "C": {6, 8, 7, 9, 1, 0}, "D": {8, 11, 8, 11, 0, 0}, "F": {8, 10, 9, 11, 1, 1}, "E": {11, 15, 11, 15, 0, 0}, "G": {15, 16, 15, 16, 0, 0}}},
	{id: "C6", source: "inputs read, dates computed",
		acts:  "A 2, B 10, C 13, D 12, E 12, F 7, G 10, H 16, I 6, J 12, K 5, L 8, M 5, N 3",
		links: "A-B SS, A-C, A-D, B-E, B-F, D-G, D-H, F-I, C-J, G-J SS, I-K SS, E-L, I-L, K-L, H-M, G-N, J-N, L-N, M-N", end: 38, path: "A D H M N",
		float: map[string]int{"A": 0, "B": 4, "C": 8, "D": 0, "E": 5, "F": 4, "G": 9, "H": 0, "I": 4, "J": 8, "K": 5, "L": 4, "M": 0, "N": 0}},
	{id: "C7", source: "teaching transcript (read)", published: true,
		acts: "A 10, B 5, C 3", links: "A-B SS+6, B-C SS+1", end: 11, path: "A B",
		dates: map[string][6]int{"A": {0, 10, 0, 10, 0, 0}, "B": {6, 11, 6, 11, 0, 0}, "C": {7, 10, 8, 11, 1, 1}}},
	{id: "C8", source: "computed",
		acts: c8Acts, links: c8Links, end: 14, path: "P G W T C S",
		dates: map[string][6]int{"P": {0, 2, 0, 2, 0, 0}, "G": {2, 3, 2, 3, 0, 0}, "W": {3, 4, 3, 4, 0, 0}, "T": {6, 8, 6, 8, 0, 0}, "D": {6, 7, 11, 12, 5, 0}, "C": {9, 10, 9, 10, 0, 0},
			"H": {7, 8, 12, 13, 5, 5}, "S": {13, 14, 13, 14, 0, 0}}},

	// By hand, the formulas of chapter 10 written out for two activities.
	{id: "FS", source: "computed", acts: "A 4, B 3", links: "A-B FS+2", end: 9, path: "A B", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {6, 9, 6, 9, 0, 0}}},
	{id: "FS lead", source: "computed", acts: "A 4, B 3", links: "A-B FS-1", end: 6, path: "A B", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {3, 6, 3, 6, 0, 0}}},
	{id: "SS", source: "computed", acts: "A 4, B 3", links: "A-B SS+2", end: 5, path: "A B", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {2, 5, 2, 5, 0, 0}}},
	{id: "SS lead stops at the start", source: "computed", acts: "A 4, B 3", links: "A-B SS-1", end: 4, path: "A", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {0, 3, 1, 4, 1, 1}}},
	{id: "FF", source: "computed", acts: "A 4, B 3", links: "A-B FF+2", end: 6, path: "A B", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {3, 6, 3, 6, 0, 0}}},
	{id: "FF lead", source: "computed", acts: "A 4, B 3", links: "A-B FF-1", end: 4, path: "A", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {0, 3, 1, 4, 1, 1}}},
	{id: "SF", source: "computed", acts: "A 4, B 3", links: "A-B SF+5", end: 5, path: "A B", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {2, 5, 2, 5, 0, 0}}},
	{id: "SF of no weight", source: "computed", acts: "A 4, B 3", links: "A-B SF+1", end: 4, path: "A", dates: map[string][6]int{"A": {0, 4, 0, 4, 0, 0}, "B": {0, 3, 1, 4, 1, 1}}},
	{id: "SF with float", source: "computed", acts: "A 2, B 3, C 9", links: "A-B SF+5", end: 9, path: "C", dates: map[string][6]int{"A": {0, 2, 4, 6, 4, 0}, "B": {2, 5, 6, 9, 4, 4}, "C": {0, 9, 0, 9, 0, 0}}},
	{id: "a ladder of SS and FF", source: "computed", acts: "A 6, B 4, C 1", links: "A-B SS+1, A-B FF+1, B-C", end: 8, path: "A B C",
		dates: map[string][6]int{"A": {0, 6, 0, 6, 0, 0}, "B": {3, 7, 3, 7, 0, 0}, "C": {7, 8, 7, 8, 0, 0}}},
}

func TestNetworks(t *testing.T) {
	london := zone(t, "Europe/London")
	for _, row := range networks {
		for name, c := range map[string]*Calendar{"round the clock": nil, "in shifts": eight(t)} {
			unit, start := time.Hour, time.Date(2026, 5, 25, 8, 0, 0, 0, london)
			if c != nil {
				unit = 8 * time.Hour
			}
			s, err := net(t, row.acts, row.links, start, c, unit).Solve()
			require.NoError(t, err)
			units := func(at time.Time) int {
				w, err := c.Between(start, at)
				require.NoError(t, err)
				require.Zero(t, w%unit)
				return int(w / unit)
			}
			id := row.id + " " + name
			require.Equal(t, row.end, units(s.End), id)
			for a, want := range row.dates {
				d, ok := s.Of(a)
				require.True(t, ok)
				got := [6]int{units(d.EarlyStart), units(d.EarlyFinish), units(d.LateStart), units(d.LateFinish), int(d.TotalFloat / unit), int(d.FreeFloat / unit)}
				require.Equal(t, want, got, "%s %s", id, a)
				require.Equal(t, want[4] == 0, d.Critical)
			}
			require.True(t, len(row.dates) == len(s.Dates) || len(row.float) == len(s.Dates), id)
			for a, want := range row.float {
				d, _ := s.Of(a)
				require.Equal(t, time.Duration(want)*unit, d.TotalFloat, "%s %s", id, a)
			}
			require.Equal(t, row.path, strings.Join(s.Path, " "), id)
		}
	}
}

// A hand-out prints late dates 18 and 25 for D and 16 and 25 for E of C1: it forgets that G follows both.
func TestForgettingASuccessorGivesTheWrongLateDates(t *testing.T) {
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	right, err := net(t, c1Acts, c1Links, start, nil, time.Hour).Solve()
	require.NoError(t, err)
	wrong, err := net(t, c1Acts, strings.NewReplacer("D-G, ", "", "E-G, ", "").Replace(c1Links), start, nil, time.Hour).Solve()
	require.NoError(t, err)
	for id, late := range map[string][2]int{"D": {18, 25}, "E": {16, 25}} {
		w, _ := wrong.Of(id)
		require.Equal(t, late, [2]int{int(w.LateStart.Sub(start) / time.Hour), int(w.LateFinish.Sub(start) / time.Hour)})
		r, _ := right.Of(id)
		require.Equal(t, 22*time.Hour, r.LateFinish.Sub(start))
	}
}

// T28, T28a, T28b, T29, T30 (computed): Monday 2026-06-01 is free.
func TestWaitsInTheCalendar(t *testing.T) {
	c := eight(t)
	const day = 8 * time.Hour
	solve := func(start string, work time.Duration, l Link) (first, second Dates) {
		l.From, l.To = "a", "b"
		s, err := Network{Start: local(t, c, start), Activities: []Activity{{ID: "a", Work: work, Calendar: c}, {ID: "b", Work: day, Calendar: c}}, Links: []Link{l}}.Solve()
		require.NoError(t, err)
		return s.Dates[0], s.Dates[1]
	}
	a, b := solve("2026-05-29 08:00", day, Link{Lag: 72 * time.Hour, Elapsed: true})
	require.Equal(t, "2026-05-29 16:00", a.EarlyFinish.Format(stamp))
	require.Equal(t, "2026-06-02 08:00", b.EarlyStart.Format(stamp), "T28a")
	require.Equal(t, "2026-06-01 16:00", b.Driver.Ready.Format(stamp))
	require.True(t, b.Driver.Calendar)
	require.Equal(t, "2026-05-29 16:00", a.LateFinish.Format(stamp), "three days before Tuesday is Saturday; work can end on Friday")
	require.Zero(t, a.TotalFloat)
	_, b = solve("2026-05-29 08:00", day, Link{Lag: 3 * day})
	require.Equal(t, "2026-06-05 08:00", b.EarlyStart.Format(stamp), "T28b")
	a, _ = solve("2026-05-28 08:00", 3*day, Link{})
	require.Equal(t, "2026-06-02 16:00", a.EarlyFinish.Format(stamp), "T29")

	n := net(t, c8Acts, c8Links, local(t, c, "2026-05-25 00:00"), c, day)
	s, err := n.Solve()
	require.NoError(t, err)
	require.Equal(t, "2026-06-12 16:00", s.End.Format(stamp), "T30")
	// The same with waits that run round the clock, by hand: W ends Thu 28; T from Mon 1 June, which is free, so Tue 2 to Wed 3; C on Fri 5; S on
	// Tue 9, after the weekend of the wait.
	for k := range n.Links {
		n.Links[k].Lag, n.Links[k].Elapsed = n.Links[k].Lag/day*24*time.Hour, true
	}
	s, err = n.Solve()
	require.NoError(t, err)
	require.Equal(t, "2026-06-09 16:00", s.End.Format(stamp))
	w, _ := s.Of("W")
	require.Equal(t, day, w.TotalFloat, "W may end on Friday as well: its two days then end on Sunday")
	require.False(t, w.Critical)
}

// A cure over a change of the clocks lasts its hours, whatever the clocks show.
func TestCureOverAChangeOfTheClocks(t *testing.T) {
	for _, row := range []struct{ zone, from, to string }{
		{"Europe/London", "2026-03-28 16:00", "2026-03-29 17:00"}, {"Europe/London", "2026-10-24 16:00", "2026-10-25 15:00"},
		{"Australia/Sydney", "2026-10-03 16:00", "2026-10-04 17:00"}, {"Asia/Beirut", "2026-03-28 16:00", "2026-03-29 17:00"},
	} {
		loc := zone(t, row.zone)
		start, err := time.ParseInLocation(stamp, row.from, loc)
		require.NoError(t, err)
		s, err := Network{Start: start, Activities: []Activity{{ID: "a"}, {ID: "b"}}, Links: []Link{{From: "a", To: "b", Lag: 24 * time.Hour, Elapsed: true}}}.Solve()
		require.NoError(t, err)
		require.Equal(t, row.to, s.End.Format(stamp))
	}
}

func TestRecordsAndFixedDates(t *testing.T) {
	c := eight(t)
	const day = 8 * time.Hour
	n := net(t, "A 1, B 1, C 1", "A-B, B-C FS+1", local(t, c, "2026-05-25 08:00"), c, day)
	find := func(n Network, id string) Dates {
		s, err := n.Solve()
		require.NoError(t, err)
		d, ok := s.Of(id)
		require.True(t, ok)
		return d
	}
	n.Activities[2].NotLater = local(t, c, "2026-05-28 16:00")
	require.Zero(t, find(n, "A").TotalFloat)
	require.Equal(t, "2026-05-28 16:00", find(n, "C").EarlyFinish.Format(stamp))
	n.Activities[2].NotLater = local(t, c, "2026-05-27 16:00")
	for _, id := range []string{"A", "B", "C"} {
		require.Equal(t, -day, find(n, id).TotalFloat, id)
		require.True(t, find(n, id).Critical)
	}
	n.Activities[2].NotLater = time.Time{}

	n.Activities[1].NotBefore = local(t, c, "2026-05-28 00:00")
	b := find(n, "B")
	require.Equal(t, "2026-05-28 08:00", b.EarlyStart.Format(stamp))
	require.Equal(t, ByNotBefore, b.Driver.By)
	require.Equal(t, 2*day, find(n, "A").FreeFloat)
	n.Activities[1].NotBefore = time.Time{}

	// A was begun late and is not finished on the day that is known; B can only follow.
	n.Activities[0].Start, n.AsOf = local(t, c, "2026-05-26 12:00"), local(t, c, "2026-05-28 10:00")
	a := find(n, "A")
	require.True(t, a.Started)
	require.False(t, a.Finished)
	require.Equal(t, "2026-05-26 12:00", a.EarlyStart.Format(stamp))
	require.Equal(t, "2026-05-28 10:00", a.EarlyFinish.Format(stamp))
	require.Equal(t, "2026-05-28 10:00", find(n, "B").EarlyStart.Format(stamp))
	n.Activities[0].Finish = local(t, c, "2026-05-27 18:30") // outside the shift
	a, b = find(n, "A"), find(n, "B")
	require.True(t, a.Finished)
	require.False(t, a.Critical)
	require.Equal(t, "2026-05-27 18:30", a.EarlyFinish.Format(stamp))
	require.Equal(t, "2026-05-28 10:00", b.EarlyStart.Format(stamp), "not before what is known")
	require.Equal(t, ByAsOf, b.Driver.By)
	// A record of the successor holds, though it broke the link.
	n.Activities[0].Finish = time.Time{}
	n.Activities[1].Start = local(t, c, "2026-05-27 08:00")
	require.Equal(t, "2026-05-27 08:00", find(n, "B").EarlyStart.Format(stamp))
	require.Equal(t, ByRecord, find(n, "B").Driver.By)
	require.GreaterOrEqual(t, find(n, "A").TotalFloat, time.Duration(0))
	// Only the finish is recorded.
	n.Activities[0].Start, n.Activities[0].Finish = time.Time{}, local(t, c, "2026-05-26 12:00")
	require.Equal(t, "2026-05-25 12:00", find(n, "A").EarlyStart.Format(stamp))
}

func TestRingsAreNamedInOrder(t *testing.T) {
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	var ring *CycleError
	_, err := net(t, "X 1, A 1, B 1, C 1, D 1", "X-A, C-A, A-B, B-C, C-D", start, nil, time.Hour).Solve()
	require.ErrorAs(t, err, &ring)
	require.Equal(t, []string{"A", "B", "C"}, ring.IDs)
	require.EqualError(t, err, "programme: a ring of links: A → B → C → A")
	_, err = net(t, "A 1, B 1", "A-B, B-B SS", start, nil, time.Hour).Solve()
	require.ErrorAs(t, err, &ring)
	require.Equal(t, []string{"B"}, ring.IDs)
}

func TestNetworksThatCannotBe(t *testing.T) {
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	ok := func() Network { return net(t, "A 1, B 1", "A-B", start, nil, time.Hour) }
	for name, change := range map[string]func(*Network){
		"no start":               func(n *Network) { n.Start = time.Time{} },
		"no id":                  func(n *Network) { n.Activities[0].ID = "" },
		"id twice":               func(n *Network) { n.Activities[1].ID = "A" },
		"work less than nothing": func(n *Network) { n.Activities[0].Work = -1 },
		"work of ages":           func(n *Network) { n.Activities[0].Work = MaxWork + 1 },
		"link from nowhere":      func(n *Network) { n.Links[0].From = "C" },
		"link to nowhere":        func(n *Network) { n.Links[0].To = "C" },
		"no kind":                func(n *Network) { n.Links[0].Kind = 4 },
		"lag of ages":            func(n *Network) { n.Links[0].Lag = MaxWork + 1 },
		"lead of ages":           func(n *Network) { n.Links[0].Lag = -MaxWork - 1 },
		"no such resource":       func(n *Network) { n.Activities[0].Resource = "fitter" },
		"finished before":        func(n *Network) { n.Activities[0].Start, n.Activities[0].Finish = start, start.Add(-1) },
		"too many activities":    func(n *Network) { n.Activities = make([]Activity, MaxActivities+1) },
		"too many links":         func(n *Network) { n.Links = make([]Link, MaxLinks+1) },
	} {
		n := ok()
		change(&n)
		_, err := n.Solve()
		require.ErrorIs(t, err, ErrInput, name)
	}
	for name, change := range map[string]func(*Network){
		"start":      func(n *Network) { n.Start = time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC) },
		"as of":      func(n *Network) { n.AsOf = time.Date(2500, 1, 1, 0, 0, 0, 0, time.UTC) },
		"not before": func(n *Network) { n.Activities[1].NotBefore = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC) },
		"work without end": func(n *Network) {
			n.Start, n.Activities[0].Work = time.Date(2198, 1, 1, 0, 0, 0, 0, time.UTC), MaxWork
		},
	} {
		n := ok()
		change(&n)
		_, err := n.Solve()
		require.ErrorIs(t, err, ErrHorizon, name)
	}
	s, err := Network{Start: start}.Solve()
	require.NoError(t, err)
	require.True(t, s.End.Equal(start))
	require.Empty(t, s.Path)
}

// oneCrew is a tiler who lays the floor, waits for it, and could tile the walls meanwhile.
func TestLevelling(t *testing.T) {
	c := eight(t)
	const day = 8 * time.Hour
	n := net(t, "walls 2, floor 1, grout 1, door 1", "floor-grout FS+2, walls-door", local(t, c, "2026-05-25 08:00"), c, day)
	n.Resources = map[string]int{"tiler": 1}
	for i := range n.Activities[:3] {
		n.Activities[i].Resource = "tiler"
	}
	s, err := n.Solve()
	require.NoError(t, err)
	starts := map[string]string{}
	for _, d := range s.Dates {
		starts[d.ID] = d.EarlyStart.Format(time.DateOnly)
	}
	require.Equal(t, map[string]string{"floor": "2026-05-25", "walls": "2026-05-26", "grout": "2026-05-28", "door": "2026-05-28"}, starts, "the walls are tiled while the floor waits")
	require.Equal(t, []Link{{From: "floor", To: "walls", Resource: "tiler"}, {From: "walls", To: "grout", Resource: "tiler"}}, s.Links[2:])
	walls, _ := s.Of("walls")
	require.Equal(t, ByResource, walls.Driver.By)
	require.Equal(t, "floor", walls.Driver.From)
	require.Zero(t, walls.TotalFloat, "the links for the tiler count in the floats")
	n.Resources["tiler"] = 2
	s, err = n.Solve()
	require.NoError(t, err)
	require.Empty(t, s.Links[2:])
	walls, _ = s.Of("walls")
	require.Equal(t, "2026-05-25", walls.EarlyStart.Format(time.DateOnly))
}

var properCalendars = func() []*Calendar {
	var t fatal
	night := calendar(t, Pattern{Location: zone(t, "Europe/London"), Week: []WeekShift{{weekdays, Shift{At(20, 0), At(4, 0)}}}})
	six := calendar(t, Pattern{Location: zone(t, "Europe/London"), Week: []WeekShift{{weekdays, Shift{At(7, 0), At(12, 0)}}, {weekdays, Shift{At(13, 0), At(16, 0)}}, {[]time.Weekday{time.Saturday}, Shift{At(8, 0), At(12, 0)}}}})
	sydney := calendar(t, Pattern{Location: zone(t, "Australia/Sydney"), Week: []WeekShift{{weekdays, Shift{At(8, 0), At(16, 0)}}}})
	return []*Calendar{nil, eight(t), night, six, sydney}
}()

type fatal struct{}

func (fatal) Errorf(format string, args ...any) { panic(fmt.Sprintf(format, args...)) }
func (fatal) FailNow()                          {}

// drawNetwork draws a network without rings. Plain ones run round the clock; simple ones have only links that a longer activity cannot pull forward.
func drawNetwork(t *rapid.T, plain, simple, resources bool) Network {
	n := Network{Start: time.Date(2026, 3, 26, 7, 0, 0, 0, zone(t, "Europe/London")), Resources: map[string]int{"fitter": 1, "tiler": 2}}
	count := rapid.IntRange(1, 9).Draw(t, "activities")
	kindsDrawn := []Kind{FS, SS, FF, SF}
	if simple {
		kindsDrawn = []Kind{FS, SS}
	}
	for i := range count {
		a := Activity{ID: string(rune('a' + i)), Work: time.Duration(rapid.IntRange(0, 40).Draw(t, "work")) * 30 * time.Minute}
		if !plain {
			a.Calendar = rapid.SampledFrom(properCalendars).Draw(t, "calendar")
		}
		if resources {
			a.Resource = rapid.SampledFrom([]string{"", "fitter", "fitter", "tiler"}).Draw(t, "resource")
		}
		n.Activities = append(n.Activities, a)
		for j := range i {
			if rapid.IntRange(0, 2).Draw(t, "linked") == 0 {
				n.Links = append(n.Links, Link{From: string(rune('a' + j)), To: a.ID, Kind: rapid.SampledFrom(kindsDrawn).Draw(t, "kind"),
					Lag: time.Duration(rapid.IntRange(-12, 60).Draw(t, "lag")) * 30 * time.Minute, Elapsed: rapid.Bool().Draw(t, "elapsed")})
			}
		}
	}
	// The order of the activities must not matter to the links.
	order := rapid.Permutation(n.Activities).Draw(t, "order")
	n.Activities = order
	return n
}

func solved(t *rapid.T, n Network) *Schedule {
	s, err := n.Solve()
	require.NoError(t, err)
	return s
}

// holds checks every link and activity of a schedule against the calendars.
func holds(t *rapid.T, n Network, s *Schedule, start, finish func(Dates) time.Time) {
	at := map[string]int{}
	for i, a := range n.Activities {
		at[a.ID] = i
		d := s.Dates[i]
		w, err := a.Calendar.Between(start(d), finish(d))
		require.NoError(t, err)
		require.Equal(t, a.Work, w, a.ID)
		require.False(t, start(d).Before(n.Start))
		if a.Work > 0 {
			next, err := a.Calendar.Next(start(d))
			require.NoError(t, err)
			require.True(t, next.Equal(start(d)), "%s starts in free time", a.ID)
		}
	}
	for _, l := range s.Links {
		i, j := at[l.From], at[l.To]
		base, end := finish(s.Dates[i]), start(s.Dates[j])
		if l.Kind == SS || l.Kind == SF {
			base = start(s.Dates[i])
		}
		if l.Kind == FF || l.Kind == SF {
			end = finish(s.Dates[j])
		}
		c := n.Activities[j].Calendar
		if l.Elapsed {
			c = nil
		}
		need, err := c.Add(base, l.Lag)
		require.NoError(t, err)
		if l.Lag < 0 && c != nil { // a lead may end at either side of free time
			w, err := c.Between(need, end)
			require.NoError(t, err)
			require.GreaterOrEqual(t, w, time.Duration(0), "%v", l)
			continue
		}
		require.False(t, end.Before(need), "%v: %s before %s", l, end, need)
	}
}

func TestSchedulesKeepTheirLinks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, false, false, rapid.Bool().Draw(t, "resources"))
		s := solved(t, n)
		holds(t, n, s, func(d Dates) time.Time { return d.EarlyStart }, func(d Dates) time.Time { return d.EarlyFinish })
		critical := false
		for _, d := range s.Dates {
			require.GreaterOrEqual(t, d.TotalFloat, time.Duration(0), d.ID)
			require.GreaterOrEqual(t, d.FreeFloat, time.Duration(0), d.ID)
			require.LessOrEqual(t, d.FreeFloat, d.TotalFloat, d.ID)
			require.False(t, d.EarlyFinish.After(s.End))
			require.False(t, d.LateFinish.After(s.End))
			require.False(t, d.LateStart.Before(d.EarlyStart))
			require.False(t, d.LateFinish.Before(d.EarlyFinish), d.ID)
			critical = critical || d.Critical
		}
		last, _ := s.Of(s.Path[len(s.Path)-1])
		require.True(t, last.EarlyFinish.Equal(s.End))
		first, _ := s.Of(s.Path[0])
		require.Less(t, first.Driver.Link, 0)
	})
}

// Starting anything at its latest, alone or all together, keeps the end; a nanosecond later delays it.
func TestLateStartsKeepTheEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, false, false, false)
		s := solved(t, n)
		all := n
		all.Activities = slices.Clone(n.Activities)
		for i := range n.Activities {
			all.Activities[i].NotBefore = s.Dates[i].LateStart
			one := n
			one.Activities = slices.Clone(n.Activities)
			one.Activities[i].NotBefore = s.Dates[i].LateStart
			require.True(t, solved(t, one).End.Equal(s.End), one.Activities[i].ID)
			one.Activities[i].NotBefore = s.Dates[i].LateStart.Add(1)
			require.True(t, solved(t, one).End.After(s.End), one.Activities[i].ID)
			// Free float: nothing else moves.
			one.Activities[i].NotBefore = time.Time{}
			if s.Dates[i].FreeFloat > 0 && n.Activities[i].Work > 0 {
				from, err := n.Activities[i].Calendar.Add(s.Dates[i].EarlyStart, s.Dates[i].FreeFloat)
				require.NoError(t, err)
				if next, err := n.Activities[i].Calendar.Next(from); err == nil && next.Equal(from) {
					one.Activities[i].NotBefore = from
					moved := solved(t, one)
					for k := range moved.Dates {
						if k != i {
							require.True(t, moved.Dates[k].EarlyStart.Equal(s.Dates[k].EarlyStart), "%s moves %s", n.Activities[i].ID, n.Activities[k].ID)
						}
					}
				}
			}
		}
		require.True(t, solved(t, all).End.Equal(s.End))
	})
}

func TestFewerAndShorterLinksNeverDelay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, false, false, false)
		s := solved(t, n)
		for k := range n.Links {
			less := n
			less.Links = slices.Delete(slices.Clone(n.Links), k, k+1)
			require.False(t, solved(t, less).End.After(s.End))
			more := n
			more.Links = slices.Clone(n.Links)
			more.Links[k].Lag += time.Duration(rapid.IntRange(1, 100).Draw(t, "more")) * 17 * time.Minute
			require.False(t, solved(t, more).End.Before(s.End))
		}
	})
}

// With links to a finish a longer activity begins earlier, and what hangs on its start may, too; so these networks have none.
func TestLongerWorkNeverBringsTheEndForward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, false, true, false)
		s := solved(t, n)
		for i := range n.Activities {
			more := n
			more.Activities = slices.Clone(n.Activities)
			more.Activities[i].Work += time.Duration(rapid.IntRange(1, 100).Draw(t, "more")) * 17 * time.Minute
			require.False(t, solved(t, more).End.Before(s.End))
		}
	})
}

// Round the clock the early starts are the longest paths of a system of differences, as Bellman and Ford find them.
func TestLongestPathsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, true, false, false)
		s := solved(t, n)
		at := map[string]int{}
		dist := make([]time.Duration, len(n.Activities))
		for i, a := range n.Activities {
			at[a.ID] = i
		}
		for range n.Activities {
			for _, l := range n.Links {
				i, j := at[l.From], at[l.To]
				weight := l.Lag
				if l.Kind == FS || l.Kind == FF {
					weight += n.Activities[i].Work
				}
				if l.Kind == FF || l.Kind == SF {
					weight -= n.Activities[j].Work
				}
				dist[j] = max(dist[j], dist[i]+weight)
			}
		}
		var end time.Duration
		for i, a := range n.Activities {
			require.Equal(t, dist[i], s.Dates[i].EarlyStart.Sub(n.Start), a.ID)
			end = max(end, dist[i]+a.Work)
		}
		require.Equal(t, end, s.End.Sub(n.Start))
	})
}

func TestLevelledSchedulesKeepToTheCapacity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, false, false, true)
		s := solved(t, n)
		require.Equal(t, s.Dates, solved(t, n).Dates)
		for name, capacity := range n.Resources {
			for i, a := range n.Activities {
				if a.Resource != name || a.Work == 0 {
					continue
				}
				busy := 0 // at the start of a
				for k, b := range n.Activities {
					if b.Resource == name && b.Work > 0 && !s.Dates[k].EarlyStart.After(s.Dates[i].EarlyStart) && s.Dates[k].EarlyFinish.After(s.Dates[i].EarlyStart) {
						busy++
					}
				}
				require.LessOrEqual(t, busy, capacity, "%s at the start of %s", name, a.ID)
			}
		}
		// The links alone give the same dates: floats hold for the schedule with resources.
		plain := n
		plain.Links, plain.Activities = s.Links, slices.Clone(n.Activities)
		for i := range plain.Activities {
			plain.Activities[i].Resource = ""
		}
		again := solved(t, plain)
		for i := range again.Dates {
			require.True(t, again.Dates[i].EarlyStart.Equal(s.Dates[i].EarlyStart))
			require.Equal(t, s.Dates[i].TotalFloat, again.Dates[i].TotalFloat)
		}
		without := n
		without.Activities = plain.Activities
		require.False(t, solved(t, without).End.After(s.End))
	})
}

// Work that was begun before what comes before it: the link holds nothing any more, so the fitter may do what follows first, and that is no ring.
func TestRecordOvertakesALink(t *testing.T) {
	n := Network{Start: time.Date(2026, 3, 26, 7, 0, 0, 0, time.UTC), Resources: map[string]int{"fitter": 1},
		Activities: []Activity{
			{ID: "a", Work: time.Hour, Resource: "fitter", NotBefore: time.Date(2026, 3, 26, 12, 0, 0, 0, time.UTC)},
			{ID: "b", Start: time.Date(2026, 3, 26, 7, 0, 0, 0, time.UTC)},
			{ID: "f", Work: time.Hour, Resource: "fitter"},
		},
		Links: []Link{{From: "a", To: "b"}, {From: "b", To: "f"}}}
	s, err := n.Solve()
	require.NoError(t, err)
	require.Equal(t, 7, s.Dates[2].EarlyStart.Hour())
	require.Equal(t, 12, s.Dates[0].EarlyStart.Hour())
	// A ring of the links that were given is told all the same.
	n.Links = append(n.Links, Link{From: "f", To: "a"})
	_, err = n.Solve()
	var ring *CycleError
	require.ErrorAs(t, err, &ring)
}

// Records never make an error, whatever they say, and hold as they are.
func TestRecordsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawNetwork(t, false, false, true)
		n.AsOf = n.Start.Add(time.Duration(rapid.IntRange(0, 200).Draw(t, "as of")) * time.Hour)
		for i := range n.Activities {
			a := &n.Activities[i]
			at := n.Start.Add(time.Duration(rapid.IntRange(-10, 100).Draw(t, "recorded")) * time.Hour)
			switch rapid.IntRange(0, 4).Draw(t, "what") {
			case 0:
				a.Start = at
			case 1:
				a.Finish = at
			case 2:
				a.Start, a.Finish = at, at.Add(time.Duration(rapid.IntRange(0, 50).Draw(t, "took"))*time.Hour)
			}
		}
		s := solved(t, n)
		for i, a := range n.Activities {
			d := s.Dates[i]
			switch {
			case !a.Finish.IsZero():
				require.True(t, d.EarlyFinish.Equal(a.Finish) && d.Finished)
			case !a.Start.IsZero():
				require.True(t, d.EarlyStart.Equal(a.Start))
				require.False(t, d.EarlyFinish.Before(n.AsOf))
			default:
				require.False(t, d.EarlyStart.Before(n.AsOf))
			}
			require.GreaterOrEqual(t, d.TotalFloat, time.Duration(0), d.ID)
		}
	})
}

func TestWordsOfKindsAndCauses(t *testing.T) {
	for k := FS; k <= SF; k++ {
		got, ok := ParseKind(k.String())
		require.True(t, ok)
		require.Equal(t, k, got)
	}
	_, ok := ParseKind("fs")
	require.False(t, ok)
	require.Equal(t, "Kind(9)", Kind(9).String())
	require.Equal(t, "resource", ByResource.String())
	require.Equal(t, "Cause(9)", Cause(9).String())
}

func BenchmarkSolve(b *testing.B) {
	var t fatal
	c := properCalendars[1]
	n := Network{Start: time.Date(2026, 3, 26, 7, 0, 0, 0, c.Location()), Resources: map[string]int{"fitter": 1}}
	for i := range 300 {
		n.Activities = append(n.Activities, Activity{ID: fmt.Sprint(i), Work: time.Hour, Calendar: c, Resource: "fitter"})
		for _, back := range []int{1, 7} {
			if i >= back*3 {
				n.Links = append(n.Links, Link{From: fmt.Sprint(i - back*3), To: fmt.Sprint(i), Lag: 24 * time.Hour, Elapsed: i%5 == 0})
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		_, err := n.Solve()
		require.NoError(t, err)
	}
}
