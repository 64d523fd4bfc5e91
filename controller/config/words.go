package config

import (
	"fmt"
	"strings"
)

// suggest names the known word closest to the wrong one, or else all of them,
// the last joined by "and" or "or".
func suggest(wrong string, known []string, all, by string) string {
	switch best := closest(wrong, known); {
	case best != "":
		return fmt.Sprintf("did you mean %s?", best)
	case len(known) == 0:
		return "there is none yet"
	}
	return all + inWords(known, by)
}

// closest is the known word that the wrong one is a slip of; empty when it is
// none's.
func closest(wrong string, known []string) string {
	best, least := "", min(len(wrong)/2, 3)+1
	for _, k := range known {
		if d := distance(strings.ToLower(wrong), strings.ToLower(k)); d < least {
			best, least = k, d
		}
	}
	for _, k := range known { // lat for latitude
		if best == "" && len(wrong) >= 3 && strings.HasPrefix(k, strings.ToLower(wrong)) {
			best = k
		}
	}
	for _, k := range known { // pepper for sweet_pepper
		if best == "" && len(wrong) >= 4 && len(k) > 3 && strings.Contains(strings.ToLower(k), strings.ToLower(wrong)) {
			best = k
		}
	}
	return best
}

// distance is how many letters have to be added, dropped or changed to turn a
// into b (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// inWords joins words as a sentence does: a, b and c, or a, b or c.
func inWords(words []string, by string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " " + by + " " + words[last]
}

// Near reports whether a word is likely a slip for a known one.
func Near(wrong, known string) bool { return closest(wrong, []string{known}) != "" }
