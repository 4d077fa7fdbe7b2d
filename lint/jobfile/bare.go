package jobfile

import (
	"errors"
	"io/fs"
	"os"
)

// Bare is an error of the file system without the path, for messages that name the file already.
func Bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}
