package workpack

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCellsAreNoFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"":                        "",
		"hole saw":                "hole saw",
		"5-mm bit":                "5-mm bit",
		"=1+1":                    "'=1+1",
		"+44":                     "'+44",
		"-4":                      "'-4",
		"@SUM(A1)":                "'@SUM(A1)",
		"\t=1":                    "' =1",
		"\r=1":                    "' =1",
		"\n=1":                    "' =1",
		"  =1":                    "'  =1",
		"\u00a0=1":                "'\u00a0=1",
		"＝1":                      "'＝1",
		"a\r\n=cmd|' /C calc'!A0": "a  =cmd|' /C calc'!A0",
		"a\x00b":                  "a b",
		"\xff":                    "\ufffd",
	} {
		require.Equal(t, want, plain(in), "%q", in)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := plain(rapid.String().Draw(t, "s"))
		require.NotContains(t, s, "\n")
		if s != "" {
			require.NotContains(t, "=+-@\t\r", s[:1])
		}
		// A reader of the standard gets the same cells back.
		rows := [][]string{{"head", "other"}, {s, rapid.String().Draw(t, "other")}}
		var b bytes.Buffer
		require.NoError(t, writeCSV(&b, rows))
		text, ok := strings.CutPrefix(b.String(), "\ufeff")
		require.True(t, ok)
		back, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		require.NoError(t, err)
		require.Equal(t, [][]string{rows[0], {plain(rows[1][0]), plain(rows[1][1])}}, back)
		require.Equal(t, 2, strings.Count(text, "\r\n"), "lines end as the standard says, and no cell has a break")
	})
}

func TestNumbersOfSteps(t *testing.T) {
	for want, in := range map[string][]int{"": nil, "1": {0}, "1, 2": {1, 0}, "1 to 3": {0, 1, 2, 2}, "1, 3, 5 to 8": {0, 2, 4, 5, 6, 7}} {
		require.Equal(t, want, stepNumbers(in))
	}
}

func TestAmounts(t *testing.T) {
	for in, want := range map[float64]string{0: "0", 0.126: "0.13", 4.8: "4.8", 12.04: "12", 12.06: "12.1", 123.4: "123", 100: "100", 10: "10"} {
		require.Equal(t, want, amount(in))
	}
	for in, want := range map[float64]string{0: "0 min", 59.2: "1 h", 25: "25 min", 61: "1 h 1 min", 120: "2 h"} {
		require.Equal(t, want, duration(in))
	}
}

func TestCSSText(t *testing.T) {
	require.Equal(t, `"a 1\000022 \00000a \00003c /style\00003e "`, strings.ReplaceAll(cssText("a 1\"\n</style>"), `\00002f `, "/"))
}
