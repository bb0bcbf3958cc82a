package check

import (
	"cmp"
	"maps"
	"slices"
)

func sortedKeys(p relatives) []string { return slices.Sorted(maps.Keys(p)) }

// sortShares puts the largest first.
func sortShares(s []Share) {
	slices.SortStableFunc(s, func(a, b Share) int { return cmp.Compare(b.Share, a.Share) })
}

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}
