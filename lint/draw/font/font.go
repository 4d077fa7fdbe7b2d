// Package font measures text of the drawings without a font at hand.
package font

import (
	"fmt"
	"strings"
	"unicode"
)

// widths of the characters from space to tilde in thousandths of the size.
//
// Source: the standard font Helvetica of ISO 32000-1, 9.6.2.2; measured from the freely licensed Liberation Sans, which has the same widths (computed).
var widths = [...]uint16{
	278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
	1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
	333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
}

// Width is the width of a text at a size, by a table of character widths; see widths. Characters that are not in the table
// count as wide as the widest, so that the result is never too small.
func Width(s string, size float64, strong bool) float64 {
	sum := 0.0
	for _, r := range s {
		switch {
		case r >= ' ' && r <= '~':
			sum += float64(widths[r-' '])
		case r == '°' || r == '²' || r == '³' || r == '·' || r == '±' || r == '×' || r == '–' || r == '−':
			sum += 584
		case unicode.Is(unicode.Mn, r):
		default:
			sum += 1015
		}
	}
	if strong {
		sum *= 1.1 // the bold face of the same font is up to a tenth wider
	}
	return sum / 1000 * size
}

// Cut shortens a text to a width, with an ellipsis for what is left out; "" if not even one character and the ellipsis fit.
func Cut(s string, size, width float64, strong bool) string {
	if Width(s, size, strong) <= width {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 0; n-- {
		if c := string(runes[:n]) + "…"; Width(c, size, strong) <= width {
			return c
		}
	}
	return ""
}

// Clean makes text fit to be drawn on one line: spaces run together, characters that control, format or are none are spelt out, and
// what goes beyond the most characters is left out with an ellipsis.
func Clean(s string, most int) string {
	s = strings.Join(strings.Fields(s), " ")
	var b strings.Builder
	n := 0
	for _, r := range s {
		if n >= most {
			b.WriteString("…")
			break
		}
		n++
		if r < ' ' || r == 0x7f || r == unicode.ReplacementChar || unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co, unicode.Cs) || r == 0xfffe || r == 0xffff {
			fmt.Fprintf(&b, "\\u%04x", r)
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}
