package trace

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"
)

// What comes in small pieces reads as what comes at once.
func TestReadInPieces(t *testing.T) {
	for _, c := range formatCases {
		b, err := os.ReadFile(filepath.Join("testdata", "formats", c.file))
		if err != nil {
			t.Fatal(err)
		}
		want, err := Read(bytes.NewReader(b), c.o)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Read(iotest.OneByteReader(bytes.NewReader(b)), c.o)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: a byte at a time: got %+v, %v", c.file, got, err)
		}
	}
}

func TestUTF16BeyondTheFirstPlane(t *testing.T) {
	for _, name := range []string{"rig 🔧 one", "lone \uFFFD half", "ügly µ"} {
		units := utf16.Encode([]rune("\uFEFF# rig: " + name + "\ntime (s),vacuum (kPa)\n0,1\n1,2\n"))
		if strings.Contains(name, "half") {
			for i, u := range units {
				if u == 0xFFFD {
					units[i] = 0xD83D // a high half without its low one
				}
			}
		}
		var b bytes.Buffer
		for _, u := range units {
			b.WriteByte(byte(u))
			b.WriteByte(byte(u >> 8))
		}
		tr, err := Read(&b, ReadOptions{})
		if err != nil || tr.Header.Rig != name || tr.Len() != 2 {
			t.Errorf("got %+v, %v, want rig %q", tr, err, name)
		}
	}
}

func TestReadSkipsTooLongLines(t *testing.T) {
	text := head + strings.Repeat("0,1\n", 30_000) + strings.Repeat("x", 3*maxLine) + "\n" + strings.Repeat("9,9\n", 10)
	tr := mustReadText(t, text, ReadOptions{})
	f := tr.Faults
	if tr.Len() != 30_010 || f.Dropped != 1 || f.FirstDropped != 30_002 || !strings.Contains(f.DroppedWhy, "longer than 1024 KiB") {
		t.Errorf("got %d points, %+v", tr.Len(), f)
	}
}

func TestReadJSONKeys(t *testing.T) {
	for _, c := range []struct {
		name, text string
		o          ReadOptions
		want       []float64 // kPa
	}{
		{"escaped key", `{"t_s":0,"vacuum\u0020(kPa)":1}` + "\n" + `{"t_s":1,"vacuum\u0020(kPa)":2},` + "\n", ReadOptions{}, []float64{1, 2}},
		{"keys said by option", `{"a":0,"b":[1,{"c":"}"}],"v":1}` + "\n" + `{"a":1,"v":2}` + "\n", ReadOptions{Columns: "s, -, kPa vacuum"}, []float64{1, 2}},
		{"several, by name", `{"t_s":0,"p1_kpa_abs":9,"vacuum_kpa":1}` + "\n" + `{"t_s":1,"vacuum_kpa":2}` + "\n", ReadOptions{Column: "VACUUM_kpa"}, []float64{1, 2}},
		{"keys that come later", `{"t_s":0,"note":"on"}` + "\n" + `{"t_s":1,"vacuum_kpa":2}` + "\n", ReadOptions{}, []float64{2}},
		{"escape in a value", `{"t_s":0,"note":"a\"b","vacuum_kpa":1}` + "\n", ReadOptions{}, []float64{1}},
	} {
		tr := mustReadText(t, c.text, c.o)
		got := fmt.Sprint(tr.Value)
		for i := range c.want {
			c.want[i] *= 1e3
		}
		if got != fmt.Sprint(c.want) {
			t.Errorf("%s: got %v Pa, want %v", c.name, got, c.want)
		}
	}
}

func TestHandRowsLeftOut(t *testing.T) {
	for _, c := range []struct{ row, why string }{
		{"-1,20,", "before shut-off"},
		{"5,1e12,", "beyond"},
		{"5,nan,", "not finite"},
	} {
		tr := mustReadText(t, "# hand readings\ntime (s),vacuum (inHg),note\n"+c.row+"\n6,21,\n7,20,still above\n6,9,\n", ReadOptions{})
		f := tr.Faults
		if len(tr.Hand) != 2 || f.Rows != 4 || f.Dropped != 2 || f.FirstDropped != 3 || !strings.Contains(f.DroppedWhy, c.why) || !tr.Hand[1].Censored {
			t.Errorf("%s: got %+v, %+v, want two readings, %q", c.row, tr.Hand, f, c.why)
		}
	}
	text := "# hand readings\ntime (s),vacuum (inHg)\n" + strings.Repeat("1,2\n", mostHandReadings+5)
	if f := mustReadText(t, text, ReadOptions{}).Faults; f.Dropped != 5 {
		t.Errorf("got %d dropped, want 5", f.Dropped)
	}
}

func TestCommentsAreBounded(t *testing.T) {
	text := strings.Repeat("# "+strings.Repeat("é", 5000)+"\n", 100) + "# rig big rig\n" + head + "0,1\n1,2\n"
	tr := mustReadText(t, text, ReadOptions{})
	h := tr.Header
	if len(h.Others) != mostComments || len(h.Others[0]) > longestRemark || h.Rig != "big rig" || tr.Len() != 2 {
		t.Errorf("got %d comments of %d bytes, rig %q, %d points", len(h.Others), len(h.Others[0]), h.Rig, tr.Len())
	}
}

// Without --columns an unclear pressure is asked about unless its values can
// only be one thing; deep vacuums that are held must not pass for absolute.
func TestUnclearPressures(t *testing.T) {
	series := func(f func(i int) float64) string {
		var b strings.Builder
		b.WriteString("time (s),pressure (kPa)\n")
		for i := range 200 {
			fmt.Fprintf(&b, "%d,%.2f\n", i, f(i))
		}
		return b.String()
	}
	for _, c := range []struct {
		name string
		f    func(i int) float64
		want Kind // "": asked
		sign float64
	}{
		{"room, pull, hold", func(i int) float64 { return 100 - 75*float64(min(max(i-20, 0), 10))/10 }, Absolute, 1},
		{"deep vacuum held", func(i int) float64 { return 92 - 0.1*float64(i) }, "", 0},
		{"deep vacuum held, then vented", func(i int) float64 { return (92 - 0.1*float64(i)) * float64(min(200-i, 10)-1) / 9 }, "", 0},
		{"room alone", func(i int) float64 { return 101 }, "", 0},
		{"gauge from the hold on", func(i int) float64 { return -78 + 0.1*float64(i) }, Vacuum, -1},
		{"vacuum from the room on", func(i int) float64 { return 75 * float64(min(max(i-20, 0), 10)) / 10 }, Vacuum, 1},
		{"bar above the room", func(i int) float64 { return 700 * float64(min(max(i-20, 0), 10)) / 10 }, "", 0},
		{"zero alone", func(i int) float64 { return 0.01 * float64(i%2) }, "", 0},
		{"half vacuum", func(i int) float64 { return 60 - 0.1*float64(i) }, "", 0},
	} {
		tr, err := Read(strings.NewReader(series(c.f)), ReadOptions{})
		switch {
		case c.want == "" && (err == nil || !strings.Contains(err.Error(), "could be")):
			t.Errorf("%s: got %v, want to be asked", c.name, err)
		case c.want != "" && (err != nil || tr.Kind != c.want || tr.Value[199]*c.sign*c.f(199) < 0):
			t.Errorf("%s: got %v, want %s", c.name, err, c.want)
		}
	}
}
