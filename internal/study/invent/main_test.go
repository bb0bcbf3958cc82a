package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"seatproof/gas"
	"seatproof/trace"
)

const kept = "../../../examples/inline-three"

// The files kept in examples are those this command makes. Processors may
// round the last digit of a sum differently, so that a sample may fall one step
// of the gauge off, in one of a thousand at most.
func TestKeptFilesAreThese(t *testing.T) {
	files, err := makeAll()
	if err != nil {
		t.Fatal(err)
	}
	if want := len(ports) + 3; len(files) != want {
		t.Errorf("%d files, want %d", len(files), want)
	}
	for name, made := range files {
		old, err := os.ReadFile(filepath.Join(kept, name))
		if err != nil {
			t.Error(err)
			continue
		}
		if !bytes.Contains(old, []byte("# invented example")) {
			t.Errorf("%s is not marked as invented", name)
		}
		if !strings.HasPrefix(name, "cylinder-") {
			if !bytes.Equal(old, made) {
				t.Errorf("%s differs: go run ./internal/study/invent examples/inline-three", name)
			}
			continue
		}
		a, b := mustRead(t, old), mustRead(t, made)
		if a.Header.Port != b.Header.Port || a.Header.Started != b.Header.Started || a.Len() != b.Len() {
			t.Errorf("%s: kept %+v of %d points, made %+v of %d", name, a.Header, a.Len(), b.Header, b.Len())
			continue
		}
		off, worst := 0, 0.0
		for i := range a.Value {
			if d := math.Abs(a.Value[i] - b.Value[i]); d > 1e-6 {
				off++
				worst = max(worst, d)
			}
		}
		if off > a.Len()/1000 || worst > 1.01*0.02*inHg {
			t.Errorf("%s: %d of %d samples differ, by %.3g Pa at most", name, off, a.Len(), worst)
		}
	}
}

func mustRead(t *testing.T, text []byte) *trace.Trace {
	t.Helper()
	tr, err := trace.Read(bytes.NewReader(text), trace.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// Each test takes about as long as a person's does, and its gauge shows what
// the rig allows: near zero vented, the pump's blanked reading at most.
func TestTracesArePlausible(t *testing.T) {
	for i, p := range ports {
		tr, err := p.trace(uint64(i + 1))
		if err != nil {
			t.Fatal(err)
		}
		if end := tr.Time[tr.Len()-1]; end < 60 || end > 80 {
			t.Errorf("%s lasts %.1f s, want 60 to 80", p.name, end)
		}
		if v := tr.Value[0]; math.Abs(v-gaugeZero) > 5*gaugeNoise {
			t.Errorf("%s: vented reading %.0f Pa, want about %.0f", p.name, v, gaugeZero)
		}
		deepest := 0.0
		for _, v := range tr.Value {
			deepest = max(deepest, v)
		}
		if most := blanked*(1+4*scatter) + 500; deepest > most {
			t.Errorf("%s: deepest %.0f Pa, more than the pump reaches, %.0f", p.name, deepest, most)
		}
		if math.Abs(tr.Value[tr.Len()-1]-gaugeZero) > 300 {
			t.Errorf("%s: ends at %.0f Pa, want the room", p.name, tr.Value[tr.Len()-1])
		}
	}
}

// Over the last pascals before the room a flow goes to zero in a straight
// line, and beyond it turns with it.
func TestIntoRoom(t *testing.T) {
	flow := intoRoom(gas.Opening{Area: ventArea})
	edge := flow(air - rest)
	for _, c := range []struct{ below, want float64 }{{0, 0}, {rest / 2, edge / 2}, {rest, edge}, {-rest / 2, -edge / 2}} {
		if got := flow(air - c.below); math.Abs(got-c.want) > 1e-9*edge {
			t.Errorf("flow %g Pa below the room: %g kg/s, want %g", c.below, got, c.want)
		}
	}
	// Choked flow through the vent: 0.0404147 A p1/sqrt(T1), docs/model.md §1.
	want := 0.0404147 * ventArea * air / math.Sqrt(airTemp)
	if got := flow(air * 0.3); math.Abs(got-want) > 1e-5*want {
		t.Errorf("choked: %g kg/s, want %g", got, want)
	}
}
