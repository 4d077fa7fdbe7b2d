package report

import (
	"unicode"

	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/measure"
)

func TestWrap(t *testing.T) {
	for _, tt := range []struct {
		text  string
		width int
		want  []string
	}{
		{"", 10, nil},
		{" \n ", 10, nil},
		{"one two three", 7, []string{"one two", "three"}},
		{"one two three", 8, []string{"one two", "three"}},
		{"a verylongwordthatdoesnotfit b", 5, []string{"a", "verylongwordthatdoesnotfit", "b"}},
		{"at least 300 mm here", 12, []string{"at least", "300 mm here"}},
		{"no less than 45 °C.", 15, []string{"no less than", "45 °C."}},
		{"füße über", 4, []string{"füße", "über"}},
		{"a\nb\tc", 20, []string{"a b c"}},
		{"a\u202eb", 20, []string{`a\u202eb`}},
	} {
		require.Equal(t, tt.want, wrap(tt.text, tt.width), tt.text)
	}
}

func TestWrapKeepsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		width := rapid.IntRange(1, 40).Draw(t, "width")
		lines := wrap(text, width)
		require.Equal(t, line(text), strings.Join(lines, " "))
		for _, l := range lines {
			require.NotEmpty(t, l)
			if utf8.RuneCountInString(l) > width {
				require.LessOrEqual(t, strings.Count(l, " "), 1, "%q is too wide", l) // one word, or a number and its unit
			}
		}
	})
}

func TestCleanLeavesNothingHostile(t *testing.T) {
	require.Equal(t, `\u001b[2J\u202e\u2028\u00ad\u200b\ufeff\U000e0041\u009b\u007f\u0000`, clean("\x1b[2J\u202e\u2028\u00ad\u200b\ufeff\U000e0041\u009b\x7f\x00"))
	require.Equal(t, "10 × 2 mm² für 45 °C", clean("10 × 2 mm² für 45 °C"))
	rapid.Check(t, func(t *rapid.T) {
		require.False(t, strings.ContainsFunc(clean(rapid.String().Draw(t, "text")), hostile))
	})
}

func TestExact(t *testing.T) {
	known := measure.Known
	require.Equal(t, false, exact(measure.Flag, measure.Value{State: known}))
	require.Equal(t, "x", exact(measure.Text, measure.Value{State: known}.WithText("x")))
	require.Equal(t, 1.5, *exact(measure.Number, measure.Value{State: known, Num: 1.5}).(*float64))
	require.Nil(t, exact(measure.Number, measure.Value{State: measure.Unknown, Num: 1.5}))
	require.Nil(t, finite(math.Inf(1)))
	require.Nil(t, finite(math.NaN()))
}

func TestHostileCharacters(t *testing.T) {
	for r := range rune(unicode.MaxRune + 1) {
		want := r < ' ' || r >= 0x7f && unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) || r == unicode.ReplacementChar
		if hostile(r) != want {
			require.Equal(t, want, hostile(r), "%U", r)
		}
	}
}
