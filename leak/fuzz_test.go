package leak

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime/debug"
	"slices"
	"testing"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// bytesOf deals out the bytes of a fuzzer's input, then zeros.
type bytesOf struct {
	b []byte
}

func (b *bytesOf) one() byte {
	if len(b.b) == 0 {
		return 0
	}
	x := b.b[0]
	b.b = b.b[1:]
	return x
}

func (b *bytesOf) unit() float64 { return float64(b.one()) / 255 } // 0..1

func (b *bytesOf) pick(x ...float64) float64 { return x[int(b.one())%len(x)] }

// wildTrace makes a trace out of bytes: a rate, then stretches of any shape. It
// keeps to what a trace promises (finite figures, times that do not fall).
func wildTrace(b *bytesOf) *trace.Trace {
	tr := &trace.Trace{Kind: trace.Vacuum}
	bits := b.one()
	if bits&1 != 0 {
		tr.Kind = trace.Absolute
	}
	averaged := bits&2 != 0
	dt := b.pick(0.02, 0.1, 0.004, 0.5, 1, 5, 60, 0.05, 1e-4)
	tr.Step = b.pick(0, 10, 100, 1000, 1e-3)
	if bits&4 != 0 {
		tr.Faults.Interval = dt
	}
	now, v := 0.0, 0.0
	if tr.Kind == trace.Absolute {
		v = 101325
	}
	wave := rand.New(rand.NewPCG(uint64(b.one()), 0))
	put := func(x float64) {
		if q := tr.Step; q > 0 && math.Abs(x) < 1e9 {
			x = math.Round(x/q) * q
		}
		tr.Time = append(tr.Time, now)
		tr.Value = append(tr.Value, x)
		if averaged {
			tr.Count = append(tr.Count, int32(1+len(tr.Time)%5))
		}
	}
	for len(b.b) > 0 && len(tr.Time) < 4000 {
		op := b.one()
		n := 1 + int(b.one())
		if op&16 != 0 {
			n = 1 + n/16
		}
		to := (b.unit()*1.4 - 0.2) * 100e3
		if tr.Kind == trace.Absolute {
			to = 101325 - to
		}
		noise := 0.0
		if op&32 != 0 {
			noise = b.unit() * 1e3
		}
		from := v
		for i := range n {
			f := float64(i+1) / float64(n)
			switch op % 16 {
			case 0: // still
			case 1, 2: // a line
				v = from + f*(to-from)
			case 3, 4: // a pull or a fall that slows
				v = to + (from-to)*math.Exp(-5*f)
			case 5: // a jump
				v = to
			case 6: // a slow fall
				v -= math.Copysign(float64(n)*0.1, float64(from-0))
			case 7: // to and fro
				v = from + (to-from)*float64(i%2)
			case 8: // a spike
				v = from
				if i == n/2 {
					put(to)
					now += dt
				}
			case 9: // something huge
				v = from * 1e6
				if i == n-1 {
					v = math.Copysign(b.pick(1e7, 1e12, 1e100, 1e300), v)
				}
			case 10: // repeated stamps
				v = from + f*(to-from)/10
				now -= dt
			case 11: // a pause
				if i == 0 {
					now += dt * float64(n) * 10
				}
			case 12:
				v = from + 100*math.Sin(float64(i))
			case 13: // tiny
				v = from * (1 + f*1e-13)
			case 14: // back to the start of the scale
				v = 0
			default: // faster and faster
				v = from + (to-from)*f*f*f
			}
			x := v
			if noise > 0 {
				x += noise * wave.NormFloat64()
			}
			put(x)
			now += dt
		}
		if op%16 == 9 {
			v = from
		}
	}
	return tr
}

// wildRig makes a rig that a rig file may hold, with much of it left out.
func wildRig(b *bytesOf) (r rig.Rig, o Options) {
	has := [3]byte{b.one(), b.one(), b.one()}
	maybe := func(i int) bool { return has[i/8]>>(i%8)&1 != 0 }
	some := func(i int, m unit.Measured) unit.Measured {
		if maybe(i) {
			return m
		}
		return unit.Measured{}
	}
	x := b.unit()
	part := func(v, of float64) unit.Measured { return unit.About(v, v*of) }
	r.Volume = some(0, part(b.pick(62e-6, 1e-6, 0.1, 1e-8), x))
	r.Port.Volume = some(1, part(b.pick(95e-6, 5e-6, 0.1), b.pick(0.3, 0, 1)))
	r.RigLeak = some(2, unit.About(b.pick(0, 1e-8, 1e-4), x*1e-8))
	r.Pump.FreeFlow = some(3, unit.About(b.pick(10e-3/60, 1e-9, 2./60), 0))
	r.Pump.Blanked = some(4, unit.About(b.pick(78e3, 100, 110e3), b.pick(0, 2e3, 80e3)))
	if maybe(5) {
		r.Pump.Curve = []rig.PumpPoint{{Vacuum: 0, Flow: b.pick(1e-4, 1e-2)}, {Vacuum: 40e3, Flow: 0.5e-4}, {Vacuum: 78e3, Flow: b.pick(0, 1e-5)}}
	}
	r.Pump.RatedAt = some(6, unit.Exactly(101325))
	r.Hose.Bore = some(7, unit.Exactly(b.pick(4e-3, 1e-4, 0.1)))
	r.Hose.Length = some(8, unit.Exactly(b.pick(1.2, 1e-3, 100)))
	r.Hose.GaugeAt = []rig.GaugePlace{"", rig.GaugeAtPort, rig.GaugeAtPump}[b.one()%3]
	r.Gauge.Accuracy = some(9, unit.Exactly(b.pick(0.005, 0, 1)))
	if maybe(10) {
		r.Gauge.Span = rig.Span{Low: 0, High: b.pick(100e3, 1e3, 1e7), Known: true}
	}
	if maybe(11) {
		r.Gauge.Resolution = b.pick(50, 1e-3, 20e3)
	}
	r.Gauge.Zero = some(12, unit.About(b.pick(0, 5e3, -110e3), 200))
	r.Gauge.Response = some(13, unit.About(b.pick(0.05, 0, 60), b.pick(0, 0.01, 60)))
	r.Air.Pressure = some(14, unit.About(b.pick(101325, 50e3, 110e3), b.pick(100, 0, 5e3)))
	r.Air.Altitude = some(15, unit.Exactly(b.pick(0, 5500, -500)))
	r.Air.Temperature = some(16, unit.About(b.pick(293.15, 233.15, 333.15), b.pick(0, 5)))
	r.Port.HeadTemperature = some(17, unit.About(b.pick(293.15, 373.15), 3))
	r.Port.Held = []rig.Held{"", rig.HeldNothing, rig.HeldThumb, rig.HeldLightSpring, rig.HeldOwnSpring}[b.one()%5]
	r.Port.WetWith = []rig.Liquid{"", rig.WetNothing, rig.WetOil, rig.WetWater, rig.WetIsopropanol, rig.WetPetrol}[b.one()%6]
	if maybe(18) {
		o.Seat = &Seat{Diameter: b.pick(27e-3, 5e-3, 0.2), Contact: b.pick(0.3e-3, 1e-5, 1e-2)}
	}
	if maybe(19) {
		at := b.pick(5, 0, -1, 1e6, 12.3)
		o.ShutOff = &at
	}
	return r, o
}

// FuzzRead makes rigs and traces of any shape: reading them must neither panic
// nor answer with a figure that is none, and what it answers must hang
// together.
func FuzzRead(f *testing.F) {
	// a sound test, then its parts in odd orders
	sound := []byte{0, 0, 1, 4, 0, 100, 36, 3, 255, 208, 5, 0, 60, 208, 5, 38, 255, 180, 5, 1, 255, 120, 17, 0, 0, 0, 60, 0}
	full := []byte{0xff, 0xdf, 0x07}
	f.Add(append(slices.Clone(full), append(make([]byte, 30), sound...)...))
	f.Add(append([]byte{0, 0, 0}, append(make([]byte, 30), sound...)...))
	f.Add([]byte{})
	for i := range 40 {
		r := rand.New(rand.NewPCG(11, uint64(i)))
		b := make([]byte, 40+r.IntN(120))
		for k := range b {
			b[k] = byte(r.IntN(256))
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 400 {
			b = b[:400]
		}
		in := &bytesOf{b}
		r, o := wildRig(in)
		tr := wildTrace(in)
		before := slices.Clone(tr.Value)
		defer func() {
			if p := recover(); p != nil { // so that the other inputs are still tried
				t.Fatalf("panic: %v\n%s", p, debug.Stack())
			}
		}()
		rd := Read(tr, r, o)
		checkReading(t, rd)
		if !slices.Equal(before, tr.Value) {
			t.Error("reading changed the trace")
		}
	})
}

// checkReading fails unless every figure of a reading is a finite number and
// the figures agree with one another.
func checkReading(t testing.TB, rd *Reading) {
	t.Helper()
	if rd == nil {
		t.Fatal("no reading")
	}
	finiteIn(t, "Reading", reflect.ValueOf(*rd))
	ordered := func(name string, i *Interval, lowest float64) {
		if i != nil && !(i.Low <= i.Median && i.Median <= i.High && i.Low >= lowest) {
			t.Errorf("%s: got %+v, want low <= median <= high from %v", name, *i, lowest)
		}
	}
	inf := math.Inf(-1)
	ordered("leak", rd.Leak, 0)
	ordered("tested again", rd.TestedAgain, 0)
	ordered("share", rd.Share, 0)
	ordered("edge", rd.Edge, 0)
	ordered("nozzle diameter", rd.NozzleDiameter, 0)
	ordered("gap", rd.Gap, 0)
	ordered("blanked", rd.Blanked, inf)
	ordered("rate of fall", rd.FallRate, inf)
	ordered("zero", rd.Zero, inf)
	if rd.Steady != nil {
		ordered("steady vacuum", &rd.Steady.Vacuum, inf)
		ordered("steady flow", rd.Steady.Flow, 0)
		ordered("steady flow at 50 kPa", rd.Steady.At50, 0)
	}
	for _, i := range []*Interval{rd.Share, rd.Edge} {
		if i != nil && i.High > 1 {
			t.Errorf("got %+v, want at most 1", *i)
		}
	}
	sum := 0.0
	for _, l := range rd.Budget {
		sum += l.Share
		if l.Share < 0 || l.Share > 1+1e-9 || l.Input == "" {
			t.Errorf("budget line %+v", l)
		}
	}
	if len(rd.Budget) > 0 && math.Abs(sum-1) > 1e-4 {
		t.Errorf("the budget adds to %v, want 1: %+v", sum, rd.Budget)
	}
	if rd.Leak != nil && (rd.TestedAgain == nil || len(rd.Draws) == 0 || rd.Source == "" || rd.Kind == "") {
		t.Errorf("a leak rate without its company: again %v, %d draws, source %q, kind %q", rd.TestedAgain, len(rd.Draws), rd.Source, rd.Kind)
	}
	if rd.Refusal != nil && rd.Leak != nil {
		t.Errorf("refused (%s) and answered (%+v)", rd.Refusal.Code, *rd.Leak)
	}
	if rd.Refusal == nil && rd.Leak == nil && rd.FallRate == nil {
		t.Error("neither a refusal nor a leak rate nor a rate of fall")
	}
	last := math.Inf(-1)
	for _, ph := range rd.Phases {
		if ph.From > ph.To || ph.First > ph.Last || ph.From < last {
			t.Errorf("phases out of order: %+v", rd.Phases)
		}
		last = ph.From
	}
	if rd.Leak != nil {
		if c := rd.ChanceOver(20e-6 / 60); !(c >= 0 && c <= 1) {
			t.Errorf("chance of being over 20 cm³/min: got %v", c)
		}
	}
}

// finiteIn fails on every figure within v that is not a finite number.
func finiteIn(t testing.TB, name string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%s is %v", name, x)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			finiteIn(t, name, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			finiteIn(t, name+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			finiteIn(t, name+"[]", v.Index(i))
			if t.Failed() {
				return
			}
		}
	default: // texts and counts
	}
}
