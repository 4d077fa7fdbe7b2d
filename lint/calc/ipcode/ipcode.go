// Package ipcode reads the marks of protection by enclosures that are printed
// on electrical products (IP codes) and says what a mark proves.
//
// Source: IEC 60529:1989 with A1:1999 and A2:2013, clauses 4 to 6. It was not
// opened in full. What the digits mean is read; that 7 and 8 do not prove jets
// is secondary; that 9 proves neither jets nor immersion, and that a higher
// first digit proves the lower ones, is from memory.
//
// All water tests of the IP code but the brief one of digit 9 use cool fresh
// water. No mark proves that a product stands steam.
package ipcode

import (
	"fmt"
	"strings"
)

// NotStated is the digit of a mark that has an X in its place. It is no zero:
// nothing was tested, or the test is not told.
const NotStated = -1

// Mark is one code of a mark, such as IP65 or IPX7.
type Mark struct {
	Solids int // first digit, 0 to 6, or NotStated
	Water  int // second digit, 0 to 9, or NotStated
	// Additional is the letter A to D for access to live parts, or 0.
	Additional byte
	// Supplementary holds the letters H, M, S and W in alphabetical order.
	Supplementary string
	// HotJetK says that the second digit was printed as 9K, which is the way of
	// ISO 20653 for road vehicles. Its test is the twin of digit 9 (read).
	HotJetK bool
}

// Code is a whole mark as printed: one code, or several with slashes between.
type Code struct{ Marks []Mark }

// Parse reads a mark as printed, such as IP65, IPX5/IPX7 or IP23CS. White space
// round the mark is passed over; white space, hyphens and small letters inside
// it are not. Each part of a dual mark is a whole code: IP66/IP68, not IP66/68.
//
// The error says in plain words what is wrong with the mark.
func Parse(mark string) (Code, error) {
	trimmed := strings.TrimSpace(mark)
	if trimmed == "" {
		return Code{}, fmt.Errorf("the IP mark is empty")
	}
	parts := strings.Split(trimmed, "/")
	c := Code{Marks: make([]Mark, 0, len(parts))}
	for _, p := range parts {
		m, why := parse(p)
		if why != "" {
			return Code{}, fmt.Errorf("the IP mark %q cannot be read: %s", trimmed, why)
		}
		c.Marks = append(c.Marks, m)
	}
	return c, nil
}

// parse reads one code; why says what is wrong with it.
func parse(s string) (m Mark, why string) {
	rest, ok := strings.CutPrefix(s, "IP")
	switch {
	case s == "":
		return m, "a code is missing beside a slash"
	case !ok && strings.HasPrefix(strings.ToUpper(s), "IP"):
		return m, "IP is written in capitals"
	case !ok:
		return m, fmt.Sprintf("%q does not begin with IP; a dual mark repeats it, as in IP66/IP68", s)
	case strings.ContainsAny(rest, " \t-"):
		return m, "there is no hyphen and no space in an IP code"
	case len(rest) < 2:
		return m, "two digits are wanted after IP, X for one that is not stated"
	}
	if m.Solids, ok = digit(rest[0], 6); !ok {
		return m, "the first digit is 0 to 6 or X"
	}
	if m.Water, ok = digit(rest[1], 9); !ok {
		return m, "the second digit is 0 to 9 or X"
	}
	rest = rest[2:]
	if m.Water == 9 && strings.HasPrefix(rest, "K") {
		m.HotJetK, rest = true, rest[1:]
	}
	if rest != "" && strings.IndexByte("ABCD", rest[0]) >= 0 {
		m.Additional, rest = rest[0], rest[1:]
	}
	for i := range len(rest) {
		if strings.IndexByte("HMSW", rest[i]) < 0 || i > 0 && rest[i] <= rest[i-1] {
			return m, "after the digits come A to D, then H, M, S, W in this order, each once"
		}
	}
	m.Supplementary = rest
	if m.Solids == NotStated && m.Water == NotStated && m.Additional == 0 {
		return m, "it states nothing"
	}
	return m, ""
}

func digit(b byte, highest int) (int, bool) {
	if b == 'X' {
		return NotStated, true
	}
	d := int(b) - '0'
	return d, d >= 0 && d <= highest
}

// String writes the mark in its proper form.
func (c Code) String() string {
	parts := make([]string, len(c.Marks))
	for i, m := range c.Marks {
		var b strings.Builder
		b.WriteString("IP")
		for _, d := range []int{m.Solids, m.Water} {
			if d == NotStated {
				b.WriteByte('X')
			} else {
				b.WriteByte('0' + byte(d))
			}
		}
		if m.HotJetK {
			b.WriteByte('K')
		}
		if m.Additional != 0 {
			b.WriteByte(m.Additional)
		}
		b.WriteString(m.Supplementary)
		parts[i] = b.String()
	}
	return strings.Join(parts, "/")
}

// Notes says what a reader should know of the mark; empty when there is nothing.
func (c Code) Notes() string {
	for _, m := range c.Marks {
		if m.HotJetK {
			return "9K is the way of ISO 20653; it is taken as digit 9"
		}
	}
	return ""
}

// Solids returns the highest first digit that the mark proves, 0 to 6; ok is
// false when every code has an X there. A higher first digit proves the lower
// ones (memory).
func (c Code) Solids() (digit int, ok bool) {
	digit = NotStated
	for _, m := range c.Marks {
		digit = max(digit, m.Solids)
	}
	return digit, digit != NotStated
}

// Splash returns the highest of the digits 0 to 4 (drops, spray, splash) that
// the mark proves; ok is false when that can't be told. Up to 6 a digit proves
// all lower ones (read), so 5 and 6 prove 4. A mark with only 7, 8 or 9 leaves
// it open: lower digits are often assumed, but the standard calls such use
// restricted. An X states nothing.
func (c Code) Splash() (digit int, ok bool) {
	digit = NotStated
	for _, m := range c.Marks {
		if m.Water <= 6 {
			digit = max(digit, min(m.Water, 4))
		}
	}
	return digit, digit != NotStated
}

// Jets returns 5 or 6 when the mark proves water jets, and 0 when it states a
// second digit but none of these: 7, 8 and 9 alone do not prove jets
// (secondary; for 9 memory). ok is false when every code has an X there.
func (c Code) Jets() (digit int, ok bool) { return c.highest(5, 6) }

// Immersion returns 7 or 8 when the mark proves immersion, and 0 when it states
// a second digit but none of these. ok is false when every code has an X there.
// 8 is harsher than 7 by definition (secondary).
func (c Code) Immersion() (digit int, ok bool) { return c.highest(7, 8) }

// HotJet returns 9 when the mark proves the hot high-pressure jet, and 0 when it
// states another second digit. ok is false when every code has an X there.
func (c Code) HotJet() (digit int, ok bool) { return c.highest(9, 9) }

// highest is the highest second digit from lo to hi, or 0.
func (c Code) highest(lo, hi int) (digit int, ok bool) {
	for _, m := range c.Marks {
		ok = ok || m.Water != NotStated
		if m.Water >= lo && m.Water <= hi {
			digit = max(digit, m.Water)
		}
	}
	return digit, ok
}

// Result says whether an offered mark meets a required one.
type Result int

// The results. The zero value is Doubt, so that nothing passes by oversight.
const (
	Doubt Result = iota // the mark does not say enough
	Fail
	Pass
)

// String names the result.
func (r Result) String() string {
	switch r {
	case Fail:
		return "fail"
	case Pass:
		return "pass"
	}
	return "doubt"
}

// Satisfies says whether the offered mark meets the required one. Every code of
// a required dual mark must be met; an X in it requires nothing. One digit that
// is not met is a Fail; else one that the offered mark leaves open is a Doubt.
// The letters after the digits are not compared, and a required mark that
// requires no digit gives Doubt.
func Satisfies(required, offered Code) Result {
	result, asked := Pass, false
	for _, m := range required.Marks {
		for _, d := range []struct {
			want  int
			proof func() (int, bool)
		}{{m.Solids, offered.Solids}, {m.Water, offered.waterProof(m.Water)}} {
			if d.want == NotStated {
				continue
			}
			asked = true
			switch got, ok := d.proof(); {
			case d.want == 0: // no protection is required
			case !ok && result == Pass:
				result = Doubt
			case ok && got < d.want:
				result = Fail
			}
		}
	}
	if !asked {
		return Doubt
	}
	return result
}

// waterProof is the test that a required second digit asks for.
func (c Code) waterProof(want int) func() (int, bool) {
	switch {
	case want >= 9:
		return c.HotJet
	case want >= 7:
		return c.Immersion
	case want >= 5:
		return c.Jets
	}
	return c.Splash
}
