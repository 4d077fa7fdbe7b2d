package workpack

import (
	"encoding/csv"
	"io"
	"strings"
	"unicode/utf8"
)

// ToolsCSV writes the list of tools; see MaterialsCSV.
func (p *Pack) ToolsCSV(w io.Writer) error { return writeCSV(w, p.tools) }

// MaterialsCSV writes the list of materials as comma-separated values for spreadsheets: UTF-8 with its mark, lines that end in CR LF, and no
// cell that a spreadsheet takes for a formula.
//
// Source: RFC 4180 (from memory).
func (p *Pack) MaterialsCSV(w io.Writer) error { return writeCSV(w, p.materials) }

func writeCSV(w io.Writer, rows [][]string) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	for _, r := range rows {
		safe := make([]string, len(r))
		for i, s := range r {
			safe[i] = plain(s)
		}
		if err := c.Write(safe); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// plain keeps a spreadsheet from taking a cell for a formula: what begins like one gets an apostrophe, which spreadsheets show as text. Line
// breaks and other control characters within a cell become blanks, so that no cell can begin a line of its own.
func plain(s string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	dangerous := false
	if r, _ := utf8.DecodeRuneInString(s); strings.ContainsRune("=+-@\t\r\n＝＋－＠", r) && s != "" {
		dangerous = true
	}
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, s)
	// Spreadsheets pass over blanks before a formula.
	if t := strings.TrimLeft(s, " \u00a0"); t != s && t != "" && strings.ContainsRune("=+-@＝＋－＠", []rune(t)[0]) {
		dangerous = true
	}
	if dangerous {
		return "'" + s
	}
	return s
}
