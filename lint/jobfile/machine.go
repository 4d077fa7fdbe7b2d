package jobfile

import (
	"encoding/binary"
	"regexp"
	"regexp/syntax"
	"slices"
	"unicode/utf8"
)

// A matcher tells whether a text matches a pattern of a schema. Patterns of ids are asked for every name in a job, so the simple ones are turned into
// a table; all others, and texts that are not ASCII, are left to the regular expression.
type matcher struct {
	re    *regexp.Regexp
	class [utf8.RuneSelf]uint8
	next  []uint16 // by state and class of character
	width int      // classes
	done  []state  // by state
}

type state uint8

const (
	matchesHere state = 1 << iota // whatever follows
	matchesAtEnd
)

const mostStates = 256

// stuck is the state from which nothing matches.
const stuck = 0

func newMatcher(re *regexp.Regexp) *matcher {
	m := &matcher{re: re}
	prog, err := program(re.String())
	if err == nil && prog.StartCond()&syntax.EmptyBeginText == 0 {
		prog, err = program(`^(?s:.)*?(?:` + re.String() + `)`) // the same, from the start
	}
	if err != nil || !m.build(prog) {
		m.next = nil
	}
	return m
}

func program(pattern string) (*syntax.Prog, error) {
	parsed, err := syntax.Parse(pattern, syntax.Perl)
	if err != nil {
		return nil, err
	}
	return syntax.Compile(parsed.Simplify())
}

func (m *matcher) match(text string) bool {
	if m.next == nil {
		return m.re.MatchString(text)
	}
	at := 1
	for i := range len(text) {
		if m.done[at]&matchesHere != 0 {
			return true
		}
		c := text[i]
		if c >= utf8.RuneSelf {
			return m.re.MatchString(text)
		}
		if at = int(m.next[at*m.width+int(m.class[c])]); at == stuck {
			// Whatever stands behind, nothing matches any more.
			return false
		}
	}
	return m.done[at] != 0
}

// build turns a program into a table. It gives false for programs with something that the table cannot say, or which are too large.
func (m *matcher) build(prog *syntax.Prog) bool {
	if prog.StartCond()&syntax.EmptyBeginText == 0 {
		return false
	}
	// Characters between two bounds of ranges are all the same to the program.
	bounds := []rune{0, utf8.RuneSelf}
	for i := range prog.Inst {
		switch inst := &prog.Inst[i]; inst.Op {
		case syntax.InstEmptyWidth:
			if cond := syntax.EmptyOp(inst.Arg); cond&^(syntax.EmptyBeginText|syntax.EmptyEndText) != 0 {
				return false
			}
		case syntax.InstRune, syntax.InstRune1:
			if syntax.Flags(inst.Arg)&syntax.FoldCase != 0 {
				return false
			}
			for k, r := range inst.Rune {
				if k%2 == 1 || len(inst.Rune) == 1 {
					bounds = append(bounds, r+1)
				}
				if k%2 == 0 {
					bounds = append(bounds, r)
				}
			}
		case syntax.InstRuneAny, syntax.InstRuneAnyNotNL:
			bounds = append(bounds, '\n', '\n'+1)
		}
	}
	slices.Sort(bounds)
	bounds = slices.Compact(bounds)
	var first []rune // of each class
	for _, r := range bounds {
		if r < utf8.RuneSelf {
			first = append(first, r)
		}
	}
	m.width = len(first)
	for i, r := range first {
		end := rune(utf8.RuneSelf)
		if i+1 < len(first) {
			end = first[i+1]
		}
		for ; r < end; r++ {
			m.class[r] = uint8(i)
		}
	}

	var sets [][]uint32 // the instructions of each state
	index := map[string]int{}
	add := func(set []uint32) int {
		key := make([]byte, 0, 4*len(set))
		for _, pc := range set {
			key = binary.LittleEndian.AppendUint32(key, pc)
		}
		if at, ok := index[string(key)]; ok {
			return at
		}
		at := len(sets)
		index[string(key)] = at
		sets = append(sets, set)
		m.next = append(m.next, make([]uint16, m.width)...)
		var d state
		if follow(prog, set, 0, nil).match {
			d |= matchesHere
		}
		if follow(prog, set, syntax.EmptyEndText, nil).match {
			d |= matchesAtEnd
		}
		m.done = append(m.done, d)
		return at
	}
	add(nil)
	// At the start, a text may be at its end too.
	start := []uint32{uint32(prog.Start)}
	begun := follow(prog, start, syntax.EmptyBeginText, nil)
	add(begun.closed)
	m.done[1] = 0
	if begun.match {
		m.done[1] |= matchesHere
	}
	if follow(prog, start, syntax.EmptyBeginText|syntax.EmptyEndText, nil).match {
		m.done[1] |= matchesAtEnd
	}
	for at := 1; at < len(sets); at++ {
		if len(sets) > mostStates {
			return false
		}
		for class, r := range first {
			to := follow(prog, sets[at], 0, &r).closed
			m.next[at*m.width+class] = uint16(add(to))
		}
	}
	// The start may only come again when it is no matter that the text begins there.
	var again state
	if follow(prog, sets[1], 0, nil).match {
		again |= matchesHere
	}
	if follow(prog, sets[1], syntax.EmptyEndText, nil).match {
		again |= matchesAtEnd
	}
	return again == m.done[1] || !slices.Contains(m.next, 1)
}

// reached is where a program may be.
type reached struct {
	closed []uint32 // instructions that wait for a character or for the end of the text, sorted
	match  bool
}

// follow goes from a set of instructions over a character, or over none, to what can be reached without another one.
func follow(prog *syntax.Prog, set []uint32, cond syntax.EmptyOp, r *rune) (out reached) {
	seen := map[uint32]bool{}
	var visit func(pc uint32)
	visit = func(pc uint32) {
		if seen[pc] {
			return
		}
		seen[pc] = true
		switch inst := &prog.Inst[pc]; inst.Op {
		case syntax.InstAlt, syntax.InstAltMatch:
			visit(inst.Out)
			visit(inst.Arg)
		case syntax.InstCapture, syntax.InstNop:
			visit(inst.Out)
		case syntax.InstEmptyWidth:
			if need := syntax.EmptyOp(inst.Arg); need&^cond == 0 {
				visit(inst.Out)
			} else if need&syntax.EmptyBeginText == 0 {
				out.closed = append(out.closed, pc)
			}
		case syntax.InstMatch:
			out.match = true
			out.closed = append(out.closed, pc)
		case syntax.InstFail:
		default:
			out.closed = append(out.closed, pc)
		}
	}
	for _, pc := range set {
		if r == nil {
			visit(pc)
			continue
		}
		switch inst := &prog.Inst[pc]; inst.Op {
		case syntax.InstRune, syntax.InstRune1, syntax.InstRuneAny, syntax.InstRuneAnyNotNL:
			if inst.MatchRune(*r) {
				visit(inst.Out)
			}
		}
	}
	slices.Sort(out.closed)
	return out
}
