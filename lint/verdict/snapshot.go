package verdict

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"
)

// SnapshotVersion is the version of the snapshot file.
const SnapshotVersion = 1

// MaxSnapshot bounds a snapshot file, in bytes: some hundred thousand findings.
const MaxSnapshot = 128 << 20

// Snapshot holds the findings of a set of jobs at one time. Later reviews fail only for what is new or worse. A
// finding is known by its fingerprint, and compared by its measured value, never by line or number of findings.
type Snapshot struct {
	Version  int      `json:"snapshot"`
	Findings []*Known `json:"findings"`
}

// Known is one finding of a snapshot.
type Known struct {
	Fingerprint string   `json:"fingerprint"`
	File        string   `json:"file"`
	Rule        string   `json:"rule"`
	Subject     string   `json:"subject"`
	Outcome     string   `json:"outcome"`
	Measured    string   `json:"measured"`
	Margin      *float64 `json:"margin,omitempty"`
}

// Take takes a snapshot of the findings of reviews. Conceded findings are not in it, since their leave speaks for them.
func Take(reviews []*Review) *Snapshot {
	s := &Snapshot{Version: SnapshotVersion, Findings: []*Known{}}
	for _, r := range reviews {
		for i := range r.Verdicts {
			if v := &r.Verdicts[i]; v.Leave() == nil && (v.Outcome == Nonconforming || v.Outcome == Undetermined) {
				s.Findings = append(s.Findings, known(r.File, v))
			}
		}
	}
	s.sort()
	return s
}

func known(file string, v *Verdict) *Known {
	k := &Known{Fingerprint: v.Fingerprint(file), File: file, Rule: v.Rule.ID, Subject: v.Subject.ID, Outcome: v.Outcome.String(), Measured: v.Rule.Def.Format(*v.Value)}
	if m := v.Margin(); v.Outcome == Nonconforming && isFinite(m) {
		k.Margin = &m
	}
	return k
}

func (s *Snapshot) sort() {
	sort.Slice(s.Findings, func(i, j int) bool {
		a, b := s.Findings[i], s.Findings[j]
		if a.File != b.File {
			return a.File < b.File
		}
		if a.Rule != b.Rule {
			return a.Rule < b.Rule
		}
		return a.Subject < b.Subject
	})
}

// Write writes the snapshot, a finding a line, so that differences read well.
func (s *Snapshot) Write(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "{\"snapshot\": %d, \"findings\": [", s.Version)
	for i, k := range s.Findings {
		line, err := json.Marshal(k)
		if err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString("\n  ")
		b.Write(line)
	}
	b.WriteString("\n]}\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// ReadSnapshot reads a snapshot.
func ReadSnapshot(name string, data []byte) (*Snapshot, error) {
	switch {
	case len(data) > MaxSnapshot:
		return nil, fmt.Errorf("%s is no snapshot: it is larger than %d MiB", name, MaxSnapshot>>20)
	case !utf8.Valid(data):
		return nil, fmt.Errorf("%s is no snapshot: it is not valid UTF-8", name)
	}
	var s Snapshot
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return nil, fmt.Errorf("%s is no snapshot: %w", name, err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fmt.Errorf("%s is no snapshot: something follows its end", name)
	}
	if s.Version != SnapshotVersion {
		return nil, fmt.Errorf("%s is a snapshot of version %d; expected %d", name, s.Version, SnapshotVersion)
	}
	seen := map[string]bool{}
	for _, k := range s.Findings {
		if k == nil || k.Fingerprint == "" || seen[k.Fingerprint] {
			return nil, fmt.Errorf("%s is no snapshot: a finding has no fingerprint of its own", name)
		}
		seen[k.Fingerprint] = true
	}
	return &s, nil
}

// Progress is what has become of the findings of a snapshot.
type Progress struct {
	Known  int      // as they were, or better
	Worse  []string // what got worse, in words
	Better []*Known // the same finding, with a value nearer to the limit
	Gone   []*Known // no longer found, in jobs that were reviewed
}

// Compare marks the findings of reviews that the snapshot knows and that are no worse than they were, and says what has changed.
func (s *Snapshot) Compare(reviews []*Review) Progress {
	var p Progress
	index := map[string]*Known{}
	for _, k := range s.Findings {
		index[k.Fingerprint] = k
	}
	found := map[string]bool{}
	judged := map[string]bool{}
	for _, r := range reviews {
		if len(r.Problems) == 0 {
			judged[r.File] = true
		}
		for i := range r.Verdicts {
			v := &r.Verdicts[i]
			if v.Outcome != Nonconforming && v.Outcome != Undetermined {
				continue
			}
			now := known(r.File, v)
			was := index[now.Fingerprint]
			if was == nil {
				continue
			}
			found[now.Fingerprint] = true
			switch was.against(now) {
			case worse:
				p.Worse = append(p.Worse, fmt.Sprintf("%s: %s of %s: was %s, is %s", r.File, now.Rule, now.Subject, was.Measured, now.Measured))
				continue
			case better:
				p.Better = append(p.Better, now)
			}
			v.Change(func(m *More) { m.Known = was })
			p.Known++
		}
	}
	for _, k := range s.Findings {
		if !found[k.Fingerprint] && judged[k.File] {
			p.Gone = append(p.Gone, k)
		}
	}
	return p
}

// Tighten returns the snapshot with what got better in it and without what is gone. Findings of jobs that were not reviewed stay.
func (s *Snapshot) Tighten(p Progress) *Snapshot {
	t := &Snapshot{Version: SnapshotVersion, Findings: []*Known{}}
	for _, k := range s.Findings {
		same := func(o *Known) bool { return o.Fingerprint == k.Fingerprint }
		if slices.ContainsFunc(p.Gone, same) {
			continue
		}
		if i := slices.IndexFunc(p.Better, same); i >= 0 {
			k = p.Better[i]
		}
		t.Findings = append(t.Findings, k)
	}
	t.sort()
	return t
}

type comparison uint8

const (
	equal comparison = iota
	better
	worse
)

// against compares a finding with the same one of now. Without margins another value is worse, since nobody can tell that it is not.
func (k *Known) against(now *Known) comparison {
	switch {
	case k.Outcome != now.Outcome:
		return worse // it is now shown not to conform, or a fact that was there has been taken away
	case k.Margin != nil && now.Margin != nil:
		switch {
		case *now.Margin < *k.Margin:
			return worse
		case *now.Margin > *k.Margin:
			return better
		}
	case k.Measured != now.Measured:
		return worse
	}
	return equal
}
