package lint

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/verdict"
)

// Photos holds the photographs on record against the files of a folder. A name on record is only ever looked for in that folder: a name with a
// separator, or one that leads out of the folder through a link, names no file there.
func Photos(f *jobfile.File, folder string) ([]*verdict.Photo, error) {
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	var out []*verdict.Photo
	for i := range f.Job.Records {
		r := &f.Job.Records[i]
		if r.Record != "photo" {
			continue
		}
		p := &verdict.Photo{Name: r.Name, Line: int(r.Pos.Line), Col: int(r.Pos.Col), Record: r.SHA256, Pointer: fmt.Sprintf("/records/%d/sha256", i)}
		p.File, err = hashIn(root, r.Name)
		switch {
		case err != nil:
			p.State, p.Why = verdict.PhotoAbsent, jobfile.Bare(err).Error()
		case p.Record == "":
			p.State = verdict.PhotoNew
		case p.Record == p.File:
			p.State = verdict.PhotoSame
		default:
			p.State = verdict.PhotoDiffers
		}
		out = append(out, p)
	}
	return out, nil
}

func hashIn(root *os.Root, name string) (string, error) {
	if name != filepath.Base(name) || strings.ContainsAny(name, `/\`) {
		return "", errors.New("a photograph is named without folders")
	}
	f, err := root.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil {
		return "", err
	} else if !info.Mode().IsRegular() {
		return "", &fs.PathError{Op: "open", Path: name, Err: errors.New("not a file")}
	}
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// NotePhotos writes the SHA-256 of photographs that have none on record yet into the text of a job. Those on record are left as they are.
func NotePhotos(name string, data []byte, photos []*verdict.Photo) ([]byte, error) {
	var edits []jobfile.Edit
	for _, p := range photos {
		if p.State == verdict.PhotoNew {
			edits = append(edits, jobfile.Edit{Pointer: p.Pointer, Value: jobfile.NewText(p.File)})
		}
	}
	if len(edits) == 0 {
		return data, nil
	}
	return jobfile.Rewrite(name, data, edits)
}
