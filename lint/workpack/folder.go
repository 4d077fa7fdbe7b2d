package workpack

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wetrule/lint/draw"
	"wetrule/lint/jobfile"
)

// file is one file of a folder.
type file struct {
	name string // with slashes
	data []byte
}

// manifestName is the file that says what a pack holds, and that a folder is one.
const manifestName = "manifest.json"

type (
	// manifest says of which job and state a pack is, and what is in it.
	manifest struct {
		What      string         `json:"what"`
		Format    int            `json:"format"`
		Reference string         `json:"reference"`
		Title     string         `json:"title,omitempty"`
		JobFile   string         `json:"job_file"`
		Revision  string         `json:"revision"`
		Rules     string         `json:"rules_revision"`
		JudgedOn  string         `json:"judged_on"`
		Critical  int            `json:"open_critical_findings"`
		Version   string         `json:"wetrule"`
		Files     []manifestFile `json:"files"`
	}
	manifestFile struct {
		Name   string `json:"name"`
		Size   int    `json:"size"`
		SHA256 string `json:"sha256"`
	}
)

// manifestWhat marks the manifest of a pack.
const manifestWhat = "wetrule work pack"

// files makes all files of the folder in memory, so that nothing is written before everything is known to be right.
func (p *Pack) files() ([]file, error) {
	var out []file
	add := func(name string, write func(io.Writer) error) error {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, file{name, b.Bytes()})
		return nil
	}
	jobName := "job.yaml"
	if strings.EqualFold(filepath.Ext(p.File), ".json") {
		jobName = "job.json"
	}
	steps := []struct {
		name  string
		write func(io.Writer) error
	}{
		{"index.html", p.HTML}, {"pack.pdf", p.PDF}, {"tools.csv", p.ToolsCSV}, {"materials.csv", p.MaterialsCSV},
		{"programme.ics", func(w io.Writer) error { _, err := w.Write(p.calendar); return err }},
		{jobName, func(w io.Writer) error { _, err := w.Write(p.job); return err }},
	}
	for _, s := range steps {
		if err := add(s.name, s.write); err != nil {
			return nil, err
		}
	}
	for i := range p.sheets {
		s := &p.sheets[i]
		if err := add("sheets/"+s.ID+".svg", func(w io.Writer) error { return draw.SVG(w, s, draw.Style{}) }); err != nil {
			return nil, err
		}
	}
	if draw.HasTemplates(p.sheets) {
		info := draw.Info{Job: p.Reference, Title: p.Title, File: p.File, On: p.On, Revision: p.Revision, Cautions: p.cautions, Banner: p.Banner}
		if err := add("templates.pdf", func(w io.Writer) error { return draw.Templates(w, p.sheets, info) }); err != nil {
			return nil, err
		}
	}
	m := manifest{What: manifestWhat, Format: 1, Reference: p.Reference, Title: p.Title, JobFile: p.File, Revision: p.Revision, Rules: p.RulesRevision, JudgedOn: p.On, Critical: p.critical.open, Version: p.Version}
	for _, f := range out {
		m.Files = append(m.Files, manifestFile{f.name, len(f.data), sum(f.data)})
	}
	slices.SortFunc(m.Files, func(a, b manifestFile) int { return strings.Compare(a.Name, b.Name) })
	data, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, err
	}
	return append(out, file{manifestName, append(data, '\n')}), nil
}

func sum(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

// Folder writes the pack into a folder. It is written beside and put in place in one move. A folder that is there is replaced only when it
// is empty or a pack that nobody has changed; the error says otherwise what is in the way.
func (p *Pack) Folder(dir string) error {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	old, err := replaceable(dir)
	if err != nil {
		return err
	}
	files, err := p.files()
	if err != nil {
		return err
	}
	parent := filepath.Dir(dir)
	tmp, err := os.MkdirTemp(parent, ".wetrule-*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", dir, jobfile.Bare(err))
	}
	defer os.RemoveAll(tmp) // what is left of it
	fresh := filepath.Join(tmp, "new")
	for _, f := range files {
		name := filepath.Join(fresh, filepath.FromSlash(f.name))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			return fmt.Errorf("%s cannot be written: %w", dir, jobfile.Bare(err))
		}
		if err := os.WriteFile(name, f.data, 0o644); err != nil {
			return fmt.Errorf("%s cannot be written: %w", dir, jobfile.Bare(err))
		}
	}
	away := filepath.Join(tmp, "old")
	if old {
		if err := os.Rename(dir, away); err != nil {
			return fmt.Errorf("%s cannot be replaced: %w", dir, jobfile.Bare(err))
		}
	}
	if err := os.Rename(fresh, dir); err != nil {
		if old {
			if back := os.Rename(away, dir); back != nil {
				return fmt.Errorf("%s cannot be replaced: %w; what was there is lost", dir, jobfile.Bare(err))
			}
		}
		return fmt.Errorf("%s cannot be written: %w", dir, jobfile.Bare(err))
	}
	return nil
}

// replaceable says whether something is there that may be replaced.
func replaceable(dir string) (old bool, err error) {
	info, err := os.Lstat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("%s cannot be read: %w", dir, jobfile.Bare(err))
	case !info.IsDir():
		return false, fmt.Errorf("%s is there and no folder; it is left as it is", dir)
	}
	have := map[string]bool{}
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, e := filepath.Rel(dir, path)
			have[filepath.ToSlash(rel)], err = true, e
		}
		return err
	})
	if err != nil {
		return false, fmt.Errorf("%s cannot be read: %w", dir, jobfile.Bare(err))
	}
	if len(have) == 0 {
		return true, nil
	}
	var m manifest
	data, err := os.ReadFile(filepath.Join(dir, manifestName))
	if err != nil || json.Unmarshal(data, &m) != nil || m.What != manifestWhat {
		return false, fmt.Errorf("%s is no work pack and not empty; it is left as it is. Name another folder, or an empty one", dir)
	}
	delete(have, manifestName)
	for _, f := range m.Files {
		if !have[f.Name] {
			continue // somebody took it away; nothing is lost
		}
		delete(have, f.Name)
		data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(f.Name)))
		if err != nil {
			return false, fmt.Errorf("%s cannot be read: %w", dir, jobfile.Bare(err))
		}
		if sum(data) != f.SHA256 {
			return false, fmt.Errorf("%s was changed since the pack in %s was written, and would be lost; move it away, or name another folder", f.Name, dir)
		}
	}
	for _, name := range sorted(have) {
		return false, fmt.Errorf("%s in %s is not of the pack, and would be lost; move it away, or name another folder", name, dir)
	}
	return true, nil
}

func sorted(set map[string]bool) []string {
	out := make([]string, 0, len(set))
	for k := range set {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
