package trace

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"seatproof/gas"
	"seatproof/rig"
)

// play is an invented test of a port, played through the forward model: what
// happens when, and what the gauge makes of it.
type play struct {
	vented, pull, hold, after float64 // s
	leak                      float64 // cm³/min of free air at 50 kPa
	seep                      bool
	rate                      float64 // Hz
	noise, step               float64 // Pa
	zero                      float64 // Pa
	volume, free              float64 // cm³, L/min
	seed                      uint64
	from, to                  float64 // s, what was recorded; to 0: all
	absolute                  bool
	spikes                    bool
}

const playRoom = 100600.0 // Pa

func (p play) shutOff() float64 { return p.vented + p.pull }

// trace returns the recording, and the true pressure it was made from.
func (p play) trace(t testing.TB) *Trace {
	t.Helper()
	if p.volume == 0 {
		p.volume = 157
	}
	if p.free == 0 {
		p.free = 10
	}
	const temp = 293.15
	q := p.leak * 1e-6 / 60
	var e gas.Element
	var err error
	if p.seep {
		e, err = gas.SeepFor(q, gas.StatedVacuum, playRoom, temp, math.Pi*27e-3, 0.3e-3)
	} else {
		e, err = gas.OpeningFor(q, gas.StatedVacuum, playRoom, temp, 0.5)
	}
	if err != nil {
		t.Fatal(err)
	}
	into := func(e gas.Element) func(p float64) float64 {
		at := func(x float64) float64 {
			m, err := e.MassFlow(playRoom, math.Max(0, x), temp)
			if err != nil {
				return math.NaN()
			}
			return m
		}
		end := at(playRoom - 20)
		return func(x float64) float64 {
			if d := playRoom - x; d < 20 {
				return end * d / 20
			}
			return at(x)
		}
	}
	rho := gas.Density(playRoom, temp)
	c := rig.Closed{Volume: p.volume * 1e-6, AirPressure: playRoom, AirTemp: temp, Tau: 0.3, Leak: into(e), Pump: func(x float64) float64 {
		return rho * p.free * 1e-3 / 60 * math.Max(0, 1-(playRoom-x)/78e3)
	}}
	run, err := c.Run([]rig.Step{{For: p.vented}, {For: p.pull, Pumping: true}, {For: p.hold}, {For: p.after, Inflow: into(gas.Opening{Area: 3e-6})}})
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(p.seed, 1))
	tr := &Trace{Kind: Vacuum, Step: p.step}
	if p.absolute {
		tr.Kind = Absolute
	}
	whole := p.vented + p.pull + p.hold + p.after
	for i := range int(whole * p.rate) {
		at := float64(i) / p.rate
		x, _ := run.Pressure(at)
		v := playRoom - x + p.zero + p.noise*r.NormFloat64()
		if p.spikes && i%97 == 50 {
			v += 4e3 * (r.Float64() - 0.5)
		}
		if p.absolute {
			v = playRoom - v
		}
		if p.step > 0 {
			v = math.Round(v/p.step) * p.step
		}
		if at >= p.from && (p.to == 0 || at < p.to) {
			tr.Time = append(tr.Time, at)
			tr.Value = append(tr.Value, v)
		}
	}
	return tr
}

// names returns the phases of a trace as one word.
func (p *Phases) names() string {
	var n []string
	for _, ph := range p.List {
		n = append(n, string(ph.Name))
	}
	return strings.Join(n, " ")
}

// checkPhases fails unless phases lie within the trace, in order, without
// overlap, and the shut-off between its bounds and at the start of the hold.
func checkPhases(t testing.TB, tr *Trace, p Phases) {
	t.Helper()
	last := -1
	for _, ph := range p.List {
		if ph.First <= last || ph.Last < ph.First || ph.Last >= tr.Len() {
			t.Errorf("phase %+v after point %d of %d", ph, last, tr.Len())
			return
		}
		if ph.From != tr.Time[ph.First] || ph.To != tr.Time[ph.Last] {
			t.Errorf("phase %+v does not stand on its points", ph)
		}
		last = ph.Last
	}
	if h, ok := p.Find(Hold); ok {
		if !(p.Earliest <= p.ShutOff && p.ShutOff <= p.Latest) || p.ShutOff > h.From {
			t.Errorf("shut off %v within %v to %v, hold from %v", p.ShutOff, p.Earliest, p.Latest, h.From)
		}
	}
	for _, x := range []float64{p.Noise, p.Room, p.Deepest, p.ShutOff, p.Earliest, p.Latest} {
		if !isFinite(x) {
			t.Errorf("a figure that is none: %+v", p)
			return
		}
	}
}

func TestFindPhases(t *testing.T) {
	base := play{vented: 2, pull: 12, hold: 20, after: 2, leak: 60, rate: 50, noise: 30, step: 10}
	with := func(f func(p *play)) play {
		p := base
		f(&p)
		return p
	}
	const all = "vented pull steady hold vented"
	for _, c := range []struct {
		name   string
		play   play
		phases string
		off    float64 // s, most the shut-off may be off
		end    float64 // s, most the end of the hold may be off; 0: not looked at
	}{
		{"a usual test", base, all, 0.15, 0.1},
		{"a seep", with(func(p *play) { p.seep = true }), all, 0.15, 0.1},
		{"a slow leak", with(func(p *play) { p.leak, p.hold = 5, 60 }), all, 3, 0.1},
		{"a slow leak, steady gauge", with(func(p *play) { p.leak, p.hold, p.noise = 5, 60, 5 }), all, 1, 0.1},
		{"a fast leak", with(func(p *play) { p.leak, p.hold = 1500, 8 }), all, 0.04, 0},
		{"a leak too large to hold", with(func(p *play) { p.leak, p.hold, p.rate, p.free = 4000, 6, 100, 20 }), all, 0.04, 0},
		{"ten samples a second", with(func(p *play) { p.rate = 10 }), all, 0.35, 0.6},
		{"250 samples a second", with(func(p *play) { p.rate = 250 }), all, 0.1, 0.08},
		{"one sample a second", with(func(p *play) { p.rate, p.vented, p.hold, p.after = 1, 5, 40, 5 }), all, 2, 6},
		{"absolute pressure", with(func(p *play) { p.absolute = true }), all, 0.15, 0.1},
		{"a zero that is off", with(func(p *play) { p.zero = -1800 }), all, 0.15, 0.1},
		{"noise under the step", with(func(p *play) { p.noise, p.step = 10, 100 }), all, 0.4, 0.1},
		{"no noise, coarse steps", with(func(p *play) { p.noise, p.step = 0, 500 }), all, 1.5, 0.1},
		{"no noise, no steps", with(func(p *play) { p.noise, p.step = 0, 0 }), all, 0.05, 0.05},
		{"noisy", with(func(p *play) { p.noise, p.step = 250, 100 }), all, 0.6, 0.1},
		{"spikes left in", with(func(p *play) { p.spikes = true }), all, 0.6, 0.2},
		{"large volume", with(func(p *play) { p.volume, p.pull = 400, 25 }), all, 0.5, 0.3},
		{"shut off in mid-pull", with(func(p *play) { p.pull, p.free = 2.2, 4 }), "", 0.15, 0.2},
		{"never shut off", with(func(p *play) { p.to = 13.5 }), "vented pull steady", 0, 0},
		{"never shut off, then vented", with(func(p *play) { p.hold = 0 }), "vented pull steady vented", 0, 0},
		{"vented only", with(func(p *play) { p.to = 2 }), "vented", 0, 0},
		{"begins in mid-pull", with(func(p *play) { p.from = 3 }), "pull steady hold vented", 0.15, 0.1},
		{"begins steady", with(func(p *play) { p.from = 11 }), "", 0.15, 0.1},
		{"no vent at the end", with(func(p *play) { p.to = 33.5 }), "vented pull steady hold", 0.15, 0.2},
		{"no vent at either end", with(func(p *play) { p.from, p.to = 3, 33.5 }), "pull steady hold", 0.15, 0.1},
		{"the same, slow pump, many samples", with(func(p *play) { p.from, p.to, p.rate, p.free, p.volume = 3, 33.5, 250, 5, 250 }), "pull steady hold", 0.3, 0.2},
		{"ends in the midst of the vent", with(func(p *play) { p.to = 34.06 }), "vented pull steady hold", 0.15, 0.15},
	} {
		for seed := range uint64(3) {
			p := c.play
			p.seed = seed
			tr := p.trace(t)
			got := FindPhases(tr, PhaseOptions{})
			checkPhases(t, tr, got)
			name := fmt.Sprintf("%s, seed %d", c.name, seed)
			if want := c.phases; want != "" && got.names() != want {
				t.Errorf("%s: got %q, want %q: %+v", name, got.names(), want, got.List)
				continue
			}
			if c.off == 0 {
				if h, ok := got.Find(Hold); ok {
					t.Errorf("%s: got a hold %+v where there is none", name, h)
				}
				continue
			}
			h, ok := got.Find(Hold)
			if !ok {
				t.Errorf("%s: no hold in %+v", name, got.List)
				continue
			}
			if d := got.ShutOff - p.shutOff(); math.Abs(d) > c.off {
				t.Errorf("%s: shut off %.3f s off, at most %v", name, d, c.off)
			}
			// its bounds, widened by a sample for the grid
			slack := 1.5/p.rate + 0.5*(got.Latest-got.Earliest)
			if p.shutOff() < got.Earliest-slack-0.03 || p.shutOff() > got.Latest+slack+0.03 {
				t.Errorf("%s: shut off at %.3f s, bounds %.3f to %.3f", name, p.shutOff(), got.Earliest, got.Latest)
			}
			end := p.shutOff() + p.hold
			if p.to != 0 && p.to < end {
				end = p.to
			}
			if c.end > 0 && math.Abs(h.To-end) > c.end+1/p.rate {
				t.Errorf("%s: hold ends at %.3f s, truly %.3f", name, h.To, end)
			}
			if v, ok := got.Find(Vented); ok && v.First == 0 && math.Abs(v.To-p.vented) > 0.1+2/p.rate {
				t.Errorf("%s: vented until %.3f s, truly %.3f", name, v.To, p.vented)
			}
			if p.noise > 0 && p.step < 2*p.noise && !p.spikes && p.rate > 1 && (got.Noise < 0.5*p.noise || got.Noise > 2*p.noise+p.step) {
				t.Errorf("%s: noise %.3g Pa, truly %v", name, got.Noise, p.noise)
			}
		}
	}
}

// The shut-off that a person gives is taken, clipped to the trace.
func TestFindPhasesShutOffGiven(t *testing.T) {
	p := play{vented: 2, pull: 12, hold: 20, after: 2, leak: 60, rate: 50, noise: 30, step: 10}
	tr := p.trace(t)
	for _, at := range []float64{14, 13.2, 15.5} {
		got := FindPhases(tr, PhaseOptions{ShutOff: &at})
		checkPhases(t, tr, got)
		if math.Abs(got.ShutOff-at) > 0.03 {
			t.Errorf("got %v, said %v", got.ShutOff, at)
		}
	}
	for _, at := range []float64{-10, 0, 36, 1e9, math.Inf(1), math.Inf(-1)} {
		checkPhases(t, tr, FindPhases(tr, PhaseOptions{ShutOff: &at}))
	}
}

// A fall from the steady reading to the room is a leak's where it is no steeper
// than a leak can be, else a vent.
func TestFastestFallTellsAVent(t *testing.T) {
	p := play{vented: 2, pull: 10, hold: 5, leak: 4000, rate: 100, noise: 30, step: 10, free: 20}
	tr := p.trace(t)
	steepest := 0.0
	for i := 5; i < tr.Len(); i++ {
		steepest = math.Max(steepest, (tr.Value[i-5]-tr.Value[i])/(tr.Time[i]-tr.Time[i-5]))
	}
	for _, c := range []struct {
		fastest float64
		hold    bool
	}{{3 * steepest, true}, {0.2 * steepest, false}} {
		got := FindPhases(tr, PhaseOptions{FastestFall: func(float64) float64 { return c.fastest }})
		if _, ok := got.Find(Hold); ok != c.hold {
			t.Errorf("a fall of %.0f Pa/s, the fastest leak %.0f: hold %v, want %v", steepest, c.fastest, ok, c.hold)
		}
	}
}

// A gauge that sticks in the pull stands exactly still from there on; one whose
// steps are coarse does so for a while in a slow hold and is not stuck.
func TestFrozen(t *testing.T) {
	p := play{vented: 2, pull: 12, hold: 20, after: 2, leak: 60, rate: 20, noise: 0, step: 100, free: 4}
	tr := p.trace(t)
	if got := FindPhases(tr, PhaseOptions{}); got.Frozen {
		t.Errorf("a sound gauge is called stuck: %+v", got)
	}
	slow := p
	slow.leak, slow.step = 1, 1000
	if got := FindPhases(slow.trace(t), PhaseOptions{}); got.Frozen {
		t.Errorf("a slow leak under coarse steps is called a stuck gauge: %+v", got)
	}
	at := slices.IndexFunc(tr.Value, func(v float64) bool { return v > 40e3 })
	for i := at; i < tr.Len(); i++ {
		tr.Value[i] = math.Min(tr.Value[i], tr.Value[at])
	}
	if got := FindPhases(tr, PhaseOptions{}); !got.Frozen {
		t.Errorf("a gauge stuck at 40 kPa from the pull on is not seen: %+v", got)
	}
}

// Short and odd traces have phases that lie within them, or none.
func TestFindPhasesOfOddTraces(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	noise := func(n int, sd float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = sd * r.NormFloat64()
		}
		return v
	}
	line := func(n int, a, b float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = a + (b-a)*float64(i)/float64(max(1, n-1))
		}
		return v
	}
	join := func(x ...[]float64) []float64 { return slices.Concat(x...) }
	plus := func(a, b []float64) []float64 {
		for i := range a {
			a[i] += b[i]
		}
		return a
	}
	for name, v := range map[string][]float64{
		"empty": {}, "one": {1}, "two": {0, 7e4}, "three": {0, 7e4, 0}, "four": {0, 7e4, 6e4, 0},
		"all equal":              line(100, 5e4, 5e4),
		"rising only":            line(200, 0, 8e4),
		"falling only":           line(200, 8e4, 0),
		"a square":               join(line(20, 0, 0), line(50, 7e4, 7e4), line(20, 0, 0)),
		"noise":                  noise(300, 1e3),
		"loud noise":             noise(300, 5e4),
		"noise on a pull":        plus(line(169, 0, 6e4), noise(169, 5e3)),
		"noise at the end":       join(line(100, 0, 7e4), noise(75, 3e4)),
		"two tests in one file":  join(line(20, 0, 0), line(30, 0, 7e4), line(100, 7e4, 4e4), line(40, 0, 0), line(30, 0, 7e4), line(100, 7e4, 5e4), line(10, 0, 0)),
		"a saw":                  join(line(30, 0, 7e4), line(30, 7e4, 0), line(30, 0, 7e4), line(30, 7e4, 0)),
		"huge":                   join(line(30, 0, 0), line(30, 1e15, 1e15), line(30, 7e4, 6e4)),
		"deepest at the far end": plus(join(line(20, 0, 0), line(155, 5e4, 6e4)), noise(175, 2e3)),
	} {
		for _, dt := range []float64{0.01, 0.1, 2, 0} {
			for _, kind := range []Kind{Vacuum, Absolute} {
				tr := &Trace{Kind: kind, Value: v}
				for i := range v {
					tr.Time = append(tr.Time, dt*float64(i))
				}
				checked := func() (p Phases, broke any) {
					defer func() { broke = recover() }()
					return FindPhases(tr, PhaseOptions{}), nil
				}
				p, broke := checked()
				if broke != nil {
					t.Errorf("%s, %v s apart, %s: panic: %v", name, dt, kind, broke)
					continue
				}
				checkPhases(t, tr, p)
			}
		}
	}
}

// A pump never shut off, read by a noisy gauge: no hold, and no panic.
func TestNoisyPullWithoutAHold(t *testing.T) {
	for seed := range uint64(30) {
		for _, rate := range []float64{5, 20, 60} {
			p := play{vented: 1, pull: 4 + float64(seed%5), leak: 50, rate: rate, noise: 100 * float64(1+seed%9), seed: seed, volume: 300}
			tr := p.trace(t)
			got := FindPhases(tr, PhaseOptions{})
			checkPhases(t, tr, got)
		}
	}
}

// The open recordings: an evacuated vessel that fills is a fall without an end;
// chambers under pressure stand above the room all the time (settling, then a
// slope, no pull): phases lie within them and nothing breaks.
func TestPhasesOfOpenRecordings(t *testing.T) {
	for _, name := range []string{"hyddown_air_3_7kpa_271mm", "zillen_hold_aluminium", "zillen_hold_formlabs", "zillen_hold_prusa"} {
		f, err := os.Open("testdata/open/" + name + ".csv")
		if err != nil {
			t.Fatal(err)
		}
		tr, err := Read(f, ReadOptions{})
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		p := FindPhases(tr, PhaseOptions{})
		checkPhases(t, tr, p)
		if len(p.List) == 0 {
			t.Errorf("%s: no phases", name)
		}
	}
}

// The noise of one point, from second differences: whatever the level, a slope
// or a few spikes do.
func TestNoise(t *testing.T) {
	for _, sd := range []float64{1, 40, 900} {
		for _, n := range []int{60, 400, 5000} {
			got := 0.0
			const times = 40
			for seed := range uint64(times) {
				r := rand.New(rand.NewPCG(seed, uint64(n)))
				u := make([]float64, n)
				for i := range u {
					u[i] = sd*r.NormFloat64() + 7e4 - 100*float64(i)/float64(n)
					if i == n/3 || i == n/2 {
						u[i] += 100 * sd
					}
				}
				got += Noise(u) / times
			}
			if got < 0.85*sd || got > 1.3*sd {
				t.Errorf("%d points of noise %v: got %.4g on average", n, sd, got)
			}
		}
	}
	for _, u := range [][]float64{nil, {1}, {1, 2, 3, 4}, {5, 5, 5, 5, 5, 5}} {
		if got := Noise(u); got != 0 {
			t.Errorf("noise of %v: got %v", u, got)
		}
	}
}
