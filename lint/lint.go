// Package lint reviews job files: the fit-out of steam rooms and wet rooms in
// foam panels, judged by rulebooks.
//
// A Linter is prepared once and may review any number of jobs, from any number
// of goroutines. Nothing is judged by the clock: the date of judgement comes with the job or with the options.
package lint

import (
	"context"
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"
	"time"

	"wetrule/lint/jobfile"
	"wetrule/lint/judge"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// Options say by what and how jobs are reviewed.
type Options struct {
	// Rulebooks are names of rulebooks that come with wetrule, or folders. The
	// rulebook core is always there.
	Rulebooks []string
	// Only and Without narrow the review by rule id or subject.
	Only, Without []string
	// Stage and On, when given, stand in place of what the jobs say.
	Stage, On string
}

// Linter reviews jobs.
type Linter struct {
	Books  []*rulebook.Rulebook
	engine *judge.Engine
	stage  *rulebook.Stage
	on     string
}

// OpenRulebook opens a rulebook that comes with wetrule, by name, or one in a folder.
func OpenRulebook(name string) (*rulebook.Rulebook, error) {
	if fsys, ok := policies.Book(name); ok {
		return rulebook.Open(fsys, "policies/"+name)
	}
	info, err := os.Stat(name)
	switch {
	case err != nil && !strings.ContainsAny(name, `/\.`):
		return nil, fmt.Errorf("there is no rulebook %q%s", name, suggestion(name, policies.Books()))
	case err != nil:
		return nil, fmt.Errorf("rulebook %s cannot be read: %w", name, err)
	case !info.IsDir():
		return nil, fmt.Errorf("rulebook %s is not a folder", name)
	}
	return rulebook.Open(os.DirFS(name), strings.TrimSuffix(name, "/"))
}

// OpenRulebooks opens the rulebook core and those named, each once. An id that two
// rulebooks use is an error.
func OpenRulebooks(names []string) ([]*rulebook.Rulebook, error) {
	var books []*rulebook.Rulebook
	owner := map[string]string{}
	opened := map[string]bool{}
	for _, n := range append([]string{"core"}, names...) {
		if opened[n] {
			continue
		}
		opened[n] = true
		b, err := OpenRulebook(n)
		if err != nil {
			return nil, err
		}
		for _, r := range b.Rules {
			for _, id := range append([]string{r.ID}, r.Aliases...) {
				if other, taken := owner[id]; taken {
					return nil, fmt.Errorf("rule %q is in the rulebook %s and in the rulebook %s", id, other, b.Name)
				}
				owner[id] = b.Name
			}
		}
		books = append(books, b)
	}
	return books, nil
}

func suggestion(word string, known []string) string {
	if s := jobfile.Suggest(word, known); s != "" {
		return fmt.Sprintf("; did you mean %q?", s)
	}
	if len(known) <= 12 {
		return "; known: " + strings.Join(known, ", ")
	}
	return ""
}

// New prepares a linter. The error says what is wrong with the options or the rulebooks.
func New(o Options) (*Linter, error) {
	l := &Linter{on: o.On}
	if o.Stage != "" {
		s, ok := rulebook.ParseStage(o.Stage)
		if !ok {
			return nil, fmt.Errorf("there is no stage %q%s", o.Stage, suggestion(o.Stage, rulebook.Stages()))
		}
		l.stage = &s
	}
	if o.On != "" && !isDate(o.On) {
		return nil, fmt.Errorf("%q is not a date (YYYY-MM-DD)", o.On)
	}
	books, err := OpenRulebooks(o.Rulebooks)
	if err != nil {
		return nil, err
	}
	l.Books = books
	var rules []*rulebook.Rule
	var modules []rulebook.Module
	for _, b := range books {
		rules = append(rules, b.Rules...)
		modules = append(modules, b.Modules...)
	}
	rules, err = choose(rules, o.Only, o.Without)
	if err != nil {
		return nil, err
	}
	file, text := policies.Engine()
	l.engine, err = judge.New(file, text, rules, modules, judge.Options{})
	return l, err
}

func isDate(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

// Rules returns the rules that are judged, in order of id.
func (l *Linter) Rules() []*rulebook.Rule { return l.engine.Rules }

// choose narrows rules by id, alias or subject. A word that names nothing is an error.
func choose(rules []*rulebook.Rule, only, without []string) ([]*rulebook.Rule, error) {
	if len(only) == 0 && len(without) == 0 {
		return rules, nil
	}
	names := func(r *rulebook.Rule, word string) bool {
		return strings.EqualFold(word, r.ID) || strings.EqualFold(word, r.Subject) || slices.Contains(r.Aliases, word)
	}
	for _, word := range append(slices.Clone(only), without...) {
		if !slices.ContainsFunc(rules, func(r *rulebook.Rule) bool { return names(r, word) }) {
			return nil, fmt.Errorf("there is no rule or subject %q%s", word, suggestion(word, words(rules)))
		}
	}
	var out []*rulebook.Rule
	for _, r := range rules {
		is := func(word string) bool { return names(r, word) }
		if (len(only) == 0 || slices.ContainsFunc(only, is)) && !slices.ContainsFunc(without, is) {
			out = append(out, r)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no rule is left to judge by")
	}
	return out, nil
}

func words(rules []*rulebook.Rule) []string {
	var out []string
	for _, r := range rules {
		out = append(out, r.ID)
		if !slices.Contains(out, r.Subject) {
			out = append(out, r.Subject)
		}
	}
	sort.Strings(out)
	return out
}

// FindRule returns a rule by id or alias, in any letter case.
func FindRule(rules []*rulebook.Rule, id string) (*rulebook.Rule, error) {
	for _, r := range rules {
		if strings.EqualFold(r.ID, id) || slices.Contains(r.Aliases, id) {
			return r, nil
		}
	}
	ids := make([]string, len(rules))
	for i, r := range rules {
		ids[i] = r.ID
	}
	return nil, fmt.Errorf("there is no rule %q%s", id, suggestion(id, ids))
}

// Review reviews one job file. The name stands for the file in every message. What is
// wrong with the job file itself is in Problems of the review; the error is for a review that was called off.
func (l *Linter) Review(ctx context.Context, name string, data []byte) (*verdict.Review, error) {
	f, err := jobfile.Load(name, data)
	if err != nil {
		return l.unread(name, err)
	}
	return l.ReviewFile(ctx, f)
}

func (l *Linter) unread(name string, err error) (*verdict.Review, error) {
	ps, ok := err.(jobfile.Problems)
	if !ok {
		return nil, err
	}
	return &verdict.Review{File: name, Books: l.manifests(), Problems: ps}, nil
}

func (l *Linter) manifests() []rulebook.Manifest {
	out := make([]rulebook.Manifest, len(l.Books))
	for i, b := range l.Books {
		out[i] = b.Manifest
	}
	return out
}

// ReviewFile reviews a job that has been loaded.
func (l *Linter) ReviewFile(ctx context.Context, f *jobfile.File) (*verdict.Review, error) {
	job := f.Job
	r := &verdict.Review{File: f.Name, Reference: job.Reference, Title: job.Title, Country: job.Country, On: job.JudgedOn, Books: l.manifests(), Root: f.Root}
	r.Stage, _ = rulebook.ParseStage(job.Stage)
	if l.stage != nil {
		r.Stage = *l.stage
	}
	if l.on != "" {
		r.On = l.on
	}
	for i, name := range job.Rulebooks {
		if !slices.ContainsFunc(l.Books, func(b *rulebook.Rulebook) bool { return b.Name == name }) {
			n := f.Root.Get("rulebooks").Items[i]
			r.Problems = append(r.Problems, jobfile.Problem{File: f.Name, Line: n.Line, Col: n.Col, Pointer: fmt.Sprintf("/rulebooks/%d", i),
				Message: fmt.Sprintf("the rulebook %q is not loaded; give its folder with --rulebook", name)})
		}
	}
	if len(r.Problems) > 0 {
		return r, nil
	}
	if c := job.Country; c != "" && !slices.ContainsFunc(l.Books, func(b *rulebook.Rulebook) bool { return strings.EqualFold(b.Name, "regions/"+c) }) {
		r.Notices = append(r.Notices, fmt.Sprintf("No rulebook for the country %s is applied: its law and codes are not covered by this review.", c))
	}
	return r, l.engine.Judge(ctx, r, job)
}
