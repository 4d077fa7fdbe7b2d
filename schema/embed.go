// Package schema holds the JSON Schemas of everything that wetrule reads and writes.
package schema

import "embed"

// Files holds the schemas by file name.
//
//go:embed *.schema.json
var Files embed.FS

// Bytes returns one schema. It panics for a name that is not embedded, which a
// test would find.
func Bytes(name string) []byte {
	b, err := Files.ReadFile(name)
	if err != nil {
		panic(err)
	}
	return b
}

// Starter is a job to begin from.
//
//go:embed starter.yaml
var Starter []byte
