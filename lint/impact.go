package lint

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/report"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// Side is one of the two sets of rulebooks that a comparison holds against each other.
type Side struct {
	// Rulebooks are names of rulebooks that come with wetrule, or folders, beside those that both sides share.
	Rulebooks []string
	// Revision, when given, is the git revision at which every folder of this side is read, the shared ones too.
	Revision string
}

// Change says what to compare.
type Change struct {
	// Options are for both sides: what they share of the rulebooks, the stage, the date, the leaves. Only and
	// Without narrow what is told: a word need be known to one side only.
	Options
	Before, After Side
	// Judged says from when on a job fails.
	Judged report.Options
}

// opened are the rulebooks of a side.
type opened struct {
	books   []*rulebook.Rulebook
	origins map[string]verdict.Origin // by name of the rulebook
}

func openSide(ctx context.Context, shared []string, s Side) (*opened, error) {
	o := &opened{origins: map[string]verdict.Origin{}}
	seen := map[string]bool{}
	folders := 0
	for _, name := range append(slices.Clone(shared), s.Rulebooks...) {
		key := name
		_, shipped := policies.Book(name)
		if !shipped {
			key = "./" + shown(name)
			folders++
		}
		if seen[key] || name == "core" {
			continue
		}
		seen[key] = true
		var b *rulebook.Rulebook
		var err error
		from := verdict.Origin{}
		switch {
		case shipped:
			b, err = OpenRulebook(name)
		case s.Revision != "":
			var r *Revision
			b, r, err = OpenRevision(ctx, name, s.Revision)
			if r != nil {
				from.Folder, from.Revision, from.Commit = shown(name), s.Revision, r.Commit
			}
		default:
			b, err = OpenRulebook(name)
			from.Folder = shown(name)
		}
		if err != nil {
			return nil, err
		}
		from.Manifest = b.Manifest
		o.books = append(o.books, b)
		o.origins[b.Name] = from
	}
	if s.Revision != "" && folders == 0 {
		return nil, fmt.Errorf("the revision %s is for a rulebook in a folder, and none is given", s.Revision)
	}
	return o, nil
}

// Impact reviews jobs with the rulebooks of two sides and says what changes. Core, and the rulebook of the country of each job, lie below
// both. A side without rulebooks of its own takes those of the other when it has a revision or the other has; two sides that are the same are an error.
// done, when not nil, is told how many of twice the inputs are finished.
func Impact(ctx context.Context, c Change, inputs []Input, done func(n int)) (*verdict.Impact, error) {
	if len(c.Before.Rulebooks) == 0 && c.Before.Revision+c.After.Revision != "" {
		c.Before.Rulebooks = c.After.Rulebooks
	}
	if len(c.After.Rulebooks) == 0 && c.Before.Revision+c.After.Revision != "" {
		c.After.Rulebooks = c.Before.Rulebooks
	}
	if c.Before.Revision == c.After.Revision && slices.Equal(c.Before.Rulebooks, c.After.Rulebooks) {
		return nil, errors.New("both sides are the same: say what is before and what is after")
	}
	x := &verdict.Impact{}
	var linters [2]*Linter
	for i, side := range []Side{c.Before, c.After} {
		o, err := openSide(ctx, c.Rulebooks, side)
		if err != nil {
			return nil, err
		}
		options := c.Options
		options.Rulebooks, options.Books, options.Only, options.Without = nil, o.books, nil, nil
		if linters[i], err = New(options); err != nil {
			return nil, err
		}
		for _, b := range linters[i].Books {
			from, ok := o.origins[b.Name]
			if !ok {
				from.Manifest = b.Manifest
			}
			x.Books[i] = append(x.Books[i], from)
		}
	}
	chosen, err := chooser(c.Only, c.Without, linters)
	if err != nil {
		return nil, err
	}
	type key [2]edition
	pairs := map[key]*verdict.Pair{}
	pairOf := func(k key) *verdict.Pair {
		if pairs[k] == nil {
			pairs[k] = x.Pair(k[0].rules(), k[1].rules(), regoOf(k[0].layers), regoOf(k[1].layers), chosen)
		}
		return pairs[k]
	}
	// What comes into force later changes no job of today and is told all the same.
	var latest key
	for i, l := range linters {
		day := c.On
		if day == "" {
			day = Latest
		}
		layers, err := l.lay(nil)
		if err != nil {
			return nil, err
		}
		latest[i] = edition{layers, layers.Edition(day)}
	}
	pairOf(latest)

	// Few jobs at a time, so that the reviews of jobs that do not change need not be kept.
	const few = 64
	for start := 0; start < len(inputs); start += few {
		some := slices.Clone(inputs[start:min(start+few, len(inputs))])
		for i := range some {
			if some[i].Data == nil { // both sides judge the same bytes; what can't be read is said by the review
				if data, err := readFile(filepath.FromSlash(some[i].Name)); err == nil {
					some[i].Data = data
				}
			}
		}
		var sides [2]*Batch
		for i, l := range linters {
			tell := done
			if done != nil {
				tell = func(n int) { done(2*start + i*len(some) + n) }
			}
			if sides[i], err = l.ReviewAll(ctx, some, tell); err != nil {
				return nil, err
			}
		}
		if len(sides[0].Reviews) != len(sides[1].Reviews) {
			return nil, errors.New("the job files changed while they were reviewed")
		}
		x.PassedOver = append(x.PassedOver, sides[0].PassedOver...)
		for i, before := range sides[0].Reviews {
			after := sides[1].Reviews[i]
			if before.File != after.File {
				return nil, errors.New("the job files changed while they were reviewed")
			}
			var pair *verdict.Pair
			if len(before.Problems)+len(after.Problems) == 0 {
				var k key
				for side, r := range []*verdict.Review{before, after} {
					if k[side], err = linters[side].editionFor(r); err != nil {
						return nil, err
					}
				}
				pair = pairOf(k)
			}
			one := func(r *verdict.Review) int { return c.Judged.Status([]*verdict.Review{r}) }
			x.Add(before, after, pair, [2]int{one(before), one(after)})
		}
	}
	x.Finish()
	return x, nil
}

// ImpactStatus is the exit status of a comparison: 0 no job changes, 1 some job changes, 2 something could not be judged.
func ImpactStatus(x *verdict.Impact) int {
	changed, unjudged := x.Changed()
	switch {
	case unjudged > 0 || len(x.Jobs) == 0:
		return report.StatusUnjudged
	case changed > 0:
		return report.StatusFindings
	}
	return report.StatusClean
}

// edition is an edition of laid rulebooks.
type edition struct {
	layers *rulebook.Layers
	day    string
}

func (e edition) rules() []*rulebook.Rule { return e.layers.At(e.day) }

// editionFor returns the edition by which a job was judged.
func (l *Linter) editionFor(r *verdict.Review) (edition, error) {
	names := l.applied(&jobfile.File{Name: r.File, Root: r.Root, Job: r.Job}, &verdict.Review{})
	layers, err := l.lay(names)
	if err != nil {
		return edition{}, err
	}
	return edition{layers, layers.Edition(r.On)}, nil
}

// regoOf marks the Rego of each rulebook.
func regoOf(l *rulebook.Layers) verdict.Rego {
	out := verdict.Rego{}
	for _, b := range l.Books {
		h := sha256.New()
		for _, m := range b.Modules {
			// The folder does not count: the two sides may lie in different ones.
			fmt.Fprintf(h, "%s\x00%d\x00%s", path.Base(m.File), len(m.Text), m.Text)
		}
		out[b.Name] = hex.EncodeToString(h.Sum(nil)[:6])
	}
	return out
}

// chooser narrows what is told by rule id, alias or subject. Every word must name something on one of the sides.
func chooser(only, without []string, linters [2]*Linter) (func(*rulebook.Rule) bool, error) {
	named := func(r *rulebook.Rule, list []string) bool {
		return slices.ContainsFunc(list, func(word string) bool { return isCalled(r, word) || strings.EqualFold(word, r.Subject) })
	}
	// Regional rulebooks lie below jobs of their country, so their words are known too.
	var all []*rulebook.Rule
	for _, l := range linters {
		for _, b := range l.Books {
			all = append(all, b.Rules...)
		}
	}
	list := append(slices.Clone(only), without...)
	if len(list) > 0 {
		for _, name := range policies.Books() {
			b, err := OpenRulebook(name)
			if err != nil {
				return nil, err
			}
			all = append(all, b.Rules...)
		}
	}
	for _, word := range list {
		if !slices.ContainsFunc(all, func(r *rulebook.Rule) bool { return named(r, []string{word}) }) {
			return nil, fmt.Errorf("there is no rule or subject %q%s", word, suggestion(word, words(all)))
		}
	}
	return func(r *rulebook.Rule) bool { return (len(only) == 0 || named(r, only)) && !named(r, without) }, nil
}
