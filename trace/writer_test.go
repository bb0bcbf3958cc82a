package trace

import (
	"bytes"
	"errors"
	"math"
	"testing"
)

// What is written sample by sample is read back the same, remarks between the
// rows and all.
func TestWriterReadsBack(t *testing.T) {
	for _, kind := range []Kind{Vacuum, Absolute} {
		var b bytes.Buffer
		w := NewWriter(&b, Header{Port: "cylinder 1 intake", Held: "thumb", Others: []string{"source: stdin:"}}, kind)
		for i := range 500 {
			if i == 250 {
				w.Remark("25 s: its clock went back\nby 3 s")
			}
			if err := w.Row(0.1*float64(i), 101e3-50*float64(i)); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		tr, err := Read(&b, ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if tr.Kind != kind || tr.Len() != 500 || tr.Faults.Dropped != 0 || tr.Header.Port != "cylinder 1 intake" || tr.Header.Held != "thumb" {
			t.Fatalf("%s came back as %s, %d points, %+v, %+v", kind, tr.Kind, tr.Len(), tr.Faults, tr.Header)
		}
		for i := range tr.Time {
			if math.Abs(tr.Time[i]-0.1*float64(i)) > 1e-9 || math.Abs(tr.Value[i]-(101e3-50*float64(i))) > 1e-4 {
				t.Fatalf("row %d came back as %g s, %g Pa", i, tr.Time[i], tr.Value[i])
			}
		}
	}
}

type smallDisk struct{ left int }

func (f *smallDisk) Write(p []byte) (int, error) {
	if f.left -= len(p); f.left < 0 {
		return 0, errors.New("no space left on device")
	}
	return len(p), nil
}

func TestWriterFull(t *testing.T) {
	w := NewWriter(&smallDisk{10000}, Header{}, Vacuum)
	var err error
	for i := 0; err == nil && i < 10000; i++ {
		err = w.Row(float64(i), 5e4)
	}
	if err == nil {
		t.Error("a full disk was not told")
	}
	if w.Row(math.NaN(), 1) == nil || w.Row(1, math.Inf(1)) == nil {
		t.Error("a figure that is not finite was written")
	}
}
