package unit

import "strings"

// Nearest returns the known word that the fewest edits make of word, without
// regard to case, for a message that asks "did you mean"; empty if even the
// nearest has less than half its letters in common with it. Of equals it
// returns the first. It serves units here, and names of keys and columns in
// the packages that read files.
func Nearest(word string, known []string) string {
	w := []rune(strings.ToLower(word))
	best, least := "", -1
	for _, k := range known {
		r := []rune(strings.ToLower(k))
		edits := distance(w, r)
		if 2*edits <= max(len(w), len(r)) && (least < 0 || edits < least) {
			best, least = k, edits
		}
	}
	return best
}

// distance is the number of edits from a to b: letters put in, left out,
// changed, or swapped with the next (optimal string alignment).
func distance(a, b []rune) int {
	before, row := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		next := make([]int, len(b)+1)
		next[0] = i + 1
		for j := range b {
			cost := row[j]
			if a[i] != b[j] {
				cost++
			}
			next[j+1] = min(cost, next[j]+1, row[j+1]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				next[j+1] = min(next[j+1], before[j-1]+1)
			}
		}
		before, row = row, next
	}
	return row[len(b)]
}
