// Package lint reviews job files: the fit-out of steam rooms and wet rooms in
// foam panels, judged by rulebooks.
//
// A Linter is prepared once and may review any number of jobs, from any number
// of goroutines. Nothing is judged by the clock: the date of judgement comes with the job or with the options.
package lint

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"sort"
	"strings"
	"sync"
	"time"

	"wetrule/lint/jobfile"
	"wetrule/lint/judge"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// Options say by what and how jobs are reviewed.
type Options struct {
	// Rulebooks are names of rulebooks that come with wetrule, folders, or sealed rulebooks (.tar.gz). The
	// rulebook core is always there.
	Rulebooks []string
	// Trust are files of public keys (PEM). A signature that a sealed rulebook has must be by one of them.
	Trust []string
	// RequireSignatures refuses rulebooks that no key of Trust has signed, folders among them. Those that come with wetrule are a part of it.
	RequireSignatures bool
	// Only and Without narrow the review by rule id or subject.
	Only, Without []string
	// Stage and On, when given, stand in place of what the jobs say.
	Stage, On string
	// Leaves are files of concessions and deviation permits beside the jobs.
	Leaves []string
	// Deadline bounds the time that the policies may take for one job; 0 means judge.Deadline.
	Deadline time.Duration
	// Books are rulebooks beside the named ones that have been opened already. One that has the name of a rulebook that comes with
	// wetrule stands in its place.
	Books []*rulebook.Rulebook
}

// Linter reviews jobs. Rulebooks are laid over one another, and engines prepared, as jobs ask for them: a job is
// judged by core, by the rulebook of its country (or those that it names), and by those of the options, in the edition of its date of judgement.
type Linter struct {
	Books []*rulebook.Rulebook // core and those of the options

	o      Options
	stage  *rulebook.Stage
	leaves []leavesFile
	laid   memo[*rulebook.Layers]
	ready  memo[*ready]
}

// ready are the rules of one edition with their engine.
type ready struct {
	layers  *rulebook.Layers
	edition string
	engine  *judge.Engine
	notices []string
	known   map[string]*rulebook.Rule // every rule of the edition by id and alias, whether it is judged or not
}

// memo holds what is made once for a key, whoever asks first.
type memo[T any] struct{ m sync.Map }

func (c *memo[T]) get(key string, create func() (T, error)) (T, error) {
	f, _ := c.m.LoadOrStore(key, sync.OnceValues(create))
	return f.(func() (T, error))()
}

// OpenRulebook opens a rulebook that comes with wetrule, by name, one in a folder, or a sealed one in a file.
func OpenRulebook(name string) (*rulebook.Rulebook, error) { return openRulebook(name, judge.Trust{}) }

func openRulebook(name string, trust judge.Trust) (*rulebook.Rulebook, error) {
	if fsys, ok := policies.Book(name); ok {
		b, err := rulebook.Open(fsys, "policies/"+name)
		if err == nil {
			b.Shipped = true
		}
		return b, err
	}
	info, err := os.Stat(name)
	switch {
	case err != nil && !strings.ContainsAny(name, `/\.`):
		return nil, fmt.Errorf("there is no rulebook %q%s", name, suggestion(name, policies.Books()))
	case err != nil:
		return nil, fmt.Errorf("rulebook %s cannot be read: %w", name, jobfile.Bare(err))
	case !info.IsDir() && !isSealed(name, info):
		return nil, fmt.Errorf("rulebook %s is not a folder", name)
	case !info.IsDir():
		b, _, err := openSealed(name, trust)
		return b, err
	case trust.Required:
		return nil, fmt.Errorf("rulebook %s is refused: it is a folder, which carries no signature, and signatures are required; seal it (wetrule rulebook seal)", name)
	}
	fsys, err := closedFolder(name)
	if err != nil {
		return nil, err
	}
	return rulebook.Open(fsys, shown(name))
}

// closedFolder is a folder out of which no link leads: a rulebook of strangers must not show what else is on the machine.
func closedFolder(name string) (fs.FS, error) {
	root, err := os.OpenRoot(name)
	if err != nil {
		return nil, fmt.Errorf("rulebook %s cannot be read: %w", name, jobfile.Bare(err))
	}
	return root.FS(), nil
}

// OpenRulebooks opens the rulebook core and those named, each once.
func OpenRulebooks(names []string) ([]*rulebook.Rulebook, error) {
	return openRulebooks(names, judge.Trust{})
}

func openRulebooks(names []string, trust judge.Trust) ([]*rulebook.Rulebook, error) {
	var books []*rulebook.Rulebook
	opened := map[string]bool{}
	for _, n := range append([]string{"core"}, names...) {
		key := n
		if _, shipped := policies.Book(n); !shipped {
			key = "./" + shown(n) // a folder may be written in several ways
		}
		if opened[key] {
			continue
		}
		opened[key] = true
		b, err := openRulebook(n, trust)
		if err != nil {
			return nil, err
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
	l := &Linter{o: o}
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
	for _, name := range o.Leaves {
		f, err := readLeaves(name)
		if err != nil {
			return nil, err
		}
		l.leaves = append(l.leaves, f)
	}
	trust, err := readTrust(o.Trust, o.RequireSignatures)
	if err != nil {
		return nil, err
	}
	if l.Books, err = openRulebooks(o.Rulebooks, trust); err != nil {
		return nil, err
	}
	if trust.Required && len(o.Books) > 0 {
		return nil, fmt.Errorf("rulebook %s is refused: it was opened before, without looking at a signature, and signatures are required", o.Books[0].Name)
	}
	l.Books = withOpened(l.Books, o.Books)
	layers, err := l.lay(nil)
	if err != nil {
		return nil, err
	}
	file, text := policies.Engine()
	own := []rulebook.Module{{File: file, Text: text}}
	for _, b := range l.Books {
		if !b.Shipped {
			own = append(own, b.Modules...)
		}
	}
	if len(own) > 1 {
		// Rego of others is held against the measures; that of the rulebooks that come with wetrule is by its tests.
		if err := judge.Check(own); err != nil {
			return nil, err
		}
	}
	if _, err := choose(layers.At(o.On), o.Only, o.Without); err != nil {
		return nil, err
	}
	return l, nil
}

// withOpened adds rulebooks that have been opened already. Two of one name that both were given are left for rulebook.Lay to refuse.
func withOpened(books, opened []*rulebook.Rulebook) []*rulebook.Rulebook {
	out := slices.Clone(books)
	for _, b := range opened {
		i := slices.IndexFunc(out, func(have *rulebook.Rulebook) bool { return have.Name == b.Name })
		if _, shipped := policies.Book(b.Name); i >= 0 && shipped && !slices.Contains(opened, out[i]) {
			out[i] = b
			continue
		}
		out = append(out, b)
	}
	return out
}

func isDate(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

// Latest is a day after every edition that is known.
const Latest = "9999-12-31"

// Rules returns the rules of core and of the options in order of id, in the edition of the options' date, or the latest.
func (l *Linter) Rules() []*rulebook.Rule {
	layers, err := l.lay(nil)
	if err != nil {
		return nil // New has laid them
	}
	day := l.o.On
	if day == "" {
		day = Latest
	}
	rules, err := choose(layers.At(day), l.o.Only, l.o.Without)
	if err != nil {
		return nil
	}
	return rules
}

// lay lays the rulebooks of the options and those that come with wetrule and are named over one another.
func (l *Linter) lay(names []string) (*rulebook.Layers, error) {
	return l.laid.get(strings.Join(names, " "), func() (*rulebook.Layers, error) {
		books := slices.Clone(l.Books)
		for _, n := range names {
			if slices.ContainsFunc(books, func(b *rulebook.Rulebook) bool { return b.Name == n }) {
				continue
			}
			b, err := OpenRulebook(n)
			if err != nil {
				return nil, err
			}
			books = append(books, b)
		}
		return rulebook.Lay(books)
	})
}

// prepare returns the rules of an edition of laid rulebooks with their engine.
func (l *Linter) prepare(names []string, day string) (*ready, error) {
	layers, err := l.lay(names)
	if err != nil {
		return nil, err
	}
	edition := layers.Edition(day)
	return l.ready.get(strings.Join(append(slices.Clone(names), edition), " "), func() (*ready, error) {
		rules, err := choose(layers.At(edition), l.o.Only, l.o.Without)
		if err != nil {
			return nil, err
		}
		r := &ready{layers: layers, edition: edition, known: map[string]*rulebook.Rule{}}
		for _, rule := range layers.At(edition) {
			for _, id := range append([]string{rule.ID}, rule.Aliases...) {
				r.known[id] = rule
			}
		}
		var modules []rulebook.Module
		for _, b := range layers.Books {
			modules = append(modules, b.Modules...)
		}
		for _, rule := range rules {
			for _, c := range rule.Looser() {
				r.notices = append(r.notices, fmt.Sprintf("The base is looser here: the rule %s is %s.", rule.ID, c))
			}
		}
		for _, m := range layers.Switched(edition) {
			r.notices = append(r.notices, fmt.Sprintf("The rule %s is switched off by %s: %s", m.RuleID, m.Rulebook, m.Reason))
		}
		for _, c := range layers.Conflicts(edition) {
			r.notices = append(r.notices, "Conflict between rules: "+c.String()+".")
		}
		file, text := policies.Engine()
		r.engine, err = judge.New(file, text, rules, modules, judge.Options{Deadline: l.o.Deadline, Zones: rulebook.ZoneGeometry(rulebook.LayZones(layers.Books))})
		return r, err
	})
}

// choose narrows rules by id, alias or subject. A word that names nothing is an error.
func choose(rules []*rulebook.Rule, only, without []string) ([]*rulebook.Rule, error) {
	if len(only) == 0 && len(without) == 0 {
		return rules, nil
	}
	names := func(r *rulebook.Rule, word string) bool {
		return isCalled(r, word) || strings.EqualFold(word, r.Subject)
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

// isCalled says whether a word is the id of a rule, or one that it had before, in any letter case.
func isCalled(r *rulebook.Rule, word string) bool {
	return strings.EqualFold(word, r.ID) || slices.ContainsFunc(r.Aliases, func(a string) bool { return strings.EqualFold(word, a) })
}

// FindRule returns a rule by id or alias, in any letter case.
func FindRule(rules []*rulebook.Rule, id string) (*rulebook.Rule, error) {
	for _, r := range rules {
		if isCalled(r, id) {
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
	return l.ReviewIn(ctx, &Memory{}, name, data)
}

func (l *Linter) unread(name string, err error) (*verdict.Review, error) {
	ps, ok := err.(jobfile.Problems)
	if !ok {
		return nil, err
	}
	return &verdict.Review{File: name, Books: manifests(l.Books), Problems: ps}, nil
}

func manifests(books []*rulebook.Rulebook) []rulebook.Manifest {
	out := make([]rulebook.Manifest, len(books))
	for i, b := range books {
		out[i] = b.Manifest
	}
	return out
}

// ReviewFile reviews a job that has been loaded.
func (l *Linter) ReviewFile(ctx context.Context, f *jobfile.File) (*verdict.Review, error) {
	return l.reviewIn(ctx, &Memory{}, f)
}

// ReviewIn is Review in memory that no other review is in: for somebody who reviews one job after the other, and is done with each before the next.
func (l *Linter) ReviewIn(ctx context.Context, m *Memory, name string, data []byte) (*verdict.Review, error) {
	if m.taken {
		return nil, errors.New("the memory holds a review that has not been released")
	}
	m.taken = true
	root, err := m.read.Read(name, data)
	if err != nil {
		return l.unread(name, err)
	}
	f, err := m.read.FromNode(name, root)
	if err != nil {
		return l.unread(name, err)
	}
	return l.reviewIn(ctx, m, f)
}

// Memory is what reviews are made in, one at a time. The zero value is ready.
type Memory struct {
	taken  bool // a review is in it
	read   jobfile.Memory
	judged judge.Memory
}

// Release takes back the memory of the review that is in it, of which nothing may be looked at any more.
func (m *Memory) Release() {
	m.judged.Release()
	m.read.Release()
	m.taken = false
}

// reviewIn reviews a job in memory that no other review is in.
func (l *Linter) reviewIn(ctx context.Context, m *Memory, f *jobfile.File) (*verdict.Review, error) {
	m.taken = true
	job := f.Job
	r := &verdict.Review{File: f.Name, Reference: job.Reference, Title: job.Title, Country: job.Country, On: job.JudgedOn, Books: manifests(l.Books), Root: f.Root, Job: job}
	r.Stage, _ = rulebook.ParseStage(job.Stage)
	if l.stage != nil {
		r.Stage = *l.stage
	}
	if l.o.On != "" {
		r.On = l.o.On
	}
	names := l.applied(f, r)
	if len(r.Problems) > 0 {
		return r, nil
	}
	ready, err := l.prepare(names, r.On)
	if err != nil {
		// The rulebooks of this job do not go together, or leave nothing of what was chosen; other jobs may be judged.
		r.Problems = append(r.Problems, jobfile.Problem{File: f.Name, Message: "cannot be judged: " + err.Error()})
		return r, nil
	}
	r.Books = manifests(ready.layers.Books)
	r.Notices = append(r.Notices, ready.notices...)
	if c := job.Country; c != "" && !slices.ContainsFunc(ready.layers.Books, func(b *rulebook.Rulebook) bool { return b.Country == c }) {
		r.Notices = append(r.Notices, fmt.Sprintf("No rulebook for the country %s is applied: its law and codes are not covered by this review.", c))
	}
	if err := ready.engine.JudgeIn(ctx, &m.judged, r, job); err != nil {
		return r, err
	}
	r.ApplyLeaves(f.Name, job.Leaves, ready.known, ready.engine.Judges)
	for _, side := range l.leaves {
		r.ApplyLeaves(side.name, side.leaves, ready.known, ready.engine.Judges)
	}
	return r, nil
}

// leavesFile is a file of leaves beside the jobs.
type leavesFile struct {
	name   string
	leaves []jobfile.Leave
}

func readLeaves(name string) (leavesFile, error) {
	data, err := readFile(name)
	if err != nil {
		return leavesFile{name: shown(name)}, fmt.Errorf("%s cannot be read: %w", name, err)
	}
	return parseLeaves(shown(name), data)
}

func parseLeaves(name string, data []byte) (leavesFile, error) {
	f := leavesFile{name: name}
	root, err := jobfile.Read(name, data)
	if err != nil {
		return f, err
	}
	s, err := rulebook.Schema("leaves.schema.json")
	if err != nil {
		return f, err
	}
	if err := s.Validate(name, root); err != nil {
		return f, err
	}
	var into struct {
		Leaves []jobfile.Leave `json:"leaves"`
	}
	err = jobfile.Decode(root, &into)
	f.leaves = into.Leaves
	return f, err
}

// applied names the rulebooks that come with wetrule and apply to a job beside core: those that it names, or else that of its country.
func (l *Linter) applied(f *jobfile.File, r *verdict.Review) (names []string) {
	job := f.Job
	if job.Rulebooks == nil {
		if n := "regions/" + strings.ToLower(job.Country); job.Country != "" && slices.Contains(policies.Books(), n) {
			names = append(names, n)
		}
		return names
	}
	for i, name := range job.Rulebooks {
		switch {
		case slices.ContainsFunc(l.Books, func(b *rulebook.Rulebook) bool { return b.Name == name }):
		case slices.Contains(policies.Books(), name):
			names = append(names, name)
		default:
			n := f.Root.Get("rulebooks").Items()[i]
			known := policies.Books()
			for _, b := range l.Books {
				known = append(known, b.Name)
			}
			r.Problems = append(r.Problems, jobfile.Problem{File: f.Name, Line: int(n.Line), Col: int(n.Col), Pointer: fmt.Sprintf("/rulebooks/%d", i),
				Message: fmt.Sprintf("the rulebook %q is not loaded%s; a folder is given with --rulebook", name, suggestion(name, known))})
		}
	}
	return names
}
