package lint

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"

	"wetrule/lint/jobfile"
	"wetrule/lint/judge"
	"wetrule/lint/rulebook"
	"wetrule/lint/verdict"
	"wetrule/policies"
)

// SealOptions say how a rulebook is sealed.
type SealOptions struct {
	// Over are the rulebooks, by name, folder or file, over which it is laid in addition to core.
	Over []string
	// On is the day (YYYY-MM-DD) whose edition a policy server answers by; empty for the latest.
	On string
	// Key is a file with the private key (PEM) that signs, KeyID the name by which the key is known to those who verify. Without a key the rulebook
	// stays unsigned.
	Key, KeyID string
}

// SealRulebook packs a rulebook that comes with wetrule, or one in a folder, into one file, and signs it when there is a key. The same input gives the same bytes.
// leftOut names files of the folder that are no part of a rulebook.
func SealRulebook(name string, o SealOptions) (data []byte, s *rulebook.Sealed, leftOut []string, err error) {
	if o.On != "" && !isDate(o.On) {
		return nil, nil, nil, fmt.Errorf("%q is not a date (YYYY-MM-DD)", o.On)
	}
	var key *judge.PrivateKey
	switch {
	case o.Key != "":
		text, err := readKey(o.Key)
		if err != nil {
			return nil, nil, nil, err
		}
		if key, err = judge.ReadPrivateKey(o.Key, text, o.KeyID); err != nil {
			return nil, nil, nil, err
		}
	case o.KeyID != "":
		return nil, nil, nil, errors.New("a key id goes with a key")
	}
	// What is read once is what is checked and what is packed.
	if _, err := OpenRulebook(name); err != nil {
		return nil, nil, nil, err
	}
	fsys, shipped := policies.Book(name)
	label := "policies/" + name
	if !shipped {
		if info, err := os.Stat(name); err == nil && !info.IsDir() {
			return nil, nil, nil, fmt.Errorf("%s is sealed already; seal the folder that it was made from", name)
		}
		if fsys, err = closedFolder(name); err != nil {
			return nil, nil, nil, err
		}
		label = shown(name)
	}
	files, leftOut, err := judge.Snapshot(fsys)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("rulebook %s cannot be sealed: %w", name, err)
	}
	book, err := rulebook.Open(files, label)
	if err != nil {
		return nil, nil, nil, err
	}
	if _, err := book.ReadExamples(); err != nil {
		return nil, nil, nil, err
	}
	var books []*rulebook.Rulebook
	if book.Name != "core" {
		if books, err = OpenRulebooks(o.Over); err != nil {
			return nil, nil, nil, err
		}
	}
	books = append(books, book)
	layers, err := rulebook.Lay(books)
	if err != nil {
		return nil, nil, nil, err
	}
	engine := engineModules()
	own := slices.Clone(engine)
	for _, b := range books {
		own = append(own, b.Modules...)
	}
	if err := judge.Check(own); err != nil {
		return nil, nil, nil, err
	}
	data, err = judge.Seal(judge.Sealing{Files: files, Book: book, Layers: layers, On: o.On, Engine: engine, Key: key})
	if err != nil {
		return nil, nil, nil, err
	}
	_, s, err = judge.OpenSealed(label, data, judge.Trust{})
	return data, s, leftOut, err
}

// engineModules are the evaluator and the answer of sealed rulebooks.
func engineModules() []rulebook.Module {
	file, text := policies.Engine()
	answer, says := policies.Sealed()
	return []rulebook.Module{{File: file, Text: text}, {File: answer, Text: says}}
}

// DescribeSealed opens a sealed rulebook and says what it is. Keys and required are as in Options.
func DescribeSealed(name string, keys []string, required bool) (*rulebook.Sealed, error) {
	trust, err := readTrust(keys, required)
	if err != nil {
		return nil, err
	}
	_, s, err := openSealed(name, trust)
	return s, err
}

// isSealed says whether a file is meant to be a sealed rulebook: by its name, or by how it begins.
func isSealed(name string, info fs.FileInfo) bool {
	if strings.HasSuffix(strings.ToLower(name), ".tar.gz") {
		return true
	}
	if !info.Mode().IsRegular() {
		return false
	}
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	var magic [2]byte
	_, err = io.ReadFull(f, magic[:])
	return err == nil && magic == [2]byte{0x1f, 0x8b}
}

func openSealed(name string, trust judge.Trust) (*rulebook.Rulebook, *rulebook.Sealed, error) {
	data, err := readRegular(name, judge.MaxSealed)
	if err != nil {
		return nil, nil, fmt.Errorf("rulebook %s cannot be read: %w", name, err)
	}
	return judge.OpenSealed(shown(name), data, trust)
}

// readRegular reads a regular file, and no more of it than it takes to see that it is too large.
func readRegular(name string, most int64) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, jobfile.Bare(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is no regular file")
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, jobfile.Bare(err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, jobfile.Bare(err)
	}
	return data, nil
}

func readKey(name string) ([]byte, error) {
	data, err := readRegular(name, judge.MaxKeyBytes)
	if err != nil {
		return nil, fmt.Errorf("key %s cannot be read: %w", name, err)
	}
	return data, nil
}

func readTrust(names []string, required bool) (t judge.Trust, err error) {
	t.Required = required
	if required && len(names) == 0 {
		return t, errors.New("signatures are required and no key is trusted; name a public key with --trust")
	}
	for _, n := range names {
		data, err := readKey(n)
		if err != nil {
			return t, err
		}
		k, err := judge.ReadPublicKey(n, data)
		if err != nil {
			return t, err
		}
		t.Keys = append(t.Keys, k)
	}
	return t, nil
}

// Facts writes what the policies saw of a job that has been reviewed, as JSON: the input for a policy server that holds a sealed rulebook.
func Facts(r *verdict.Review) ([]byte, error) {
	if r.Set == nil {
		return nil, fmt.Errorf("%s: nothing was measured", r.File)
	}
	return judge.Facts(r.Set, r.Stage)
}
