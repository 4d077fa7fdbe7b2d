package jobfile

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// anyFile draws a file: a job, one with something of it lost, doubled or turned into something else, or hardly a job at all. A line is of one
// job in JSON.
func anyFile(t *rapid.T, job string, line string) (name, text string) {
	switch rapid.IntRange(0, 5).Draw(t, "sort") {
	case 0:
		return "job.yaml", anyYAML(t)
	case 1:
		return "line", anyJSON(t, 0)
	case 2: // JSON with a slip
		at := rapid.IntRange(0, len(line)-1).Draw(t, "at")
		return "line", line[:at] + rapid.SampledFrom([]string{"", `"`, "1", "{", "é", "\x00", "null,"}).Draw(t, "slip") + line[at+1:]
	case 3:
		return "line", line
	}
	lines := strings.SplitAfter(job, "\n")
	for range rapid.IntRange(0, 3).Draw(t, "changes") {
		i := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
		switch rapid.IntRange(0, 3).Draw(t, "change") {
		case 0:
			lines[i] = ""
		case 1:
			lines[i] += lines[i]
		case 2:
			lines[i] = strings.Replace(lines[i], "1", "no number", 1)
		case 3:
			lines = append(lines[:i:i], append([]string{rapid.SampledFrom([]string{"- a\n", "note: x\n", "&a b\n"}).Draw(t, "more")}, lines[i:]...)...)
		}
	}
	return "job.yaml", strings.Join(lines, "")
}

func readInto(m *Memory, name, text string) (*Node, *File, error) {
	var root *Node
	var err error
	if name == "line" {
		root, err = m.ReadLine(name, 3, []byte(text))
	} else {
		root, err = m.Read(name, []byte(text))
	}
	if err != nil {
		return nil, nil, err
	}
	f, err := m.FromNode(name, root)
	return root, f, err
}

// TestMemoryIsUsedAgain reads different files one after another into one memory: each gives what it gives in memory of its own, and what was not released stays as
// it is.
func TestMemoryIsUsedAgain(t *testing.T) {
	base := string(baseJob(t))
	line := string(read(t, "job.yaml", base).json(nil))
	good := 0
	rapid.Check(t, func(t *rapid.T) {
		m := new(Memory)
		var held []func()
		for range rapid.IntRange(1, 12).Draw(t, "files") {
			name, text := anyFile(t, base, line)
			root, f, err := readInto(m, name, text)
			ownRoot, own, ownErr := readInto(new(Memory), name, text)
			same := func() {
				require.Equal(t, ownErr, err)
				require.Equal(t, ownRoot == nil, root == nil)
				if root != nil {
					require.Empty(t, sameTree(ownRoot, root))
				}
				require.True(t, reflect.DeepEqual(own, f), text)
			}
			same()
			if f != nil {
				good++
			}
			if rapid.IntRange(0, 3).Draw(t, "held") == 0 {
				held = append(held, same)
			} else {
				m.Release()
			}
		}
		for _, same := range held {
			same()
		}
	})
	require.Positive(t, good)
}

// TestMemoryStaysSmall sees that a memory neither grows from job to job nor keeps what a huge one took, and that nothing of a job stays in it.
func TestMemoryStaysSmall(t *testing.T) {
	base := baseJob(t)
	m := new(Memory)
	load := func() *File {
		_, f, err := readInto(m, "job.yaml", string(base))
		require.NoError(t, err)
		return f
	}
	for range 3 {
		load()
		m.Release()
	}
	f := load()
	root, job, item := f.Root, f.Job, &f.Job.Items[0]
	m.Release()
	require.Zero(t, *f)
	f = load()
	require.Same(t, root, f.Root)
	require.Same(t, job, f.Job)
	require.Same(t, item, &f.Job.Items[0])
	m.Release()
	require.Zero(t, *root)
	require.Zero(t, *job)
	require.Zero(t, *item)
	got := testing.AllocsPerRun(20, func() {
		load()
		m.Release()
	})
	t.Logf("allocations: %.0f", got)
	require.LessOrEqual(t, got, 30.0)

	var huge bytes.Buffer
	huge.WriteString("many: [")
	for i := range MaxNodes / 2 {
		fmt.Fprintf(&huge, "%d,", i)
	}
	huge.WriteString("]\n")
	_, err := m.Read("job.yaml", huge.Bytes())
	require.NoError(t, err)
	m.Release()
	require.LessOrEqual(t, cap(m.openItems), keptValues)
	load()
}
