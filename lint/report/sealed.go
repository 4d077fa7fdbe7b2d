package report

import (
	"bufio"
	"fmt"
	"io"

	"wetrule/lint/rulebook"
)

// Sealed says what a sealed rulebook is.
func Sealed(out io.Writer, format string, s *rulebook.Sealed) error {
	switch format {
	case "json":
		return encode(out, s)
	case "text":
	default:
		return noFormat(format)
	}
	w := bufio.NewWriter(out)
	b := block{w, 4, 11}
	paragraph(w, 0, clean(s.Name+": "+s.Title))
	b.line("edition", clean(s.Edition))
	b.line("layer", clean(s.Layer))
	b.line("country", clean(s.Country))
	b.line("revision", s.Revision)
	b.line("signature", signature(s.Signed))
	edition := "in the latest edition"
	if s.On != "" {
		edition = "in the edition of " + clean(s.On)
	}
	b.line("data", count(s.Rules, "rule", "rules")+" "+edition)
	for i, l := range s.Layers {
		word := ""
		if i == 0 {
			word = "layers"
		}
		b.line(word, clean(l.Rulebook+" "+l.Edition))
	}
	fmt.Fprintf(w, "    %s (bytes, start of the SHA-256, name)\n", count(len(s.Files), "file", "files"))
	for _, f := range s.Files {
		fmt.Fprintf(w, "        %8d  %.16s  %s\n", f.Bytes, f.SHA256, clean(f.Name))
	}
	return w.Flush()
}

func signature(s rulebook.Signature) string {
	by := fmt.Sprintf("%s, key id %s", s.Algorithm, clean(s.KeyID))
	switch s.State {
	case rulebook.Unsigned:
		return "none"
	case rulebook.Verified:
		return fmt.Sprintf("verified with %s (%s)", clean(s.By), by)
	}
	return fmt.Sprintf("there is one (%s), not verified: name a key with --trust", by)
}
