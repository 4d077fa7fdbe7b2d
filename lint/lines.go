package lint

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"

	"wetrule/lint/jobfile"
)

// Lines reads jobs from files that hold one in JSON on each line, and from standard input for "-", in the order given, each
// when it is asked for. Lines with nothing on them are passed over. What cannot be read becomes an input that says so; an argument
// that is no file at all is an error at once.
func Lines(args []string, stdin io.Reader) (iter.Seq[Input], error) {
	for _, arg := range args {
		if arg == Stdin {
			continue
		}
		switch info, err := os.Stat(arg); {
		case err != nil:
			return nil, fmt.Errorf("%s cannot be read: %w", arg, jobfile.Bare(err))
		case info.IsDir():
			return nil, fmt.Errorf("%s is a folder; expected a file with a job on each line", arg)
		}
	}
	return func(yield func(Input) bool) {
		for _, arg := range args {
			if arg == Stdin {
				if !lines("stdin", stdin, yield) {
					return
				}
				continue
			}
			name := fileName(shown(arg))
			f, err := os.Open(arg)
			if err != nil {
				if !yield(Input{Name: name, Err: fmt.Errorf("cannot be read: %w", jobfile.Bare(err))}) {
					return
				}
				continue
			}
			more := lines(name, f, yield)
			f.Close()
			if !more {
				return
			}
		}
	}, nil
}

// lines yields the lines of one file. Of one that is longer than a file may be, no more is kept than shows that.
func lines(name string, r io.Reader, yield func(Input) bool) bool {
	in := bufio.NewReaderSize(r, 1<<16)
	usual := 0 // about how long lines are
	for n := 1; ; n++ {
		line := make([]byte, 0, usual)
		for {
			part, err := in.ReadSlice('\n')
			const most = jobfile.MaxFileBytes + 2 // with CR and LF, or more than a line may have
			line = append(line, part[:min(len(part), most-len(line))]...)
			if err == nil {
				break
			}
			if errors.Is(err, bufio.ErrBufferFull) {
				continue
			}
			if errors.Is(err, io.EOF) {
				line = ended(line)
				return len(bytes.TrimSpace(line)) == 0 || yield(Input{Name: name, Line: n, Data: line})
			}
			return yield(Input{Name: name, Line: n, Err: fmt.Errorf("cannot be read any further: %w", jobfile.Bare(err))})
		}
		usual = max(usual, min(len(line)+len(line)/8, 1<<16))
		if line = ended(line); len(bytes.TrimSpace(line)) > 0 && !yield(Input{Name: name, Line: n, Data: line}) {
			return false
		}
	}
}

// ended takes the line break off.
func ended(line []byte) []byte {
	return bytes.TrimSuffix(bytes.TrimSuffix(line, []byte("\n")), []byte("\r"))
}
