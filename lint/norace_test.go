//go:build !race

package lint

// underRace is set when the race detector is in, under which everything takes many times as long.
const underRace = false
