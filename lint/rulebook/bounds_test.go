package rulebook

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"wetrule/lint/jobfile"
)

// TestBoundsOfARulebook: on each bound a rulebook is opened, one beyond it is refused with the file and what is allowed.
func TestBoundsOfARulebook(t *testing.T) {
	folder := func(change map[string]string) fstest.MapFS {
		m := fstest.MapFS{"rulebook.yaml": {Data: []byte(manifestText)}, "sources.yaml": {Data: []byte(sourcesText)}}
		for name, text := range change {
			m[name] = &fstest.MapFile{Data: []byte(text)}
		}
		return m
	}
	many := func(n int, name string, text string) map[string]string {
		out := map[string]string{}
		for i := range n {
			out[fmt.Sprintf(name, i)] = text
		}
		return out
	}
	rego := func(n int) map[string]string {
		const head = "package wetrule.own\n#"
		return map[string]string{"rego/a.rego": head + strings.Repeat("x", n-len(head))}
	}
	rows := func(n int) map[string]string {
		out := map[string]string{}
		for i := 0; i < n; i += 500 {
			var b strings.Builder
			b.WriteString("subject: own\nrules:\n")
			for k := i; k < min(i+500, n); k++ {
				b.WriteString("  - " + strings.Replace(goodRow, "id: height", fmt.Sprintf("id: r%d", k), 1) + "\n")
			}
			out[fmt.Sprintf("rules/r%03d.yaml", i/500)] = b.String()
		}
		return out
	}
	for name, c := range map[string]struct {
		on, beyond map[string]string
		says       string
	}{
		"files of Rego":  {many(MaxFiles, "rego/a%d.rego", "package wetrule.own\n"), many(MaxFiles+1, "rego/a%d.rego", "package wetrule.own\n"), "house/rego: the folder holds 501 files; at most 500 are allowed"},
		"files of rows":  {many(MaxFiles, "rules/a%d.yaml", "subject: own\nrules: []\n"), many(MaxFiles+1, "rules/a%d.yaml", "subject: own\nrules: []\n"), "house/rules: the folder holds 501 files; at most 500 are allowed"},
		"bytes of Rego":  {rego(MaxRegoFile), rego(MaxRegoFile + 1), "house/rego/a.rego: the file is larger than 262144 bytes"},
		"number of rows": {rows(MaxRules), rows(MaxRules + 1), "house: the rulebook holds 5001 rules; at most 5000 are allowed"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Open(folder(c.on), "house")
			require.NoError(t, err)
			_, err = Open(folder(c.beyond), "house")
			require.EqualError(t, err, c.says)
		})
	}
	for name, c := range map[string]struct{ file, text, says string }{
		"rows of 1 MiB and more": {"rules/a.yaml", "subject: own\n#" + strings.Repeat("x", jobfile.MaxFileBytes), "house/rules/a.yaml: the file is larger than 1048576 bytes"},
		"Rego with NUL":          {"rego/a.rego", "package wetrule.own\n\nx := \"\x00\"\n", "house/rego/a.rego:3:7: control character U+0000 in the file"},
		"Rego in Latin 1":        {"rego/a.rego", "package wetrule.own\n\n# K\xfcche\n", "house/rego/a.rego:3:4: byte 0xFC is not valid UTF-8; save the file as UTF-8"},
		"Rego in UTF-16":         {"rego/a.rego", "\xff\xfep\x00", "house/rego/a.rego:1:1: the file is UTF-16 text; save it as UTF-8"},
		"Rego with CR alone":     {"rego/a.rego", "package wetrule.own\r\rx := 1\n", "house/rego/a.rego:1:20: a carriage return without a line feed; end lines with LF or CRLF"},
		"sources with NUL":       {"sources.yaml", "sources: []\n# \x00\n", "house/sources.yaml:2:3: control character U+0000 in the file"},
		"zones in Latin 1":       {"zones.yaml", "# \xfc\n", "house/zones.yaml:1:3: byte 0xFC is not valid UTF-8; save the file as UTF-8"},
		"manifest that is empty": {"rulebook.yaml", "", "house/rulebook.yaml: the file is empty"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Open(folder(map[string]string{c.file: c.text}), "house")
			require.EqualError(t, err, c.says)
		})
	}
	b, err := Open(folder(map[string]string{"rego/a.rego": "\ufeffpackage wetrule.own\r\n\r\nx := 1\r\n", "rules/a.yaml": "\ufeffsubject: own\r\nrules: []\r\n"}), "house")
	require.NoError(t, err)
	require.Equal(t, "package wetrule.own\r\n\r\nx := 1\r\n", b.Modules[0].Text)
}

// TestNothingOutsideTheFolderIsRead: links that lead out of a rulebook, pipes and devices are refused.
func TestNothingOutsideTheFolderIsRead(t *testing.T) {
	dir := t.TempDir()
	secret := filepath.Join(dir, "secret.yaml")
	require.NoError(t, os.WriteFile(secret, []byte("subject: secret-word\n"), 0o600))
	book := filepath.Join(dir, "book")
	require.NoError(t, os.MkdirAll(filepath.Join(book, "rules"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(book, "rulebook.yaml"), []byte(manifestText), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(book, "sources.yaml"), []byte(sourcesText), 0o644))
	for target, says := range map[string]string{
		secret: "path escapes from parent", "../../secret.yaml": "path escapes from parent", "/dev/zero": "path escapes from parent",
	} {
		link := filepath.Join(book, "rules", "a.yaml")
		require.NoError(t, os.Symlink(target, link))
		root, err := os.OpenRoot(book)
		require.NoError(t, err)
		_, err = Open(root.FS(), "book")
		require.EqualError(t, err, "book/rules/a.yaml: cannot be read: "+says, target)
		require.NoError(t, root.Close())
		require.NoError(t, os.Remove(link))
	}
	require.NoError(t, os.MkdirAll(filepath.Join(book, "rules", "a.yaml"), 0o755))
	_, err := Open(os.DirFS(book), "book")
	require.EqualError(t, err, "book/rules/a.yaml: cannot be read: it is no regular file")
	_, err = Open(fstest.MapFS{"rulebook.yaml": {Mode: fs.ModeNamedPipe}, "sources.yaml": {}}, "book")
	require.EqualError(t, err, "book/rulebook.yaml: cannot be read: it is no regular file")
}
