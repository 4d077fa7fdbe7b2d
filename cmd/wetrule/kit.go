package main

import "embed"

//go:embed kit
var kitFiles embed.FS

// kitFile is one file of the kit for CI.
type kitFile struct {
	name, about string
	runs        bool // a command
}

var kit = []kitFile{
	{"wetrule-gate.sh", "shell script: reviews jobs, keeps reports as files, ends with the status", true},
	{"pipeline.yaml", "pipeline for CI systems with steps that run shell commands", false},
	{"pre-commit", "hook of git: reviews what is about to be committed", true},
	{"wetrule.mk", "targets for make", false},
}

func (k kitFile) text() []byte {
	b, err := kitFiles.ReadFile("kit/" + k.name)
	if err != nil {
		panic(err) // embedded, so always there
	}
	return b
}
