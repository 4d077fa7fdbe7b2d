package rulebook

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"sort"

	"wetrule/lint/jobfile"
)

// Bounds of a rulebook, beside those of each file in it (package jobfile). They bound what a rulebook of strangers costs to read.
const (
	MaxFiles    = 500       // files in one of its folders
	MaxRegoFile = 256 << 10 // bytes of a file of Rego
	MaxRules    = 5000      // rules, the two of each row of the sequence among them
)

// list names the files of a folder that end in an extension, in order.
func (b *Rulebook) list(folder, ext string) ([]string, error) {
	names, err := fs.Glob(b.fsys, folder+"/*"+ext)
	if err != nil {
		return nil, err
	}
	if len(names) > MaxFiles {
		return nil, jobfile.Problems{{File: path.Join(b.label, folder), Message: fmt.Sprintf("the folder holds %d files; at most %d are allowed", len(names), MaxFiles)}}
	}
	sort.Strings(names)
	return names, nil
}

// read reads a regular file, and no more of it than it takes to see that it is too large: a device or a pipe may have no end. A link that leads out of the
// folder cannot be opened.
func (b *Rulebook) read(name string, most int64) ([]byte, error) {
	info, err := fs.Stat(b.fsys, name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is no regular file")
	}
	f, err := b.fsys.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data := bytes.NewBuffer(make([]byte, 0, min(info.Size(), most)+bytes.MinRead))
	_, err = data.ReadFrom(io.LimitReader(f, most+1))
	return data.Bytes(), err
}
