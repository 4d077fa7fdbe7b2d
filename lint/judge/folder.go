package judge

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"wetrule/lint/jobfile"
)

// Folder is a folder in memory: what a sealed rulebook is made from and what it is read into. The names are paths with forward slashes.
type Folder map[string][]byte

// parts are the folders of a rulebook and what the names of their files end in.
var parts = map[string]string{"rules": ".yaml", "rego": ".rego", "examples": ".yaml", "methods": ".yaml"}

// heads are the files of a rulebook beside them.
var heads = []string{"rulebook.yaml", "sources.yaml", "zones.yaml"}

// isPart says whether a file is a part of a rulebook.
func isPart(name string) bool {
	dir, base := path.Split(name)
	if dir == "" {
		return slices.Contains(heads, base)
	}
	ext, ok := parts[strings.TrimSuffix(dir, "/")]
	return ok && path.Ext(base) == ext && base != ext
}

// Snapshot reads the files of a rulebook, each within MaxSealedFile. It leaves out files that are no part of a rulebook and names those that
// are not hidden.
func Snapshot(fsys fs.FS) (files Folder, leftOut []string, err error) {
	files = Folder{}
	total := 0
	for _, dir := range []string{".", "examples", "methods", "rego", "rules"} {
		entries, err := fs.ReadDir(fsys, dir)
		if errors.Is(err, fs.ErrNotExist) && dir != "." {
			continue
		}
		if err != nil {
			return nil, nil, fmt.Errorf("%s cannot be read: %w", dir, jobfile.Bare(err))
		}
		for _, e := range entries {
			name := path.Join(dir, e.Name())
			if !isPart(name) {
				if _, known := parts[name]; !known && !strings.HasPrefix(e.Name(), ".") {
					leftOut = append(leftOut, name)
				}
				continue
			}
			data, err := readBounded(fsys, name)
			if err != nil {
				return nil, nil, err
			}
			files[name] = data
			if total += len(data); total > maxUnpacked {
				return nil, nil, fmt.Errorf("the files are larger together than %s", size(maxUnpacked))
			}
		}
	}
	slices.Sort(leftOut)
	return files, leftOut, nil
}

func readBounded(fsys fs.FS, name string) ([]byte, error) {
	info, err := fs.Stat(fsys, name)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s cannot be read: %w", name, jobfile.Bare(err))
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is no regular file", name)
	}
	f, err := fsys.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", name, jobfile.Bare(err))
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxSealedFile+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s cannot be read: %w", name, jobfile.Bare(err))
	case len(data) > MaxSealedFile:
		return nil, fmt.Errorf("%s is larger than %s", name, size(MaxSealedFile))
	}
	return data, nil
}

func size(bytes int) string { return fmt.Sprintf("%d MiB", bytes>>20) }

// names lists the names in order.
func (f Folder) names() []string {
	out := make([]string, 0, len(f))
	for n := range f {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}

// Under is the folder below a name.
func (f Folder) Under(dir string) Folder {
	out := Folder{}
	for n, data := range f {
		if rest, ok := strings.CutPrefix(n, dir+"/"); ok {
			out[rest] = data
		}
	}
	return out
}

// Open opens a file or a folder (fs.FS).
func (f Folder) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	if data, ok := f[name]; ok {
		return &openFile{Reader: bytes.NewReader(data), info: entry{path.Base(name), int64(len(data)), false}}, nil
	}
	entries, err := f.ReadDir(name)
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &openDir{name: name, entries: entries}, nil
}

// ReadDir lists a folder (fs.ReadDirFS).
func (f Folder) ReadDir(name string) ([]fs.DirEntry, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrInvalid}
	}
	prefix := name + "/"
	if name == "." {
		prefix = ""
	}
	seen := map[string]bool{}
	var out []fs.DirEntry
	for _, n := range f.names() {
		rest, ok := strings.CutPrefix(n, prefix)
		if !ok {
			continue
		}
		first, _, deeper := strings.Cut(rest, "/")
		if seen[first] {
			continue
		}
		seen[first] = true
		e := entry{name: first, dir: deeper}
		if !deeper {
			e.size = int64(len(f[n]))
		}
		out = append(out, e)
	}
	if len(out) == 0 && name != "." {
		return nil, &fs.PathError{Op: "readdir", Path: name, Err: fs.ErrNotExist}
	}
	slices.SortFunc(out, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return out, nil
}

// entry describes one file or folder (fs.FileInfo, fs.DirEntry).
type entry struct {
	name string
	size int64
	dir  bool
}

func (e entry) Name() string               { return e.name }
func (e entry) Size() int64                { return e.size }
func (e entry) ModTime() time.Time         { return time.Time{} }
func (e entry) IsDir() bool                { return e.dir }
func (e entry) Sys() any                   { return nil }
func (e entry) Type() fs.FileMode          { return e.Mode().Type() }
func (e entry) Info() (fs.FileInfo, error) { return e, nil }

func (e entry) Mode() fs.FileMode {
	if e.dir {
		return fs.ModeDir | 0o555
	}
	return 0o444
}

type openFile struct {
	*bytes.Reader
	info entry
}

func (f *openFile) Stat() (fs.FileInfo, error) { return f.info, nil }
func (f *openFile) Close() error               { return nil }

type openDir struct {
	name    string
	entries []fs.DirEntry
}

func (d *openDir) Stat() (fs.FileInfo, error) {
	return entry{name: path.Base(d.name), dir: true}, nil
}
func (d *openDir) Close() error { return nil }

func (d *openDir) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: d.name, Err: errors.New("is a directory")}
}

func (d *openDir) ReadDir(n int) ([]fs.DirEntry, error) {
	if n <= 0 {
		out := d.entries
		d.entries = nil
		return out, nil
	}
	if len(d.entries) == 0 {
		return nil, io.EOF
	}
	n = min(n, len(d.entries))
	out := d.entries[:n]
	d.entries = d.entries[n:]
	return out, nil
}
