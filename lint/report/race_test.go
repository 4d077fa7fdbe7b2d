//go:build race

package report_test

// underRace is set when the race detector is in, under which pools give things back at random.
const underRace = true
