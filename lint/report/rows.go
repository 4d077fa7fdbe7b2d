package report

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"unicode/utf16"
	"unicode/utf8"
)

// rows writes JSON with a line a row of a list. The first error stays.
type rows struct {
	w   *bufio.Writer
	buf bytes.Buffer
	enc *json.Encoder
	err error
}

func newRows(w io.Writer) *rows {
	r := &rows{w: bufio.NewWriterSize(w, 1<<15)}
	r.enc = json.NewEncoder(&r.buf)
	r.enc.SetEscapeHTML(true)
	return r
}

func (r *rows) value(x any) []byte {
	r.buf.Reset()
	if err := r.enc.Encode(x); err != nil && r.err == nil {
		r.err = err
	}
	return bytes.TrimSuffix(r.buf.Bytes(), []byte{'\n'})
}

func (r *rows) raw(s string) { r.w.WriteString(s) } // a bufio.Writer keeps its first error for flush

// members writes the members of an object, indented, without its braces, so that more can follow.
func (r *rows) members(x any) {
	var b bytes.Buffer
	if err := json.Indent(&b, r.value(x), "", "  "); err != nil || b.Len() < 4 {
		r.err = cmp.Or(r.err, err, errors.New("an object without members"))
		return
	}
	escaper{r.w}.Write(b.Bytes()[1 : b.Len()-2])
}

func (r *rows) list(n int, row func(i int) any) {
	r.raw("[")
	for i := range n {
		if i > 0 {
			r.raw(",")
		}
		r.raw("\n")
		escaper{r.w}.Write(r.value(row(i)))
	}
	r.raw("]")
}

func (r *rows) flush() error {
	if err := r.w.Flush(); err != nil {
		return err
	}
	return r.err
}

// encode writes indented JSON in which nothing can drive a terminal, a browser or a viewer.
func encode(w io.Writer, x any) error {
	e := json.NewEncoder(escaper{w})
	e.SetEscapeHTML(true)
	e.SetIndent("", "  ")
	return e.Encode(x)
}

// escaper writes what clean takes for hostile as JSON escapes, so that readers of the JSON still get the exact
// text. The encoder hands it whole texts; outside texts JSON is plain ASCII.
type escaper struct{ w io.Writer }

func (e escaper) Write(p []byte) (int, error) {
	done := 0
	for i := 0; i < len(p); {
		if p[i] >= ' ' && p[i] < 0x7f || p[i] == '\n' {
			i++
			continue
		}
		r, size := utf8.DecodeRune(p[i:])
		if !hostile(r) {
			i += size
			continue
		}
		if _, err := e.w.Write(p[done:i]); err != nil {
			return done, err
		}
		s := fmt.Sprintf("\\u%04x", r)
		if hi, lo := utf16.EncodeRune(r); r > 0xffff {
			s = fmt.Sprintf("\\u%04x\\u%04x", hi, lo)
		}
		if _, err := io.WriteString(e.w, s); err != nil {
			return done, err
		}
		i += size
		done = i
	}
	if _, err := e.w.Write(p[done:]); err != nil {
		return done, err
	}
	return len(p), nil
}
