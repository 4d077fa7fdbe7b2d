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

// Collect turns arguments into inputs: files, folders (searched to the bottom for .yaml, .yml and .json, hidden folders and
// links left aside) and "-" for standard input. The order depends on the names alone.
func Collect(args []string, stdin io.Reader) ([]Input, error) {
	byName := map[string]Input{}
	for _, arg := range args {
		if arg == Stdin {
			data, err := io.ReadAll(io.LimitReader(stdin, jobfile.MaxFileBytes+1))
			if err != nil {
				return nil, fmt.Errorf("standard input cannot be read: %w", err)
			}
			byName["stdin"] = Input{Name: "stdin", Data: data}
			continue
		}
		info, err := os.Stat(arg)
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", arg, bare(err))
		}
		if !info.IsDir() {
			name := shown(arg)
			byName[name] = Input{Name: name}
			continue
		}
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return fmt.Errorf("%s cannot be read: %w", path, bare(err))
			case d.IsDir() && path != arg && strings.HasPrefix(d.Name(), "."):
				return fs.SkipDir
			case !d.Type().IsRegular() || strings.HasPrefix(d.Name(), "."):
				return nil
			}
			switch strings.ToLower(filepath.Ext(path)) {
			case ".yaml", ".yml", ".json":
				if name := shown(path); byName[name].Name == "" {
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

func shown(path string) string { return filepath.ToSlash(filepath.Clean(path)) }

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
		if data, err = os.ReadFile(filepath.FromSlash(in.Name)); err != nil {
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
