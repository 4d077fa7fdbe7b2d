package jobfile

import (
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// Suggest gives the known word that a mistyped word most likely means, or "" when none is near. A word is near
// when its edit distance is at most a third of the word's length plus one; letter case, spaces and hyphens do not
// count. Of equally near words the alphabetically first wins.
func Suggest(word string, known []string) string {
	const longest = 100 // characters; nobody mistypes more than that
	plain := plainWord(word)
	length := utf8.RuneCountInString(plain)
	if length == 0 || length > longest {
		return ""
	}
	best, bestDistance := "", length/3+1
	for _, candidate := range known {
		other := plainWord(candidate)
		otherLength := utf8.RuneCountInString(other)
		if otherLength == 0 || otherLength > length+bestDistance {
			continue
		}
		distance := levenshtein.ComputeDistance(plain, other)
		// A word of which nothing is left over is another word, not a slip.
		if distance > bestDistance || distance >= max(length, otherLength) {
			continue
		}
		if best == "" || distance < bestDistance || candidate < best {
			best, bestDistance = candidate, distance
		}
	}
	return best
}

func plainWord(word string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' {
			return '_'
		}
		return r
	}, strings.ToLower(word))
}
