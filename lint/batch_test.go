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
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/jobfile"
)

func asIs(r Result) (Result, error) { return r, nil }

// jobLine is a job in JSON on one line.
func jobLine(t testing.TB, reference string) string {
	t.Helper()
	return fmt.Sprintf(`{"wetrule": 1, "reference": %q, "stage": "design", "judged_on": "2026-01-01", "room": {"use": "wet_room", "walls": [`+
		`{"id": "n", "width_mm": 2000}, {"id": "e", "width_mm": 1000}, {"id": "s", "width_mm": 2000}, {"id": "w", "width_mm": 1000}]}}`, reference)
}

// Inputs are taken as they are needed: however many there are, few are held, and what comes out keeps their order.
func TestEachKeepsOrderAndHoldsFew(t *testing.T) {
	l := core(t)
	const many = 5000
	var taken, given atomic.Int64
	most := int64(0)
	inputs := func(yield func(Input) bool) {
		for i := range many {
			taken.Add(1)
			if !yield(Input{Name: fmt.Sprint(i), Data: []byte("title: x\n"), FromFolder: true}) {
				return
			}
		}
	}
	next := 0
	err := Each(context.Background(), l, inputs, Shard{}, asIs, func(r Result) error {
		require.Equal(t, fmt.Sprint(next), r.Name)
		next++
		most = max(most, taken.Load()-given.Add(1))
		if next == 100 {
			time.Sleep(20 * time.Millisecond) // whoever takes the results is slow
			most = max(most, taken.Load()-given.Load())
		}
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, many, next)
	require.LessOrEqual(t, most, int64((ahead+2)*runtime.GOMAXPROCS(0)+2))
}

func TestEachEndsAtTheFirstError(t *testing.T) {
	l := core(t)
	never := errors.New("the disk is full")
	endless := func(yield func(Input) bool) {
		for i := 0; yield(Input{Name: fmt.Sprint(i), Data: []byte("title: x\n"), FromFolder: true}); i++ {
		}
	}
	got := 0
	err := Each(context.Background(), l, endless, Shard{}, asIs, func(Result) error {
		if got++; got == 7 {
			return never
		}
		return nil
	})
	require.ErrorIs(t, err, never)
	require.Equal(t, 7, got)

	err = Each(context.Background(), l, endless, Shard{}, func(r Result) (int, error) { return 0, never }, func(int) error {
		t.Error("there is nothing to give")
		return nil
	})
	require.ErrorIs(t, err, never)

	// Somebody who neither writes nor closes does not keep a batch that is called off.
	ctx, cancel := context.WithCancel(context.Background())
	r, w := io.Pipe()
	defer w.Close()
	go func() {
		_, _ = io.WriteString(w, jobLine(t, "a")+"\n")
	}()
	inputs, err := Lines([]string{Stdin}, r)
	require.NoError(t, err)
	err = Each(ctx, l, inputs, Shard{}, asIs, func(r Result) error {
		require.Equal(t, "a", r.Review.Reference)
		cancel()
		return nil
	})
	require.ErrorIs(t, err, context.Canceled)
}

// linesOf collects lines as text, a tilde before those that carry an error.
func linesOf(t *testing.T, in io.Reader, args ...string) (out []string) {
	t.Helper()
	seq, err := Lines(args, in)
	require.NoError(t, err)
	for i := range seq {
		s := fmt.Sprintf("%s:%d:%s", i.Name, i.Line, i.Data)
		if i.Err != nil {
			s = fmt.Sprintf("~%s:%d:%v", i.Name, i.Line, i.Err)
		}
		out = append(out, s)
	}
	return out
}

func TestLines(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	require.NoError(t, os.WriteFile("b.ndjson", []byte("{\"b\":1}\n"), 0o600))
	for _, tc := range []struct {
		in   string
		want []string
	}{
		{"", nil},
		{"\n \n\t\r\n", nil},
		{"{}\n[]\n", []string{"stdin:1:{}", "stdin:2:[]"}},
		{"{}\r\n\r\n[]", []string{"stdin:1:{}", "stdin:3:[]"}},
		{"{}\n\n\n[]\r", []string{"stdin:1:{}", "stdin:4:[]"}},
		{strings.Repeat("x", 200_000) + "\ny\n", []string{"stdin:1:" + strings.Repeat("x", 200_000), "stdin:2:y"}},
	} {
		for _, r := range []io.Reader{strings.NewReader(tc.in), iotest.OneByteReader(strings.NewReader(tc.in)), iotest.DataErrReader(strings.NewReader(tc.in))} {
			require.Equal(t, tc.want, linesOf(t, r, Stdin))
		}
	}
	// In the order given, a file as often as it is named.
	require.Equal(t, []string{`b.ndjson:1:{"b":1}`, "stdin:1:{}", `b.ndjson:1:{"b":1}`}, linesOf(t, strings.NewReader("{}"), "b.ndjson", Stdin, filepath.Join(dir, "b.ndjson")))
	// What came before a fault of reading is there; half a line is not taken for one.
	broken := io.MultiReader(strings.NewReader("{}\n{\"half\""), iotest.ErrReader(errors.New("cable cut")))
	require.Equal(t, []string{"stdin:1:{}", "~stdin:2:cannot be read any further: cable cut"}, linesOf(t, broken, Stdin))

	_, err := Lines([]string{"missing.ndjson"}, nil)
	require.EqualError(t, err, "missing.ndjson cannot be read: no such file or directory")
	_, err = Lines([]string{dir}, nil)
	require.ErrorContains(t, err, "is a folder; expected a file with a job on each line")
}

// A line without an end costs no more memory than a file may have bytes.
func TestLineWithoutEnd(t *testing.T) {
	endless := io.LimitReader(zeros{}, 64<<20)
	in := io.MultiReader(endless, strings.NewReader("\n"+jobLine(t, "b")+"\n"))
	seq, err := Lines([]string{Stdin}, in)
	require.NoError(t, err)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	var got []string
	err = Each(context.Background(), core(t), seq, Shard{}, asIs, func(r Result) error {
		got = append(got, fmt.Sprintf("%d %s %v", r.Review.Line, r.Review.Reference, r.Review.Problems.Error()))
		return nil
	})
	require.NoError(t, err)
	runtime.ReadMemStats(&after)
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(24<<20))
	require.Equal(t, []string{fmt.Sprintf("1  stdin:1:1: the line is longer than %d bytes", jobfile.MaxFileBytes), "2 b "}, got)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '0'
	}
	return len(p), nil
}

// Places are those in the whole file, of faults and of findings alike.
func TestPlacesInLines(t *testing.T) {
	low := strings.Replace(jobLine(t, "low"), `}]}}`, `}]}, "items": [{"id": "s", "kind": "steam_outlet", "face": "n", "x_mm": 500, "y_mm": 150}]}`, 1)
	text := jobLine(t, "ok") + "\n{\"wetrule\": 1, }\n\n" + `{"wetrule": 1, "wetrule": 1}` + "\n" + low + "\n" + strings.Replace(jobLine(t, "x"), `"wet_room"`, `"wet_rom"`, 1) + "\n"
	seq, err := Lines([]string{Stdin}, strings.NewReader(text))
	require.NoError(t, err)
	l, err := New(Options{Only: []string{"steam-outlet-height"}})
	require.NoError(t, err)
	var got []string
	err = Each(context.Background(), l, seq, Shard{}, asIs, func(r Result) error {
		line := fmt.Sprintf("%d:", r.Review.Line)
		for _, p := range r.Review.Problems {
			line += fmt.Sprintf(" %s:%d:%d %s", p.File, p.Line, p.Col, p.Message)
		}
		for _, v := range r.Review.Findings() {
			p := v.Place(r.Review.Root)
			line += fmt.Sprintf(" %d:%d %s", p.Line, p.Col, v.Rule.ID)
			require.Equal(t, `150`, strings.Split(text, "\n")[p.Line-1][p.Col-1:p.EndCol-1])
		}
		got = append(got, line)
		return nil
	})
	require.NoError(t, err)
	require.Len(t, got, 5)
	require.Equal(t, "1:", got[0])
	require.Equal(t, "2: stdin:2:14 a comma after the last key; delete it", got[1])
	require.Equal(t, `4: stdin:4:16 key "wetrule" is already used at 4:2; keep one of them`, got[2])
	require.Equal(t, fmt.Sprintf("5: 5:%d steam-outlet-height", strings.Index(low, "150")+1), got[3])
	require.Contains(t, got[4], fmt.Sprintf(`6: stdin:6:%d room.use: "wet_rom" is not one of`, strings.Index(jobLine(t, "x"), `"wet_room"`)+1))
}

func TestParseShard(t *testing.T) {
	for s, want := range map[string]Shard{"1/1": {1, 1}, "2/8": {2, 8}, "8/8": {8, 8}} {
		got, err := ParseShard(s)
		require.NoError(t, err)
		require.Equal(t, want, got)
		require.Equal(t, s, got.String())
	}
	for s, want := range map[string]string{
		"": `a shard is written as 2/8`, "2": `a shard is written as 2/8`, "a/b": `a shard is written as 2/8`, "1/2/3": `a shard is written as 2/8`, "1.0/2": `a shard is written as 2/8`,
		"0/8": "the parts are numbered 1 to 8", "9/8": "the parts are numbered 1 to 8", "-1/8": "the parts are numbered 1 to 8", "1/0": "the number of parts is 1 to", "1/-2": "the number of parts is 1 to", "1/1000001": "the number of parts is 1 to",
	} {
		_, err := ParseShard(s)
		require.ErrorContains(t, err, want, s)
	}
}

// The first eight bytes of a SHA-256, here of the empty text and of "abc" (published in FIPS 180-4's examples; from memory), decide.
func TestShardOfKnownSums(t *testing.T) {
	require.True(t, Shard{int(uint64(0xe3b0c44298fc1c14)%7) + 1, 7}.Holds(nil))
	require.True(t, Shard{int(uint64(0xba7816bf8f01cfea)%1000) + 1, 1000}.Holds([]byte("abc")))
}

func TestEveryJobIsInOneShard(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 50).Draw(t, "n")
		job := rapid.SliceOf(rapid.Byte()).Draw(t, "job")
		holders := 0
		for i := 1; i <= n; i++ {
			if (Shard{i, n}).Holds(job) {
				holders++
			}
		}
		require.Equal(t, 1, holders)
	})
	require.True(t, Shard{}.Holds([]byte("x")))
	// They are about equal.
	counts := make([]int, 8)
	for j := range 8000 {
		for i := range counts {
			if (Shard{i + 1, 8}).Holds([]byte(fmt.Sprint("job ", j))) {
				counts[i]++
			}
		}
	}
	require.Greater(t, slices.Min(counts), 850)
}

// The shards of a folder together are the folder, whatever the paths; what cannot be read is told in each.
func TestShardsOfAFolder(t *testing.T) {
	l := core(t)
	names := func(folder string, shard Shard) (out []string) {
		inputs, err := Collect([]string{folder}, nil)
		require.NoError(t, err)
		inputs = append(inputs, Input{Name: "gone.yaml"})
		seen := 0
		require.NoError(t, Each(context.Background(), l, slices.Values(inputs), shard, asIs, func(r Result) error {
			seen++
			require.False(t, r.Elsewhere && r.Review != nil)
			if r.Review != nil {
				out = append(out, filepath.Base(r.Name))
			}
			return nil
		}))
		require.Equal(t, len(inputs), seen)
		return out
	}
	tree(t)
	for i := range 20 {
		text := plainRoom + fmt.Sprintf("# %d\n", i)
		for _, folder := range []string{"a", "b/c"} {
			require.NoError(t, os.MkdirAll(folder, 0o755))
			require.NoError(t, os.WriteFile(filepath.Join(folder, fmt.Sprintf("%02d.yaml", i)), []byte(text), 0o600))
		}
	}
	var all []string
	for i := 1; i <= 3; i++ {
		part := names("a", Shard{i, 3})
		require.Equal(t, part, names("b/c", Shard{i, 3}))
		require.Equal(t, "gone.yaml", part[len(part)-1])
		all = append(all, part[:len(part)-1]...)
	}
	slices.Sort(all)
	require.Len(t, all, 20)
	require.Len(t, slices.Compact(all), 20)
}

// restless is a file that somebody writes while it is read.
type restless struct {
	fs.File
	stat func(n int) fs.FileInfo
	n    *int
}

func (r restless) Stat() (fs.FileInfo, error) {
	*r.n++
	return r.stat(*r.n), nil
}

func TestFileThatChangesWhileItIsRead(t *testing.T) {
	at := func(data string, second int) fs.FileInfo {
		f := fstest.MapFS{"a": {Data: []byte(data), ModTime: time.Unix(int64(second), 0)}}
		info, err := f.Stat("a")
		require.NoError(t, err)
		return info
	}
	for name, tc := range map[string]struct {
		stat  func(n int) fs.FileInfo
		whole bool
	}{
		"stays":            {func(int) fs.FileInfo { return at("12345", 1) }, true},
		"grows":            {func(n int) fs.FileInfo { return at("12345"[:3+n], 1) }, false},
		"shrinks":          {func(n int) fs.FileInfo { return at("123456"[:7-n], 1) }, false},
		"is written anew":  {func(n int) fs.FileInfo { return at("12345", n) }, false},
		"ends before that": {func(int) fs.FileInfo { return at("123456", 1) }, false},
		"has no size":      {func(int) fs.FileInfo { return at("", 1) }, true}, // as files of /proc
	} {
		n := 0
		data, whole, err := readOnce(func() (fs.File, error) {
			f, err := fstest.MapFS{"a": {Data: []byte("12345")}}.Open("a")
			return restless{f, tc.stat, &n}, err
		})
		require.NoError(t, err, name)
		require.Equal(t, "12345", string(data), name)
		require.Equal(t, tc.whole, whole, name)
	}
}

// A real file that is written again and again is either one version or told as being written, never a mixture.
func TestFileThatIsWrittenAllTheTime(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a.yaml")
	versions := []string{strings.Repeat("a", 300_000), strings.Repeat("b", 500_000)}
	require.NoError(t, os.WriteFile(name, []byte(versions[0]), 0o600))
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				_ = os.WriteFile(name, []byte(versions[i%2]), 0o600)
			}
		}
	}()
	for range 200 {
		data, err := readFile(name)
		if err != nil {
			require.EqualError(t, err, "it is being written at the same time; review it once that is done")
			continue
		}
		mixed := strings.Contains(string(data), "a") && strings.Contains(string(data), "b")
		require.False(t, mixed)
	}
	close(stop)
	<-done
}

func TestFileThatVanishes(t *testing.T) {
	tree(t, "jobs/")
	for _, n := range []string{"a", "b", "c"} {
		require.NoError(t, os.WriteFile("jobs/"+n+".yaml", []byte(plainRoom), 0o600))
	}
	inputs, err := Collect([]string{"jobs"}, nil)
	require.NoError(t, err)
	require.NoError(t, os.Remove("jobs/b.yaml"))
	b, err := core(t).ReviewAll(context.Background(), inputs, nil)
	require.NoError(t, err)
	require.Len(t, b.Reviews, 3)
	require.True(t, b.Reviews[0].Judged())
	require.Equal(t, "jobs/b.yaml: cannot be read: no such file or directory", b.Reviews[1].Problems.Error())
	require.True(t, b.Reviews[2].Judged())
}

func TestLinksInACircle(t *testing.T) {
	tree(t, "jobs/a.yaml", "jobs/self.yaml -> self.yaml", "jobs/up -> ..", "jobs/deep/", "jobs/deep/up -> ../../jobs", "jobs/x.yaml -> y.yaml", "jobs/y.yaml -> x.yaml", "round -> ring", "ring -> round")
	require.Equal(t, "*jobs/a.yaml", collected(t, "jobs"))
	require.Equal(t, "*jobs/up/jobs/a.yaml", collected(t, "jobs/up/jobs"))
	for _, arg := range []string{"round", "jobs/self.yaml", "jobs/x.yaml"} {
		_, err := Collect([]string{arg}, nil)
		require.ErrorContains(t, err, "cannot be read: too many levels of symbolic links")
	}
}

// large says whether tests are to take the numbers of files and jobs that are promised, which takes minutes; otherwise they take fewer.
func large() bool { return os.Getenv("WETRULE_LARGE") != "" }

// A folder of 100,000 files, a few of them jobs, is searched and reviewed in one go; only the names are held.
func TestLargeFolder(t *testing.T) {
	files, every := 2000, 200
	if large() {
		files, every = 100_000, 5000
	}
	tree(t)
	for i := range files {
		folder := fmt.Sprintf("jobs/%03d", i/1000)
		if i%1000 == 0 {
			require.NoError(t, os.MkdirAll(folder, 0o755))
		}
		text := "title: x\n"
		if i%every == 0 {
			text = plainRoom
		}
		require.NoError(t, os.WriteFile(fmt.Sprintf("%s/%06d.yaml", folder, i), []byte(text), 0o600))
	}
	inputs, err := Collect([]string{"jobs"}, nil)
	require.NoError(t, err)
	require.Len(t, inputs, files)
	var jobs []string
	passed := 0
	require.NoError(t, Each(context.Background(), core(t), slices.Values(inputs), Shard{}, asIs, func(r Result) error {
		if r.Review == nil {
			passed++
			return nil
		}
		require.True(t, r.Review.Judged())
		jobs = append(jobs, r.Name)
		return nil
	}))
	require.Equal(t, files-files/every, passed)
	require.Len(t, jobs, files/every)
	require.True(t, slices.IsSorted(jobs))
}
