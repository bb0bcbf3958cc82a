package source

import "testing"

func TestEveryCodeHasWords(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range Codes() {
		if c.Words() == "" || seen[c.Words()] {
			t.Errorf("%s has no words, or another's", c)
		}
		seen[c.Words()] = true
	}
	if len(words) != len(Codes()) {
		t.Errorf("%d words for %d codes", len(words), len(Codes()))
	}
}
