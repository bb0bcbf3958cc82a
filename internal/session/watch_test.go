package session

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"seatproof/trace"
)

// change is a phase as it was announced.
type change struct {
	phase trace.PhaseName
	at    float64
}

// follow brings the samples to a watch and lists the changes. At the pull it
// must know the room as the gauge shows it.
func (v *invented) follow(t *testing.T) (list []change) {
	w := NewWatch(v.kind, 0)
	for i, at := range v.time {
		if w.Add(at, v.value[i]) {
			p, _ := w.Phase()
			if n := len(list); n == 0 || list[n-1].phase != p {
				list = append(list, change{p, at})
			}
			want := v.bareAt(v.on - 0.1)
			if v.kind == trace.Absolute {
				want = v.pa - want
			}
			if room, ok := w.Room(); p == trace.Pull && len(list) == 2 && (!ok || math.Abs(room-want) > max(0.6*v.step, 10+4*v.noise/math.Sqrt(max(4, v.on*v.rate-8)))) {
				t.Errorf("the room reads %.0f at the pull, want %.0f (noise %.0f, step %.0f)", room, want, v.noise, v.step)
			}
		}
	}
	return list
}

// told are the moments at which each change can first be told from what the
// gauge shows, and the latest at which a steady reading begins.
type told struct{ pull, steadyEarly, steady, hold, vented float64 }

// tell works out when a change can first be told: when the gauge, taken without
// its noise and its steps, has moved by the larger of 1 kPa, four times its
// noise and two steps; a steady reading, when it stays within 1 % of what it
// comes to, or half a step, or twice its noise.
func (v *invented) tell() told {
	room := v.bareAt(v.on - 0.1)
	move := math.Max(1e3, math.Max(4*v.noise, 2*v.step))
	end := v.bareAt(v.off - 1/v.rate)
	reach := end - room
	last := v.bareAt(v.vent - 1/v.rate)
	late := math.Max(0.01*reach, math.Max(v.step/2, 2*v.noise))
	early := math.Max(0.06*reach, math.Max(3*v.step, 6*v.noise)) + v.play + v.friction
	return told{
		pull:        v.first(v.on, func(b float64) bool { return b > room+move }),
		steadyEarly: v.first(v.on, func(b float64) bool { return b > end-early }),
		steady:      v.first(v.on, func(b float64) bool { return b > end-late }),
		hold:        v.first(v.off, func(b float64) bool { return b < end-move }),
		vented:      v.first(v.vent, func(b float64) bool { return b < last-move }),
	}
}

// fault says what is false in the phases that were announced; "": nothing.
func (v *invented) fault(list []change, w told) string {
	order := []trace.PhaseName{trace.Vented, trace.Pull, trace.Steady, trace.Hold, trace.Vented}
	k := -1
	seen := map[int]float64{}
	for _, c := range list {
		k++
		for k < len(order) && order[k] != c.phase {
			k++
		}
		if k == len(order) {
			return fmt.Sprintf("%s at %.2f is out of order", c.phase, c.at)
		}
		seen[k] = c.at
	}
	for i, from := range []float64{0, v.on, w.steadyEarly, v.off, v.vent} {
		at, ok := seen[i]
		switch {
		case !ok && i == 3 && w.hold > v.vent-0.3: // the leak was too slow, or the hold too short
		case i == 4 && last(list).phase == trace.Vented && v.bareAt(v.vent-0.05)-v.bareAt(v.on-0.1) < 0.1*v.bareAt(v.off):
			// it was at the room before the fitting was opened
		case !ok:
			return fmt.Sprintf("%s was never announced", order[i])
		case at < from-1e-9:
			return fmt.Sprintf("%s at %.2f, which came at %.2f", order[i], at, from)
		}
	}
	return ""
}

func last(list []change) change {
	if len(list) == 0 {
		return change{}
	}
	return list[len(list)-1]
}

// Random tests of the forward model, on gauges of 10 to 1,000 samples a second,
// noise of 5 to 250 Pa, steps up to half an inch of mercury, a third of them
// absolute: no phase is false, and each is announced within 300 ms of the
// moment at which it can first be told.
const phaseSeed = 77

func TestPhases(t *testing.T) {
	n := 400
	if testing.Short() {
		n = 60
	}
	var delay [5][]float64
	var raw [5][]float64
	faults := 0
	for i := range n {
		v := inventTest(t, rand.New(rand.NewPCG(phaseSeed, uint64(i))))
		list := v.follow(t)
		w := v.tell()
		if f := v.fault(list, w); f != "" {
			faults++
			t.Errorf("test %d (%.0f/s, noise %.0f, step %.0f, play %.0f, friction %.0f, lag %.2f, %.0f cm³/min, %.0f cm³, on %.2f off %.2f vent %.2f): %s; %+v %v",
				i, v.rate, v.noise, v.step, v.play, v.friction, v.lag, v.flow/cm3min, v.volume*1e6, v.on, v.off, v.vent, f, w, list)
			continue
		}
		for _, c := range list {
			k, from, can := -1, 0.0, 0.0
			switch c.phase {
			case trace.Pull:
				k, from, can = 1, v.on, w.pull
			case trace.Steady:
				k, from, can = 2, w.steady, w.steady
			case trace.Hold:
				k, from, can = 3, v.off, w.hold
			case trace.Vented:
				if c.at > v.vent {
					k, from, can = 4, v.vent, w.vented
				}
			}
			if k < 0 || math.IsInf(can, 1) || k == 3 && can > v.vent {
				continue
			}
			d := math.Max(0, c.at-can)
			delay[k] = append(delay[k], d)
			raw[k] = append(raw[k], c.at-from)
			if d > 0.3+1e-9 {
				t.Errorf("test %d (%.0f/s, noise %.0f, step %.0f, play %.0f, friction %.0f, lag %.2f, %.0f cm³/min, %.0f cm³): %s %.0f ms after it could be told",
					i, v.rate, v.noise, v.step, v.play, v.friction, v.lag, v.flow/cm3min, v.volume*1e6, c.phase, 1e3*d)
			}
		}
	}
	for k, name := range []string{"", "pull", "steady", "hold", "vented"} {
		if k == 0 {
			continue
		}
		slices.Sort(delay[k])
		slices.Sort(raw[k])
		t.Logf("%-6s %d announced; after it could be told: median %.0f, 95 %% %.0f, at most %.0f ms; after it began: median %.0f, at most %.0f ms",
			name, len(delay[k]), 1e3*part(delay[k], 0.5), 1e3*part(delay[k], 0.95), 1e3*part(delay[k], 1), 1e3*part(raw[k], 0.5), 1e3*part(raw[k], 1))
	}
	t.Logf("%d of %d tests with a false phase", faults, n)
}

// Samples that a bad line made of others, up to one in a hundred and at any height,
// move no phase; neither does a gap in a pull.
func TestPhasesOnBadLine(t *testing.T) {
	n := 400
	if testing.Short() {
		n = 60
	}
	spikes, gaps := 0, 0
	for i := range n {
		r := rand.New(rand.NewPCG(phaseSeed, uint64(i)))
		v := inventTest(t, r)
		if v.rate < 20 {
			continue // two of such in a row are half a second
		}
		w := v.tell()
		for k := 2; k < len(v.time)-2; k++ {
			// the first second is the gauge's own, in which its noise is learned
			if v.time[k] > 1 && v.step < 1e3 && r.Float64() < 0.01 { // steps of half an inch are a needle's, which has no line
				v.value[k] = 100e3 * r.Float64()
				k += max(3, int(0.1*v.rate)) // two in three bins are more than can be told from a fall
				spikes++
			}
		}
		if i%2 == 0 { // a second of the pull is missing
			from := v.on + 0.3*(w.steadyEarly-v.on)
			var at, value []float64
			for k, x := range v.time {
				if x < from || x > from+1 {
					at, value = append(at, x), append(value, v.value[k])
				}
			}
			if from+1.3 < v.off {
				v.time, v.value = at, value
				gaps++
			}
		}
		if f := v.fault(v.follow(t), w); f != "" {
			t.Errorf("test %d (%.0f/s, noise %.0f, step %.0f, on %.2f off %.2f vent %.2f): %s", i, v.rate, v.noise, v.step, v.on, v.off, v.vent, f)
		}
	}
	if spikes < 1000 || gaps < 10 {
		t.Errorf("%d spikes and %d gaps", spikes, gaps)
	}
}

func part(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	return sorted[min(len(sorted)-1, int(p*float64(len(sorted))))]
}

// A gauge that is under vacuum when the session begins is in no phase until it
// has been at the room.
func TestBeginsUnderVacuum(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	v := &invented{kind: trace.Absolute, rate: 50, noise: 30, step: 10, lag: 0.05, flow: 20 * cm3min, volume: 155e-6, pa: 98e3, on: 2}
	v.simulate(t, r, 10e-3/60, 75e3, 20)
	for _, from := range []float64{v.off - 1, v.off + 2} {
		k := int(from * v.rate)
		w := NewWatch(v.kind, 0)
		for i := k; i < len(v.time); i++ {
			w.Add(v.time[i], v.value[i])
			if p, _ := w.Phase(); p != "" && v.time[i] < v.vent {
				t.Errorf("begun at %.1f: %q at %.2f, which is before the vent at %.2f", from, p, v.time[i], v.vent)
				break
			}
		}
		if p, _ := w.Phase(); p != trace.Vented {
			t.Errorf("begun at %.1f: %q at the end", from, p)
		}
	}
}
