package workpack_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// tree reads all files below a folder.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(data)
		return err
	}))
	return out
}

func TestFolder(t *testing.T) {
	p := pack(t, "clean", nil)
	parent := t.TempDir()
	dir := filepath.Join(parent, "pack")
	require.NoError(t, p.Folder(dir))
	files := tree(t, dir)
	var m struct {
		What, Reference, Revision string
		Files                     []struct {
			Name, SHA256 string
			Size         int
		}
	}
	require.NoError(t, json.Unmarshal([]byte(files["manifest.json"]), &m))
	require.Equal(t, "demo-clean", m.Reference)
	require.Equal(t, p.Revision, m.Revision)
	require.Len(t, m.Files, len(files)-1, "the manifest names every file but itself")
	for _, f := range m.Files {
		h := sha256.Sum256([]byte(files[f.Name]))
		require.Equal(t, hex.EncodeToString(h[:]), f.SHA256, f.Name)
		require.Equal(t, len(files[f.Name]), f.Size, f.Name)
	}
	for _, name := range []string{"index.html", "pack.pdf", "tools.csv", "materials.csv", "programme.ics", "job.yaml", "sheets/plan.svg", "sheets/face-left.svg", "templates.pdf"} {
		require.NotEmpty(t, files[name], name)
	}
	job, err := os.ReadFile("../../fixtures/demo/clean.yaml")
	require.NoError(t, err)
	require.Equal(t, string(job), files["job.yaml"])

	// The same pack anew has the same bytes; another takes its place whole.
	require.NoError(t, p.Folder(dir))
	require.Equal(t, files, tree(t, dir))
	require.NoError(t, pack(t, "faults", nil).Folder(dir))
	require.Contains(t, tree(t, dir)["index.html"], "NOT CLEARED")
	left, err := os.ReadDir(parent)
	require.NoError(t, err)
	require.Len(t, left, 1, "nothing is left beside it")
}

func TestFoldersOfOthersAreLeftAlone(t *testing.T) {
	p := pack(t, "clean", nil)
	for name, c := range map[string]struct {
		make func(dir string)
		says string
	}{
		"another's folder":   {func(dir string) { write(t, filepath.Join(dir, "letter.txt"), "dear") }, "is no work pack and not empty"},
		"another's manifest": {func(dir string) { write(t, filepath.Join(dir, "manifest.json"), `{"what": "cargo", "files": []}`) }, "is no work pack and not empty"},
		"a file put beside": {func(dir string) {
			require.NoError(t, p.Folder(dir))
			write(t, filepath.Join(dir, "photos", "groove.jpg"), "x")
		}, "photos/groove.jpg in"},
		"a file written into": {func(dir string) {
			require.NoError(t, p.Folder(dir))
			write(t, filepath.Join(dir, "tools.csv"), "mine")
		}, "tools.csv was changed since"},
		"a file": {func(dir string) { write(t, dir, "x") }, "is there and no folder"},
	} {
		dir := filepath.Join(t.TempDir(), "pack")
		c.make(dir)
		var before map[string]string
		if info, err := os.Stat(dir); err == nil && info.IsDir() {
			before = tree(t, dir)
		}
		err := p.Folder(dir)
		require.ErrorContains(t, err, c.says, name)
		if before != nil {
			require.Equal(t, before, tree(t, dir), name)
		}
	}
	// An empty folder is taken, a folder in one that does not exist is not made, and a link leads on.
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "empty"), 0o755))
	require.NoError(t, p.Folder(filepath.Join(dir, "empty")))
	require.ErrorContains(t, p.Folder(filepath.Join(dir, "no", "such")), "cannot be written")
	require.NoError(t, os.Symlink(filepath.Join(dir, "empty"), filepath.Join(dir, "link")))
	require.NoError(t, p.Folder(filepath.Join(dir, "link")))
	info, err := os.Lstat(filepath.Join(dir, "link"))
	require.NoError(t, err)
	require.NotZero(t, info.Mode()&fs.ModeSymlink)
	left, err := filepath.Glob(filepath.Join(dir, ".wetrule*"))
	require.NoError(t, err)
	require.Empty(t, left, "nothing is left beside it")
}

func write(t *testing.T, name, text string) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
	require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
}
