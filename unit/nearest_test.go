package unit

import "testing"

func TestNearest(t *testing.T) {
	known := []string{"free_flow", "blanked", "rated_at", "bore"}
	for word, want := range map[string]string{
		"freeflow": "free_flow", "Blanked": "blanked", "ratedat": "rated_at", "broe": "bore", "colour": "", "": "",
	} {
		if got := Nearest(word, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestDistance(t *testing.T) {
	for _, tt := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"abc", "", 3}, {"", "abc", 3}, {"kitten", "sitting", 3}, // the textbook case
		{"ab", "ba", 1}, {"inghx", "inhg", 2}, {"µm", "um", 1},
	} {
		if got := distance([]rune(tt.a), []rune(tt.b)); got != tt.want {
			t.Errorf("distance(%q, %q) = %d, want %d", tt.a, tt.b, got, tt.want)
		}
	}
}
