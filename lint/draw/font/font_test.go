package font

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestWidth(t *testing.T) {
	require.InDelta(t, 5.56, Width("0", 10, false), 1e-9, "ISO 32000-1, 9.6.2.2: a digit of Helvetica is 556 wide")
	require.InDelta(t, 5.56*1.1, Width("0", 10, true), 1e-9)
	require.Zero(t, Width("", 10, false))
}

func TestCut(t *testing.T) {
	require.Equal(t, "abc", Cut("abc", 10, 100, false))
	require.Equal(t, "ab…", Cut("abcdefgh", 10, 22, false))
	require.Empty(t, Cut("abcdefgh", 10, 12, false))
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "text")
		width := rapid.Float64Range(0, 300).Draw(t, "width")
		got := Cut(s, 12, width, false)
		require.LessOrEqual(t, Width(got, 12, false), width)
		require.True(t, utf8.ValidString(got))
		require.True(t, got == s || got == "" || strings.HasPrefix(s, strings.TrimSuffix(got, "…")))
	})
}

func TestClean(t *testing.T) {
	require.Equal(t, "a b", Clean(" a \n\t b ", 10))
	require.Equal(t, `a\u0000b\u202e`, Clean("a\x00b\u202e", 10))
	require.Equal(t, "abc…", Clean("abcdef", 3))
}
