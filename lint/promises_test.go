package lint

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// section is a section of DEVELOPERS.md.
func section(t *testing.T, title string) string {
	t.Helper()
	text, err := os.ReadFile("../DEVELOPERS.md")
	require.NoError(t, err)
	_, rest, found := strings.Cut(string(text), "\n## "+title+"\n")
	require.True(t, found, "DEVELOPERS.md has no section %q", title)
	rest, _, _ = strings.Cut(rest, "\n## ")
	return rest
}

// rowsOf are the rows of the tables of a section, without heads.
func rowsOf(text string) (rows [][]string) {
	for _, line := range strings.Split(text, "\n") {
		if !strings.HasPrefix(line, "| ") {
			continue
		}
		var cells []string
		for _, c := range strings.Split(strings.Trim(line, "|"), "|") {
			cells = append(cells, strings.TrimSpace(c))
		}
		rows = append(rows, cells)
	}
	return rows
}

// TestPromisesNameTheirTests: each promise of the table names tests, and they are there.
func TestPromisesNameTheirTests(t *testing.T) {
	known := map[string]bool{}
	declared := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(\w+ \*testing\.[TF]\)`)
	for _, top := range []string{"../lint", "../cmd"} {
		require.NoError(t, filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, "_test.go") {
				return err
			}
			text, err := os.ReadFile(path)
			for _, m := range declared.FindAllSubmatch(text, -1) {
				known[string(m[1])] = true
			}
			return err
		}))
	}
	require.Greater(t, len(known), 300)
	named := regexp.MustCompile(`\b(?:Test|Fuzz)\w+`)
	quoted := regexp.MustCompile("`((?:fixtures|lint|cmd)/[^`]*)`")
	promises := 0
	for _, row := range rowsOf(section(t, "Promises")) {
		if row[0] == "promise" {
			continue
		}
		promises++
		require.Regexp(t, `^`+string(rune('0'+promises))+`\. `, row[0])
		tests := named.FindAllString(row[1], -1)
		require.NotEmpty(t, tests, "%s names no test", row[0])
		for _, name := range tests {
			require.True(t, known[name], "%s: there is no %s", row[0], name)
		}
		for _, m := range quoted.FindAllStringSubmatch(row[1], -1) {
			require.FileExists(t, filepath.Join("..", m[1]), row[0])
		}
	}
	require.Equal(t, 8, promises)
}

// TestDependenciesAreTold: every module that the build takes in is in the list, and nothing else is.
func TestDependenciesAreTold(t *testing.T) {
	mod, err := os.ReadFile("../go.mod")
	require.NoError(t, err)
	needed := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\t(\S+) v\S+`).FindAllSubmatch(mod, -1) {
		needed[string(m[1])] = true
	}
	require.Greater(t, len(needed), 30)
	told := map[string]bool{}
	for _, row := range rowsOf(section(t, "Dependencies")) {
		if row[0] == "module" || row[0] == "module that comes along" {
			continue
		}
		require.NotEmpty(t, row[1], row[0])
		for _, name := range strings.Split(row[0], ", ") {
			require.True(t, needed[name], "%s is in the list and not in go.mod", name)
			require.False(t, told[name], "%s is told twice", name)
			told[name] = true
		}
	}
	for name := range needed {
		require.True(t, told[name], "DEVELOPERS.md does not say why %s is there", name)
	}
}
