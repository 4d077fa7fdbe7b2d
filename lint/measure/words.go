package measure

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"

	"wetrule/lint/calc/geometry"
)

// figure is a number as FormatNumber writes it, for said.
type figure float64

func (f figure) String() string { return FormatNumber(float64(f)) }

// said is fmt.Sprintf for the steps of a working, of which a report may hold hundreds: for the verbs %s, %d, %.2f with any number of decimals below
// ten, and %%, and for texts, whole numbers, numbers and figures. Nothing is kept of its arguments, so they cost no memory of their own.
// TestSaid holds it against fmt, and every call of it to what it knows.
func said(format string, args ...any) string {
	if false {
		_ = fmt.Sprintf(format, args...) // so that go vet looks at the calls
	}
	var room [512]byte
	b := room[:0]
	for {
		at := strings.IndexByte(format, '%')
		if at < 0 || at+1 == len(format) {
			return string(append(b, format...))
		}
		b = append(b, format[:at]...)
		format = format[at+1:]
		decimals, letter := -1, 0
		switch {
		case format[0] == '%':
			b = append(b, '%')
			format = format[1:]
			continue
		case format[0] == '.' && len(format) > 2:
			decimals, letter = int(format[1]-'0'), 2
		}
		format = format[letter+1:]
		if len(args) > 0 {
			b = appendSaid(b, args[0], decimals)
			args = args[1:]
		}
	}
}

func appendSaid(b []byte, arg any, decimals int) []byte {
	switch x := arg.(type) {
	case string:
		return append(b, x...)
	case float64:
		return appendFixed(b, x, decimals)
	case figure:
		return appendFigure(b, float64(x))
	case int:
		return AppendWhole(b, int64(x))
	}
	return append(b, reflect.ValueOf(arg).String()...) // a text with a type of its own
}

// appendFigure writes what FormatNumber does.
func appendFigure(b []byte, v float64) []byte {
	if v = geometry.RoundMM(v); math.Abs(v) < 1e10 {
		return appendMillis(b, int64(math.Round(v*1000)))
	}
	return append(b, FormatNumber(v)...)
}

// appendFixed writes a number with so many decimals, as strconv does.
func appendFixed(b []byte, v float64, decimals int) []byte {
	if size := math.Abs(v); decimals >= 0 && decimals < len(tens) && size < 1e9 {
		// Size and unit times 10 to the decimals are known exactly as the sum of a product and what it was rounded by.
		unit := tens[decimals]
		x := size * unit
		n := math.Floor(x)
		rest := x - n + math.FMA(size, unit, -x)
		if math.Abs(rest-0.5) > 1e-6 { // as near to the middle as this, strconv decides
			if rest > 0.5 {
				n++
			}
			if math.Signbit(v) {
				b = append(b, '-')
			}
			whole := int64(n)
			b = AppendWhole(b, whole/int64(unit))
			if decimals == 0 {
				return b
			}
			part := whole % int64(unit)
			b = append(b, '.')
			if decimals > 3 {
				b = append(b, byte('0'+part/1000))
				part, decimals = part%1000, 3
			}
			return append(b, digits[part][3-decimals:]...)
		}
	}
	return strconv.AppendFloat(b, v, 'f', decimals, 64)
}

var tens = [...]float64{1, 10, 100, 1e3, 1e4}

// told keeps steps that several values have, once somebody has asked for them.
type told struct{ kept atomic.Pointer[[]string] }

// by gives the steps, written now or before; who adds to them gets a copy.
func (t *told) by(write func() []string) []string {
	p := t.kept.Load()
	if p == nil {
		lines := slices.Clip(write())
		p = &lines
		t.kept.Store(p)
	}
	return *p
}

// wordList has something for each of a few words that are known at start-up. It finds them quicker than a map does, which has to be good for
// any text: few of the words share their length and the ends of their text.
type wordList[T any] struct {
	rows [256][]wordOf[T]
	n    int // words
}

type wordOf[T any] struct {
	word string
	of   T
}

func wordRow(s string) uint8 {
	if s == "" {
		return 0
	}
	return uint8(len(s)) + s[0]*7 + s[len(s)/2]*31 + s[len(s)-1]*97
}

// put adds a word that is not in the list.
func (l *wordList[T]) put(word string, of T) {
	row := &l.rows[wordRow(word)]
	*row = append(*row, wordOf[T]{word, of})
	l.n++
}

func (l *wordList[T]) find(word string) (of T, known bool) {
	row := l.rows[wordRow(word)]
	for i := range row {
		if row[i].word == word {
			return row[i].of, true
		}
	}
	return of, false
}

// few has something for each of some texts. As long as they are few it looks at one after the other, which is quicker than a map.
type few[T any] struct {
	list []wordOf[T]
	all  map[string]int32 // their places, once there are many
}

const fewest = 12

// find returns the one that was put last.
func (f *few[T]) find(key string) (of T, known bool) {
	if f.all != nil {
		if i, ok := f.all[key]; ok {
			return f.list[i].of, true
		}
		return of, false
	}
	for i := len(f.list) - 1; i >= 0; i-- {
		if f.list[i].word == key {
			return f.list[i].of, true
		}
	}
	return of, false
}

func (f *few[T]) makeRoom(n int) { f.list = make([]wordOf[T], 0, n) }

func (f *few[T]) put(key string, of T) {
	if f.list == nil {
		f.makeRoom(6)
	}
	f.list = append(f.list, wordOf[T]{key, of})
	switch n := len(f.list); {
	case f.all != nil:
		f.all[key] = int32(n - 1)
	case n > fewest:
		f.all = make(map[string]int32, 2*n)
		for i := range f.list {
			f.all[f.list[i].word] = int32(i)
		}
	}
}

// spell puts texts together. What it spells for a job stands one behind the other, a few hundred letters an allocation.
func (c *Context) spell(parts ...string) string {
	n := 0
	for _, p := range parts {
		n += len(p)
	}
	b := &c.spelled
	if b.Cap()-b.Len() < n {
		b.Reset() // what is spelled stays with its texts
		b.Grow(max(n, 1024))
	}
	from := b.Len()
	for _, p := range parts {
		b.WriteString(p)
	}
	return b.String()[from:]
}

// smallNumber is a number in words of spell, made once for small ones.
func smallNumber(i int) string {
	return *madeOnce(smallNumbers, i, func() string { return strconv.Itoa(i) })
}

var smallNumbers = make(many[string], 256)

// listed makes a list of a map.
func listed[T any](of map[string]T) (l wordList[T]) {
	for word, v := range of {
		l.put(word, v)
	}
	return l
}
