package ipcode

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func parsed(t *testing.T, mark string) Code {
	t.Helper()
	c, err := Parse(mark)
	require.NoError(t, err, mark)
	return c
}

func TestParse(t *testing.T) {
	for mark, want := range map[string][]Mark{
		"IP65":            {{Solids: 6, Water: 5}},
		"IPX7":            {{Solids: NotStated, Water: 7}},
		"IP2X":            {{Solids: 2, Water: NotStated}},
		"IP00":            {{}},
		"IPX5/IPX7":       {{Solids: NotStated, Water: 5}, {Solids: NotStated, Water: 7}},
		"IP65/IP67":       {{Solids: 6, Water: 5}, {Solids: 6, Water: 7}},
		"IPX5/IPX7/IPX9":  {{Solids: NotStated, Water: 5}, {Solids: NotStated, Water: 7}, {Solids: NotStated, Water: 9}},
		"IP69":            {{Solids: 6, Water: 9}},
		"IP69K":           {{Solids: 6, Water: 9, HotJetK: true}},
		"IPXXB":           {{Solids: NotStated, Water: NotStated, Additional: 'B'}},
		"IP23CS":          {{Solids: 2, Water: 3, Additional: 'C', Supplementary: "S"}},
		"IP44MW":          {{Solids: 4, Water: 4, Supplementary: "MW"}},
		"IP20D":           {{Solids: 2, Water: 0, Additional: 'D'}},
		"\tIP65/IP68H \n": {{Solids: 6, Water: 5}, {Solids: 6, Water: 8, Supplementary: "H"}},
	} {
		c := parsed(t, mark)
		require.Equal(t, want, c.Marks, mark)
		require.Equal(t, strings.TrimSpace(mark), c.String())
	}
}

func TestParseRefuses(t *testing.T) {
	for mark, why := range map[string]string{
		"":          "is empty",
		"  ":        "is empty",
		"IPX-7":     "no hyphen", // the correct form has no hyphen (IEC 60529, secondary)
		"IP-65":     "no hyphen",
		"IP 65":     "no space",
		"IP66/68":   "a dual mark repeats it, as in IP66/IP68",
		"IP66/IP":   "two digits",
		"IP6":       "two digits",
		"IP":        "two digits",
		"IP66/":     "beside a slash",
		"/IP66":     "beside a slash",
		"ip65":      "capitals",
		"Ip65":      "capitals",
		"65":        "does not begin with IP",
		"IP75":      "first digit",
		"IPx5":      "first digit",
		"IPA5":      "first digit",
		"IP6x":      "second digit",
		"IP6K9K":    "second digit",
		"IPXX":      "states nothing",
		"IPXXH":     "states nothing",
		"IP65K":     "after the digits",
		"IP65E":     "after the digits",
		"IP65WM":    "after the digits",
		"IP65MM":    "after the digits",
		"IP65BB":    "after the digits",
		"IP655":     "after the digits",
		"IP65–IP67": "after the digits",
		"IP６5":      "first digit",
		"splashy":   "does not begin with IP",
	} {
		_, err := Parse(mark)
		require.ErrorContains(t, err, why, mark)
	}
}

func TestProofs(t *testing.T) {
	const no = NotStated
	for _, x := range []struct {
		mark                                     string
		solids, splash, jets, immersion, hot     int
		noSolids, noSplash, noJets, noImm, noHot bool
	}{
		{mark: "IP00"},
		{mark: "IP20", solids: 2},
		{mark: "IP23", solids: 2, splash: 3},
		{mark: "IP44", solids: 4, splash: 4},
		{mark: "IP65", solids: 6, splash: 4, jets: 5},
		{mark: "IPX6", solids: no, noSolids: true, splash: 4, jets: 6},
		{mark: "IP67", solids: 6, splash: no, noSplash: true, immersion: 7},
		{mark: "IPX8", solids: no, noSolids: true, splash: no, noSplash: true, immersion: 8},
		{mark: "IP69K", solids: 6, splash: no, noSplash: true, hot: 9},
		{mark: "IPX5/IPX7", solids: no, noSolids: true, splash: 4, jets: 5, immersion: 7},
		{mark: "IPX6/IP68", solids: 6, splash: 4, jets: 6, immersion: 8},
		{mark: "IPX7/IPX9", solids: no, noSolids: true, splash: no, noSplash: true, immersion: 7, hot: 9},
		{mark: "IP6X", solids: 6, splash: no, noSplash: true, noJets: true, noImm: true, noHot: true},
		{mark: "IP6X/IPX7", solids: 6, splash: no, noSplash: true, immersion: 7},
		{mark: "IPXXB", solids: no, noSolids: true, splash: no, noSplash: true, noJets: true, noImm: true, noHot: true},
	} {
		c := parsed(t, x.mark)
		for _, p := range []struct {
			name  string
			proof func() (int, bool)
			want  int
			no    bool
		}{
			{"solids", c.Solids, x.solids, x.noSolids}, {"splash", c.Splash, x.splash, x.noSplash}, {"jets", c.Jets, x.jets, x.noJets},
			{"immersion", c.Immersion, x.immersion, x.noImm}, {"hot jet", c.HotJet, x.hot, x.noHot},
		} {
			got, ok := p.proof()
			require.Equal(t, p.want, got, "%s %s", x.mark, p.name)
			require.Equal(t, !p.no, ok, "%s %s", x.mark, p.name)
		}
	}
	_, ok := Code{}.Jets()
	require.False(t, ok)
	require.NotEmpty(t, parsed(t, "IPX5/IPX9K").Notes())
	require.Empty(t, parsed(t, "IP65/IP69").Notes())
}

// The rows come from IEC 60529: cumulative up to 6 (read), dual marks for 7 and 8
// beside 5 and 6 (secondary), 9 alone (memory), 7 for 4 an open question.
func TestSatisfies(t *testing.T) {
	for _, x := range []struct {
		required string
		offered  string
		want     Result
	}{
		{"IPX4", "IPX5 IPX6 IP44 IP65", Pass},
		{"IPX5", "IPX7 IP67 IPX8 IP68", Fail},
		{"IPX5", "IPX5/IPX7 IP65/IP67 IPX6/IPX8", Pass},
		{"IPX7", "IPX6 IP65", Fail},
		{"IPX7", "IPX8", Pass},
		{"IPX7", "IPX9", Fail},
		{"IPX5", "IPX9", Fail},
		{"IPX4", "IPX7", Doubt},
		{"IP24", "IP44", Pass},
		{"IP24", "IPX4", Doubt},

		{"IPX4", "IPX8 IPX9 IP2X", Doubt},
		{"IPX4", "IPX3 IP23 IPX0", Fail},
		{"IPX4", "IPX7/IPX4", Pass},
		{"IP24", "IP14 IPX3 IP13", Fail}, // a digit that fails outweighs one in doubt
		{"IPX5", "IP6X", Doubt},
		{"IPX6", "IPX5", Fail},
		{"IPX8", "IPX7", Fail},
		{"IPX9", "IPX6/IPX8", Fail},
		{"IPX9", "IP69K IPX5/IPX9", Pass},
		{"IP67", "IP65/IP67 IP68", Pass},
		{"IP67", "IPX7", Doubt},
		{"IP67", "IP57", Fail},
		{"IPX5/IPX7", "IPX7 IP65", Fail},
		{"IPX5/IPX7", "IP66/IP68", Pass},
		{"IPX0", "IPX7 IP00", Pass},
		{"IP00", "IPXXB", Pass},
		{"IPXXB", "IP20", Doubt}, // letters are not compared
	} {
		for _, offered := range strings.Fields(x.offered) {
			require.Equal(t, x.want.String(), Satisfies(parsed(t, x.required), parsed(t, offered)).String(), "%s required, %s offered", x.required, offered)
		}
	}
	require.Equal(t, Doubt, Satisfies(Code{}, parsed(t, "IP65")), "nothing is required")
	require.Equal(t, Doubt, Satisfies(parsed(t, "IPX4"), Code{}), "nothing is offered")
}

func marks() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		one := rapid.StringMatching(`IP[0-6X][0-9X]`).Filter(func(s string) bool { return s != "IPXX" })
		return strings.Join(rapid.SliceOfN(one, 1, 3).Draw(t, "codes"), "/")
	})
}

func TestMarksHoldTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := marks().Draw(t, "a"), marks().Draw(t, "b")
		ca, err := Parse(a)
		require.NoError(t, err)
		cb, err := Parse(b)
		require.NoError(t, err)
		require.Equal(t, a, ca.String())
		both, err := Parse(a + "/" + b)
		require.NoError(t, err)
		// One more code on a product never takes anything away.
		want := marks().Draw(t, "want")
		required, err := Parse(want)
		require.NoError(t, err)
		if Satisfies(required, ca) == Pass {
			require.Equal(t, Pass, Satisfies(required, both), "%s required, %s offered", want, both)
		}
		// A dual requirement passes only when each of its codes does.
		if Satisfies(both, required) == Pass {
			require.Equal(t, Pass, Satisfies(ca, required))
			require.Equal(t, Pass, Satisfies(cb, required))
		}
	})
}

func TestParseNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.StringMatching(`IP[0-9XKABHS/ -]{0,12}`)).Draw(t, "mark")
		if c, err := Parse(s); err == nil {
			again, err := Parse(c.String())
			require.NoError(t, err)
			require.Equal(t, c, again)
		}
	})
}
