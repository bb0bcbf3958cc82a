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
	if want := len(jobs()) + len(maskJobs()) + 5; len(files) != want {
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
	for _, p := range append(jobs(), maskJobs()...) {
		tr, err := p.trace()
		if err != nil {
			t.Fatal(err)
		}
		if end := tr.Time[tr.Len()-1]; end < 60 || end > 80 {
			t.Errorf("%s lasts %.1f s, want 60 to 80", p.file, end)
		}
		if v := tr.Value[0]; math.Abs(v-gaugeZero) > 5*gaugeNoise {
			t.Errorf("%s: vented reading %.0f Pa, want about %.0f", p.file, v, gaugeZero)
		}
		deepest := 0.0
		for _, v := range tr.Value {
			deepest = max(deepest, v)
		}
		if most := blanked*(1+4*scatter) + 500; deepest > most {
			t.Errorf("%s: deepest %.0f Pa, more than the pump reaches, %.0f", p.file, deepest, most)
		}
		if math.Abs(tr.Value[tr.Len()-1]-gaugeZero) > 300 {
			t.Errorf("%s: ends at %.0f Pa, want the room", p.file, tr.Value[tr.Len()-1])
		}
	}
}

// The oiled valve's trace falls slowly while the film holds, then as its leak
// does; the wet port's falls faster at first than at the end, by more than the
// vacuum is less; that of a dry port does not.
func TestWhatIsBesideLeaking(t *testing.T) {
	// falls returns how fast the vacuum falls [Pa/s] over 4 s from each of two
	// times since the shut-off.
	falls := func(j job, from, to float64) (a, b float64) {
		tr, err := j.trace()
		if err != nil {
			t.Fatal(err)
		}
		at := func(s float64) float64 {
			sum, n := 0.0, 0.0
			for i, x := range tr.Time {
				if d := x - j.vented - j.pull - s; d >= 0 && d < 1 {
					sum, n = sum+tr.Value[i], n+1
				}
			}
			return sum / n
		}
		return (at(from) - at(from+4)) / 4, (at(to) - at(to+4)) / 4
	}
	for _, j := range jobs() {
		early, late := falls(j, 3, 25)
		switch {
		case j.frozen > 0:
		case j.film != nil:
			if late < 3*early || early < 100 {
				t.Errorf("%s: falls by %.0f Pa/s, then %.0f, want a slow fall and then a fast one", j.file, early, late)
			}
		case j.wet != nil:
			if early < 1.5*late {
				t.Errorf("%s: falls by %.0f Pa/s, then %.0f, want vapour that dies away", j.file, early, late)
			}
		case early > 1.5*late && j.share > 0:
			t.Errorf("%s: falls by %.0f Pa/s, then %.0f, want no such bend", j.file, early, late)
		}
	}
}

// Tests of a port scatter about its leak, and differ from each other.
func TestTestsScatter(t *testing.T) {
	leaks := map[string][]float64{}
	for _, j := range jobs() {
		leaks[j.name] = append(leaks[j.name], j.leak)
		if x := math.Abs(math.Log(j.leak / j.level)); len(j.tests) > 1 && (x == 0 || x > 3*betweenTests) || len(j.tests) == 1 && x != 0 {
			t.Errorf("%s: %g cm³/min about %g", j.file, j.leak, j.level)
		}
	}
	for name, want := range map[string]int{"cylinder 1 intake": 3, "cylinder 2 intake": 2, "cylinder 3 exhaust": 3} {
		if len(leaks[name]) != want {
			t.Errorf("%s has %d tests, want %d", name, len(leaks[name]), want)
		}
	}
}

// What is left open with a mask on is no more than the port, and with both valves
// masked the least.
func TestMasksAddUp(t *testing.T) {
	for _, p := range ports {
		left := map[string]float64{}
		for _, m := range p.masks {
			left[m.masked] = m.leak
		}
		if len(left) > 0 && math.Abs(left["left"]+left["right"]-left["left and right"]-p.leak) > 1e-9 {
			t.Errorf("%s: %v of %g cm³/min", p.name, left, p.leak)
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
