package lint

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"sync"
	"sync/atomic"

	"wetrule/lint/jobfile"
	"wetrule/lint/verdict"
)

// Input is one job file to review.
type Input struct {
	Name string // as shown, with forward slashes
	Data []byte // when it has been read already (standard input)
	// FromFolder marks a file that was found in a folder and not named: it is passed over when it is no job.
	FromFolder bool
}

// Stdin names standard input among the arguments.
const Stdin = "-"

// Collect turns arguments into inputs: files, folders (searched to the bottom for .yaml, .yml and .json, hidden files and folders and
// links inside them left aside) and "-" for standard input. Each file comes once, however its path is written; one inside the working folder is
// called by its path from there, so that reviews of two copies of a tree compare equal. The order depends on the names alone.
func Collect(args []string, stdin io.Reader) ([]Input, error) {
	byName := map[string]Input{}
	for _, arg := range args {
		if _, have := byName[Stdin]; arg == Stdin && have {
			continue // it can be read only once
		}
		if arg == Stdin {
			data, err := io.ReadAll(io.LimitReader(stdin, jobfile.MaxFileBytes+1))
			if err != nil {
				return nil, fmt.Errorf("standard input cannot be read: %w", err)
			}
			byName[Stdin] = Input{Name: "stdin", Data: data}
			continue
		}
		info, err := os.Stat(arg)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", arg, bare(err))
		}
		if !info.IsDir() {
			name := fileName(shown(arg))
			byName[name] = Input{Name: name}
			continue
		}
		// A folder that is named by a link is searched; walking would stop at the link.
		top, err := filepath.EvalSymlinks(arg)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", arg, bare(err))
		}
		folder := shown(arg)
		err = filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
			name, relErr := filepath.Rel(top, path)
			if relErr != nil {
				return relErr
			}
			if name = filepath.ToSlash(name); name == "." {
				name = folder
			} else if folder != "." {
				name = strings.TrimSuffix(folder, "/") + "/" + name
			}
			name = fileName(name)
			switch {
			case err != nil:
				return fmt.Errorf("%s cannot be read: %w", name, bare(err))
			case d.IsDir() && path != top && strings.HasPrefix(d.Name(), "."):
				return fs.SkipDir
			case !d.Type().IsRegular() || strings.HasPrefix(d.Name(), "."):
				return nil
			}
			switch strings.ToLower(filepath.Ext(path)) {
			case ".yaml", ".yml", ".json":
				if byName[name].Name == "" {
					byName[name] = Input{Name: name, FromFolder: true}
				}
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	out := make([]Input, 0, len(byName))
	for _, in := range byName {
		out = append(out, in)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out, nil
}

// fileName keeps a file apart from standard input, for which the bare words stand.
func fileName(name string) string {
	if name == "stdin" || name == Stdin {
		return "./" + name
	}
	return name
}

// shown is a path as reviews show it: from the working folder when it lies inside, else as it was given without needless steps.
// It always leads to the same file.
func shown(path string) string {
	try := []string{filepath.Clean(path)}
	if wd, err := os.Getwd(); err == nil {
		try = append(inside(wd, path), try...)
		if real, err := filepath.EvalSymlinks(wd); err == nil && filepath.IsAbs(path) {
			try = append(inside(real, path), try...) // the working folder may be known by a link
		}
	}
	for _, p := range try {
		if p == path || same(p, path) {
			return filepath.ToSlash(p)
		}
	}
	return filepath.ToSlash(path)
}

// inside is a path seen from a folder, when it lies in it.
func inside(folder, path string) []string {
	if !filepath.IsAbs(path) {
		path = filepath.Join(folder, path)
	}
	if rel, err := filepath.Rel(folder, path); err == nil && filepath.IsLocal(rel) {
		return []string{rel}
	}
	return nil
}

// same says whether two paths lead to one file. Steps up behind a link may lead elsewhere than they seem to.
func same(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

// bare drops the path from a file error; the message names it already.
func bare(err error) error {
	var e *fs.PathError
	if errors.As(err, &e) {
		return e.Err
	}
	return err
}

// Batch is the outcome of reviewing many inputs.
type Batch struct {
	Reviews    []*verdict.Review // in order of name
	PassedOver []string          // files of folders that are no jobs
}

// ReviewAll reviews inputs on all cores. The reviews come in the order of the inputs, whatever
// the number of cores. A file that cannot be read has a review that says so; the others are judged. done, when not nil, is told how many
// are finished.
func (l *Linter) ReviewAll(ctx context.Context, inputs []Input, done func(n int)) (*Batch, error) {
	reviews := make([]*verdict.Review, len(inputs))
	errs := make([]error, len(inputs))
	var next, finished atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), max(len(inputs), 1)) {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(inputs) || ctx.Err() != nil {
					return
				}
				reviews[i], errs[i] = l.reviewInput(ctx, inputs[i])
				n := int(finished.Add(1))
				if done != nil {
					done(n)
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	b := &Batch{}
	for i, r := range reviews {
		switch {
		case errs[i] != nil:
			return nil, fmt.Errorf("%s: %w", inputs[i].Name, errs[i])
		case r == nil:
			b.PassedOver = append(b.PassedOver, inputs[i].Name)
		default:
			b.Reviews = append(b.Reviews, r)
		}
	}
	return b, nil
}

// reviewInput reviews one input; nil stands for a file of a folder that is no job.
func (l *Linter) reviewInput(ctx context.Context, in Input) (r *verdict.Review, err error) {
	defer func() {
		if p := recover(); p != nil {
			// A fault of ours must neither end the batch nor look like conformity.
			r = &verdict.Review{File: in.Name, Books: manifests(l.Books), Problems: jobfile.Problems{{File: in.Name, Message: fmt.Sprintf("the review broke off: %v", p)}}}
			err = nil
		}
	}()
	data := in.Data
	if data == nil {
		if data, err = readFile(filepath.FromSlash(in.Name)); err != nil {
			return l.unread(in.Name, jobfile.Problems{{File: in.Name, Message: "cannot be read: " + bare(err).Error()}})
		}
	}
	root, err := jobfile.Read(in.Name, data)
	if err != nil {
		return l.unread(in.Name, err)
	}
	if in.FromFolder && (root.Kind != jobfile.Map || root.Get("wetrule") == nil && !looksLikeJob(root)) {
		return nil, nil
	}
	f, err := jobfile.FromNode(in.Name, root)
	if err != nil {
		return l.unread(in.Name, err)
	}
	return l.ReviewFile(ctx, f)
}

// readFile reads no more of a file than it takes to see that it is too large: a device may have no end.
func readFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, jobfile.MaxFileBytes+1))
}

// looksLikeJob says whether a file without the key wetrule is a job all the same, so that a
// slip in that one key does not make a job pass unseen.
func looksLikeJob(root *jobfile.Node) bool {
	n := 0
	for _, key := range []string{"reference", "stage", "judged_on", "room", "items", "build_up", "tasks"} {
		if root.Get(key) != nil {
			n++
		}
	}
	return n >= 3
}
