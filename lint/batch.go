package lint

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"

	"wetrule/lint/jobfile"
	"wetrule/lint/verdict"
)

// Input is one job to review.
type Input struct {
	Name string // of the file as shown, with forward slashes
	Data []byte // when it has been read already (standard input)
	Line int    // of the file that holds this job and others, one a line; 0 for a file of its own
	Err  error  // why it cannot be read, when that is known already
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
			return nil, fmt.Errorf("%s cannot be read: %w", arg, jobfile.Bare(err))
		}
		if !info.IsDir() {
			name := fileName(shown(arg))
			byName[name] = Input{Name: name}
			continue
		}
		// A folder that is named by a link is searched; walking would stop at the link.
		top, err := filepath.EvalSymlinks(arg)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", arg, jobfile.Bare(err))
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
			case err != nil && path == top:
				return fmt.Errorf("%s cannot be read: %w", name, jobfile.Bare(err))
			case err != nil:
				// What lies in this folder is not judged, and must not be taken for judged; the others are.
				byName[name] = Input{Name: name, Err: fmt.Errorf("cannot be read: %w", jobfile.Bare(err))}
				return fs.SkipDir
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

// Batch is the outcome of reviewing many inputs.
type Batch struct {
	Reviews    []*verdict.Review // in order of name
	PassedOver []string          // files of folders that are no jobs
}

// ReviewAll reviews inputs on all cores. The reviews come in the order of the inputs, whatever
// the number of cores. A file that cannot be read has a review that says so; the others are judged. done, when not nil, is told how many
// are finished. All reviews are held; Each holds those that are in work.
func (l *Linter) ReviewAll(ctx context.Context, inputs []Input, done func(n int)) (*Batch, error) {
	b, n := &Batch{}, 0
	err := Each(ctx, l, slices.Values(inputs), Shard{}, func(r Result) (Result, error) { return r, nil }, func(r Result) error {
		if r.Review == nil {
			b.PassedOver = append(b.PassedOver, r.Name)
		} else {
			b.Reviews = append(b.Reviews, r.Review)
		}
		if n++; done != nil {
			done(n)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return b, nil
}

// Result is what became of one input.
type Result struct {
	Name      string
	Review    *verdict.Review // nil for what is no job, and for what belongs to another shard
	Elsewhere bool            // it belongs to another shard
	memory    *Memory         // that the review is in
}

// Release gives up the review, so that the next one can be made in its memory. It may be called once all that is wanted of the review has been
// written elsewhere, by the work that Each does of a result: nothing of it may be looked at any more.
func (r *Result) Release() {
	if r.memory != nil {
		r.memory.Release()
	}
	r.Review, r.memory = nil, nil
}

// ahead is how many inputs a core may be ahead of the oldest that is not finished. It bounds what is held, and keeps the
// cores at work while one job takes long.
const ahead = 16

// Each reviews inputs as they come, on all cores, and holds no more than a few of them at a time. work is called for each result,
// for several at once, and makes of it what is to be kept (see Result.Release); done is given that in the order of the inputs, one at a time. Inputs that
// belong to another shard come too, so that all can be counted. The first error of either ends the batch.
func Each[T any](ctx context.Context, l *Linter, inputs iter.Seq[Input], shard Shard, work func(Result) (T, error), done func(T) error) error {
	type slot struct {
		in    Input
		out   T
		err   error
		ready chan struct{}
	}
	workers := runtime.GOMAXPROCS(0)
	outer := ctx
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	// What is held is bounded by order. There is as much room in todo, so that a core that is done finds the next input there.
	todo, order := make(chan *slot, ahead*workers), make(chan *slot, ahead*workers)
	go func() { // not waited for: it may be reading from somebody who has stopped writing
		defer close(todo)
		defer close(order)
		for in := range inputs {
			s := &slot{in: in, ready: make(chan struct{})}
			for _, next := range [...]chan *slot{order, todo} {
				select {
				case next <- s:
				case <-ctx.Done():
					return
				}
			}
		}
	}()
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	for range workers {
		wg.Go(func() {
			m := &Memory{}
			for {
				select {
				case s, more := <-todo:
					if !more {
						return
					}
					var r Result
					if m.taken {
						m = &Memory{} // the review before is still in use
					}
					if r, s.err = l.reviewInput(ctx, m, s.in, shard); s.err == nil {
						s.out, s.err = work(r)
					} else {
						s.err = fmt.Errorf("%s: %w", s.in.Name, s.err)
					}
					s.in = Input{} // its bytes are not needed while it waits for its turn
					close(s.ready)
				case <-ctx.Done():
					return
				}
			}
		})
	}
	for {
		select {
		case s, more := <-order:
			if !more {
				return outer.Err()
			}
			select {
			case <-s.ready:
			case <-ctx.Done():
				return ctx.Err()
			}
			if s.err != nil {
				return s.err
			}
			if err := done(s.out); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// reviewInput reviews one input.
func (l *Linter) reviewInput(ctx context.Context, m *Memory, in Input, shard Shard) (result Result, err error) {
	result.Name, result.memory = in.Name, m
	broken := func(message string) {
		result.Review = &verdict.Review{File: in.Name, Line: in.Line, Books: manifests(l.Books), Problems: jobfile.Problems{{File: in.Name, Line: in.Line, Message: message}}}
		err = nil
	}
	defer func() {
		if p := recover(); p != nil {
			// A fault of ours must neither end the batch nor look like conformity.
			broken(fmt.Sprintf("the review broke off: %v", p))
			m.taken, result.memory = true, nil // nobody knows what is still at work in it
		}
	}()
	data, err := in.Bytes()
	if err != nil {
		broken(err.Error()) // in every shard, since nobody knows in which it belongs
		return result, nil
	}
	if !shard.Holds(data) {
		result.Elsewhere = true
		return result, nil
	}
	var root *jobfile.Node
	if in.Line > 0 {
		root, err = m.read.ReadLine(in.Name, in.Line, data)
	} else {
		root, err = m.read.Read(in.Name, data)
	}
	if err == nil {
		if in.FromFolder && (root.Kind != jobfile.Map || root.Get("wetrule") == nil && !looksLikeJob(root)) {
			m.read.Release()
			return result, nil
		}
		var f *jobfile.File
		if f, err = m.read.FromNode(in.Name, root); err == nil {
			if result.Review, err = l.reviewIn(ctx, m, f); result.Review != nil {
				result.Review.Line = in.Line
			}
			return result, err
		}
	}
	if result.Review, err = l.unread(in.Name, err); err == nil {
		result.Review.Line = in.Line
	}
	return result, err
}

// Bytes are those that came with the input, or else those of its file.
func (in *Input) Bytes() ([]byte, error) {
	if in.Err != nil || in.Data != nil {
		return in.Data, in.Err
	}
	data, err := readFile(filepath.FromSlash(in.Name))
	if err != nil {
		return nil, fmt.Errorf("cannot be read: %w", err)
	}
	return data, nil
}

// readFile reads no more of a file than it takes to see that it is too large: a device may have no end.
func readFile(name string) ([]byte, error) {
	open := func() (fs.File, error) { return os.Open(name) }
	data, whole, err := readOnce(open)
	if err == nil && !whole {
		data, whole, err = readOnce(open) // whoever writes it may be done by now
	}
	switch {
	case err != nil:
		return nil, jobfile.Bare(err)
	case !whole:
		return nil, errors.New("it is being written at the same time; review it once that is done")
	}
	return data, nil
}

// readOnce reads a file and says whether it stayed the same meanwhile. Half of an old job and half of a new one may be a job that
// nobody has written.
func readOnce(open func() (fs.File, error)) (data []byte, whole bool, err error) {
	f, err := open()
	if err != nil {
		return nil, false, err
	}
	defer f.Close()
	before, err := f.Stat()
	if err != nil {
		return nil, false, err
	}
	size := int64(0)
	if before.Mode().IsRegular() {
		size = min(before.Size(), jobfile.MaxFileBytes)
	}
	b := bytes.NewBuffer(make([]byte, 0, size+bytes.MinRead))
	if _, err := b.ReadFrom(io.LimitReader(f, jobfile.MaxFileBytes+1)); err != nil {
		return nil, false, err
	}
	if !before.Mode().IsRegular() {
		return b.Bytes(), true, nil
	}
	after, err := f.Stat()
	if err != nil {
		return nil, false, err
	}
	same := before.Size() == after.Size() && before.ModTime().Equal(after.ModTime())
	if after.Size() > 0 { // some file systems say 0 of files that are made as they are read
		same = same && int64(b.Len()) == min(after.Size(), jobfile.MaxFileBytes+1)
	}
	return b.Bytes(), same, nil
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
