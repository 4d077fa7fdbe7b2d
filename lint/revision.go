package lint

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"wetrule/lint/rulebook"
)

// maxRevisionBytes bounds what a rulebook of a revision may hold in all.
const maxRevisionBytes = 64 << 20

// Revision is a folder of a git checkout as it was at a revision.
type Revision struct {
	FS     fs.FS
	Label  string // as git names it: revision:folder
	Commit string // the commit that the revision names
}

// OpenRevision opens a rulebook in a folder of a git checkout as it was at a revision.
func OpenRevision(ctx context.Context, folder, revision string) (*rulebook.Rulebook, *Revision, error) {
	r, err := ReadRevision(ctx, folder, revision)
	if err != nil {
		return nil, nil, err
	}
	b, err := rulebook.Open(r.FS, r.Label)
	return b, r, err
}

// ReadRevision reads what a rulebook consists of from the objects of git into memory. Nothing is written into the checkout, nothing
// fetched, and the files are as they were committed: no attribute leaves one out or changes it. The folder need not be there any more.
func ReadRevision(ctx context.Context, folder, revision string) (*Revision, error) {
	if revision == "" || strings.HasPrefix(revision, "-") || strings.ContainsAny(revision, ":\n\x00") {
		return nil, fmt.Errorf("%q is no revision", revision)
	}
	g := git{ctx: ctx}
	var err error
	if g.program, err = exec.LookPath("git"); err != nil {
		return nil, fmt.Errorf("the program git reads rulebooks of a revision, and it is not found: %w", bareExec(err))
	}
	abs, err := filepath.Abs(folder)
	if err != nil {
		return nil, err
	}
	// The folder may be gone from the files; git is asked from the nearest one that is there.
	g.dir = abs
	var gone []string
	for {
		if info, err := os.Stat(g.dir); err == nil && info.IsDir() {
			break
		}
		up := filepath.Dir(g.dir)
		if up == g.dir {
			return nil, fmt.Errorf("%s is not in a git checkout", folder)
		}
		gone = append(gone, filepath.Base(g.dir))
		g.dir = up
	}
	prefix, err := g.line("rev-parse", "--show-prefix")
	if err != nil {
		return nil, fmt.Errorf("%s is not in a git checkout: %w", folder, err)
	}
	slices.Reverse(gone)
	inside := path.Join(append([]string{prefix}, gone...)...)
	commit, err := g.line("rev-parse", "--verify", "--quiet", revision+"^{commit}")
	if err != nil {
		return nil, fmt.Errorf("there is no revision %q in the git checkout of %s", revision, folder)
	}
	tree, err := g.line("rev-parse", "--verify", "--quiet", commit+":"+inside)
	if err != nil {
		return nil, fmt.Errorf("the folder %s does not exist in the revision %s", folder, revision)
	}
	r := &Revision{Label: revision + ":" + inside, Commit: commit}
	if r.FS, err = g.tree(tree); err != nil {
		return nil, fmt.Errorf("%s cannot be read: %w", r.Label, err)
	}
	return r, nil
}

// git runs the program git in a folder.
type git struct {
	ctx     context.Context
	program string
	dir     string
}

// local are the variables that tie git to another checkout than that of the folder, as they are set inside hooks.
var local = []string{"GIT_DIR", "GIT_WORK_TREE", "GIT_COMMON_DIR", "GIT_INDEX_FILE", "GIT_PREFIX", "GIT_NAMESPACE"}

func (g git) run(in io.Reader, args ...string) ([]byte, error) {
	c := exec.CommandContext(g.ctx, g.program, args...)
	c.Dir = g.dir
	c.Stdin = in
	for _, v := range os.Environ() {
		if name, _, _ := strings.Cut(v, "="); !slices.Contains(local, name) {
			c.Env = append(c.Env, v)
		}
	}
	c.Env = append(c.Env, "LC_ALL=C", "GIT_NO_LAZY_FETCH=1", "GIT_OPTIONAL_LOCKS=0", "GIT_TERMINAL_PROMPT=0")
	var says bytes.Buffer
	c.Stderr = &says
	out, err := c.Output()
	if err != nil {
		if s := strings.Join(strings.Fields(says.String()), " "); s != "" {
			return nil, errors.New("git says: " + s)
		}
		return nil, fmt.Errorf("git %s: %w", args[0], err)
	}
	return out, nil
}

func (g git) line(args ...string) (string, error) {
	out, err := g.run(nil, args...)
	return strings.TrimSuffix(string(out), "\n"), err
}

// tree reads the files of a rulebook in a tree.
func (g git) tree(id string) (fs.FS, error) {
	list, err := g.run(nil, "ls-tree", "--full-tree", "-r", "-l", "-z", id)
	if err != nil {
		return nil, err
	}
	type file struct {
		name, object string
		size         int64
	}
	var files []file
	var ask bytes.Buffer
	total := int64(0)
	for _, row := range strings.Split(strings.TrimSuffix(string(list), "\x00"), "\x00") {
		head, name, ok := strings.Cut(row, "\t")
		fields := strings.Fields(head) // mode, type, object, size
		if !ok || len(fields) != 4 {
			continue // an empty tree
		}
		// What a rulebook can be made of; whether there is a file too many or too few, its reader says.
		ext := strings.ToLower(path.Ext(name))
		data := slices.Contains([]string{".yaml", ".yml", ".json", ".rego"}, ext)
		plain := strings.HasPrefix(fields[0], "100") && fs.ValidPath(name) && !strings.Contains(name, `\`)
		if !plain && (data || !strings.Contains(name, "/")) {
			return nil, fmt.Errorf("%s is no plain file; a rulebook of a revision has plain files only", name)
		}
		if !data || !plain {
			continue
		}
		size, err := strconv.ParseInt(fields[3], 10, 64)
		if err != nil {
			return nil, fmt.Errorf("the size of %s is not known", name)
		}
		if total += size; total > maxRevisionBytes {
			return nil, fmt.Errorf("it holds more than %d MiB", maxRevisionBytes>>20)
		}
		files = append(files, file{name, fields[2], size})
		ask.WriteString(fields[2] + "\n")
	}
	data, err := g.run(&ask, "cat-file", "--batch")
	if err != nil {
		return nil, err
	}
	// A zip without compression is a file system in memory.
	var mem bytes.Buffer
	z := zip.NewWriter(&mem)
	answers := bufio.NewReader(bytes.NewReader(data))
	for _, f := range files {
		head, err := answers.ReadString('\n')
		if want := fmt.Sprintf("%s blob %d\n", f.object, f.size); err != nil || head != want {
			return nil, fmt.Errorf("%s is not among the objects of git", f.name)
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: f.name, Method: zip.Store})
		if err != nil {
			return nil, err
		}
		if _, err := io.CopyN(w, answers, f.size); err != nil {
			return nil, err
		}
		if _, err := answers.Discard(1); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return zip.NewReader(bytes.NewReader(mem.Bytes()), int64(mem.Len()))
}

func bareExec(err error) error {
	var e *exec.Error
	if errors.As(err, &e) {
		return e.Err
	}
	return err
}
