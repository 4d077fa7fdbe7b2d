package report

import (
	"io"

	"wetrule/lint/verdict"
)

func writeLines(w io.Writer, reviews []*verdict.Review, o Options) error {
	for _, r := range reviews {
		line, err := Line(nil, r, o, false)
		if err == nil {
			_, err = w.Write(line)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
