package trace

import (
	"strings"
	"testing"
)

func TestLook(t *testing.T) {
	for _, c := range []struct {
		name, text, columns string
		want                string // taken and unit of each column
		fails               bool
	}{
		{"named", "n,t_ms,vacuum (kPa)\n1,0,0.1\n2,20,0.2\n3,40,0.3\n", "", "- |time ms|vacuum kPa", false},
		{"absolute", "Time [s];Pressure abs [mbar]\n0;1013\n1;1012\n", "", "time s|absolute mbar", false},
		{"overruled", "a,b\n0,1\n1,2\n2,3\n", "s, inHg vacuum", "time s|vacuum inHg", false},
		{"no header", "0,1\n1,2\n2,3\n", "", "- |- ", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Look(strings.NewReader(c.text), ReadOptions{Columns: c.columns})
			if (err != nil) != c.fails {
				t.Fatalf("Look(%q): error %v, want one: %v", c.text, err, c.fails)
			}
			var got []string
			for _, col := range s.Columns {
				got = append(got, string(col.Taken)+" "+col.Unit)
				if len(col.Cells) == 0 {
					t.Errorf("column %q has no cells", col.Name)
				}
			}
			if g := strings.Join(got, "|"); g != c.want {
				t.Errorf("Look(%q) = %q, want %q", c.text, g, c.want)
			}
		})
	}
}
