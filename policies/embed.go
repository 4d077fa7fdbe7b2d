// Package policies holds the rulebooks that come with wetrule and the Rego that evaluates rows.
package policies

import (
	"embed"
	"io/fs"
	"slices"
	"sync"
)

//go:embed core engine all:regions
var files embed.FS

// Engine is the Rego that evaluates the rows of any rulebook.
func Engine() (name, text string) {
	b, err := files.ReadFile("engine/engine.rego")
	if err != nil {
		panic(err) // embedded, so always there
	}
	return "policies/engine/engine.rego", string(b)
}

// Books lists the names of the rulebooks that come with wetrule: core, and regions/cc for each country.
func Books() []string { return slices.Clone(books()) }

var books = sync.OnceValue(func() []string {
	out := []string{"core"}
	entries, err := files.ReadDir("regions")
	if err != nil {
		panic(err) // embedded, so always there
	}
	for _, e := range entries {
		if e.IsDir() {
			out = append(out, "regions/"+e.Name())
		}
	}
	return out
})

// Book returns the folder of one rulebook that comes with wetrule.
func Book(name string) (fs.FS, bool) {
	for _, b := range books() {
		if b == name {
			sub, err := fs.Sub(files, name)
			return sub, err == nil
		}
	}
	return nil, false
}

// EngineTests are the Rego tests of the evaluator.
func EngineTests() (name, text string) {
	b, err := files.ReadFile("engine/engine_test.rego")
	if err != nil {
		panic(err) // embedded, so always there
	}
	return "policies/engine/engine_test.rego", string(b)
}

// Sealed is the Rego that answers in a sealed rulebook.
func Sealed() (name, text string) {
	b, err := files.ReadFile("engine/sealed.rego")
	if err != nil {
		panic(err) // embedded, so always there
	}
	return "policies/engine/sealed.rego", string(b)
}
