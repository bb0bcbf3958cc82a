package unit

import "testing"

// A figure comes back as it was typed, to be edited: what would come back rounded
// would be saved rounded.
func TestPlain(t *testing.T) {
	for typed, want := range map[string]string{
		"27": "27 mm", "26.95": "26.95 mm", "86.005": "86.005 mm", "95 ± 6": "95 ± 6 mm", "1/3 in": "8.4667 mm", "0,62": "0.62 mm", "3.4 in": "86.36 mm", "0.040": "0.04 mm",
	} {
		q, err := ParseIn(typed, LengthDim, "mm")
		if err != nil {
			t.Fatal(err)
		}
		if got := Plain(q.Measured, LengthDim, "mm"); got != want {
			t.Errorf("%q comes back as %q, want %q", typed, got, want)
		}
	}
}
