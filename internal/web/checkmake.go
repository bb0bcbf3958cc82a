package web

import (
	"errors"
	"fmt"
	"math"
	"time"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// taken is what was taken in a step of a check.
type taken struct {
	at     time.Time
	stated rig.Rig         // as its owner states it
	rig    rig.Rig         // as its checks say it is
	traces []recorded      // on a live source, or from files
	known  []leak.Interval // with traces: of each, the known leak that was on
	by     map[string]unit.Measured
	rows   []map[string]unit.Measured
	ways   []string  // and what it is made of
	way    string    // the same of those that are typed
	limit  float64   // m³/s, the smallest that the rig's ports have
	blank  *recorded // the hold on the blank that a step leans on; nil: none
}

// recorded is a recording of one pull.
type recorded struct {
	trace *trace.Trace
	shut  *float64 // s in its time, when a person said that the pump was shut off
}

var (
	errNoHold  = errors.New("no hold was seen in it")
	errNoBlank = errors.New("a hold on the blank comes first")
)

// result computes what a step comes to.
func (t *taken) result(code string) (check.Result, error) {
	switch code {
	case stepZero:
		zero := t.by["zero"]
		if len(t.traces) > 0 {
			zero = standing(t.traces[0].trace)
		}
		return check.Zero(t.at, zero, t.stated.Gauge)
	case stepSecond:
		var pairs []check.Pair
		for _, r := range t.rows {
			pairs = append(pairs, check.Pair{Reading: r["reading"], Reference: r["other"], Vented: r["other"].Value == 0})
		}
		second := rig.Gauge{Kind: rig.GaugeNeedle, Class: 100 * t.by["class"].Value, Division: t.by["division"].Value}
		if s := t.by["span"]; s.Known {
			second.Span = rig.Span{High: s.Value, Known: true}
		}
		return check.AgainstGauge(t.at, pairs, t.stated.Gauge, second)
	case stepColumn:
		var points []check.ColumnPoint
		for _, r := range t.rows {
			points = append(points, check.ColumnPoint{Reading: r["reading"], Height: r["height"]})
		}
		return check.AgainstColumn(t.at, points, t.by["water"], t.stated.Gauge)
	case stepBlanked:
		pulls, err := t.pulls()
		if err != nil {
			return check.Result{}, err
		}
		return check.BlankedSeries(t.at, pulls, t.rig)
	case stepRigLeak:
		return check.RigLeak(t.at, t.hold("", 0, check.OnBlank(t.rig)), t.limit, rig.PumpStopped)
	case stepKnown:
		return t.knownLeak()
	case stepTwoHolds:
		return t.twoHolds()
	case stepSyringe:
		var steps []check.Syringe
		for _, r := range t.rows {
			steps = append(steps, check.Syringe{Step: r["step"], Before: t.corrected(r["before"]), After: t.corrected(r["after"])})
		}
		return check.SyringeVolume(t.at, steps, check.AirOf(t.rig), t.rig.Gauge)
	case stepWater:
		return check.WaterVolume(t.at, check.Water{Volume: t.by["volume"], Mass: grams(t.by["mass"])}, t.rig.Hose)
	case stepCurve:
		return t.pumpCurve()
	case stepValve:
		stopped, running := t.hold("a", -1, check.OnBlank(t.rig)), t.hold("b", 0, check.OnBlank(t.rig))
		if stopped == nil && t.blank != nil {
			stopped = session.ReadTold(t.blank.trace, check.OnBlank(t.rig), leak.Options{}, t.blank.shut)
		}
		if stopped == nil || stopped.Leak == nil {
			return check.Result{}, errNoBlank
		}
		if running == nil || running.Leak == nil {
			return check.Result{}, errNoHold
		}
		return check.ShutOffSeep(t.at, *stopped.Leak, *running.Leak, t.limit)
	case stepHose:
		if l := t.by["length"]; l.Known {
			t.rig.Hose.Length = l
		}
		if b := t.by["bore"]; b.Known {
			t.rig.Hose.Bore = b
		}
		return check.HoseLoss(t.at, check.HoseEnds{AtPump: t.corrected(t.by["pump"]), AtPort: t.corrected(t.by["port"]), Flow: t.by["known"]}, t.rig)
	case stepDry:
		var pulls []leak.Interval
		for i := range max(len(t.rows), len(t.traces)) {
			r := t.hold("", i, check.OnBlank(t.rig))
			if r == nil || r.Leak == nil {
				return check.Result{}, fmt.Errorf("pull %d: %w", i+1, errNoHold)
			}
			pulls = append(pulls, *r.Leak)
		}
		return check.Dryness(t.at, pulls)
	case stepHead:
		return check.HeadTemperature(t.at, t.by["head"], t.by["room"])
	}
	return check.Result{}, fmt.Errorf("no step of a check is called %q", code)
}

// pulls are blanked readings in order [Pa], zero taken off.
func (t *taken) pulls() (out []float64, err error) {
	for _, r := range t.rows {
		out = append(out, r["pull"].Value-t.zero())
	}
	for _, r := range t.traces {
		s := leak.Read(r.trace, check.AsRead(check.OnBlank(t.rig)), leak.Options{}).Steady
		if s == nil {
			return nil, errors.New("one of the pulls never stood still")
		}
		out = append(out, s.Vacuum.Median)
	}
	return out, nil
}

// zero is what the gauge shows when it is open to the room [Pa], by its rig.
func (t *taken) zero() float64 { return t.rig.Gauge.Zero.Value }

func (t *taken) zeroed(m unit.Measured) unit.Measured {
	if m.Known {
		m.Value -= t.zero()
	}
	return m
}

// corrected puts a reading by eye right: by the gauge's line where it has one.
func (t *taken) corrected(m unit.Measured) unit.Measured {
	if l := t.rig.Gauge.Line; l != nil && m.Known {
		m.Value = l.Correct(m.Value).Value
		return m
	}
	return t.zeroed(m)
}

// hold reads a hold on a rig: recording i, or the figures of row i or, in a step
// without rows, those of the fields whose keys begin with key. Nil: there is none.
func (t *taken) hold(key string, i int, r rig.Rig) *leak.Reading {
	if i >= 0 && i < len(t.traces) {
		return session.ReadTold(t.traces[i].trace, r, leak.Options{}, t.traces[i].shut)
	}
	from := t.by
	if i >= 0 && i < len(t.rows) {
		from = t.rows[i]
	}
	a, b, s := from[key+"from"], from[key+"to"], from[key+"for"]
	if !a.Known || !b.Known || !s.Known {
		return nil
	}
	tr := &trace.Trace{Kind: trace.Vacuum, Hand: []trace.HandReading{
		{Value: a.Value, Spread: a.Spread}, {Time: s.Value, TimeSpread: s.Spread, Value: b.Value, Spread: b.Spread},
	}}
	return leak.Read(tr, r, leak.Options{})
}

// knownLeak reads the hold on a known leak.
func (t *taken) knownLeak() (check.Result, error) {
	known := t.leakOn(0)
	r := t.hold("", 0, check.OnKnownLeakOf(t.rig))
	var blank *leak.Interval
	if t.blank != nil {
		blank = session.ReadTold(t.blank.trace, check.OnBlank(t.rig), leak.Options{}, t.blank.shut).Leak
	}
	return check.KnownLeak(t.at, r, known, blank)
}

// leakOn is the known leak of recording i, or the one that was typed.
func (t *taken) leakOn(i int) leak.Interval {
	if i >= 0 && i < len(t.known) {
		return t.known[i]
	}
	return within(t.by["known"])
}

func (t *taken) wayOn(i int) string {
	if i < len(t.ways) {
		return t.ways[i]
	}
	return t.way
}

// anyVolume is a volume to read two holds by, whose ratio alone counts [m³].
const anyVolume = 100e-6

// twoHolds turns two holds into the rig's volume: both are read as if it were
// [anyVolume].
func (t *taken) twoHolds() (check.Result, error) {
	r := check.AsVolume(t.rig, anyVolume)
	without := t.hold("a", len(t.traces)-2, r)
	if len(t.traces) < 2 && t.blank != nil {
		without = session.ReadTold(t.blank.trace, r, leak.Options{}, t.blank.shut)
	}
	if without == nil {
		return check.Result{}, errNoBlank
	}
	with := t.hold("b", len(t.traces)-1, r)
	return check.VolumeByReadings(t.at, without, with, anyVolume, t.leakOn(len(t.known)-1))
}

// pumpCurve takes steady readings on known leaks, as the gauge shows them, whose flows
// are carried to the vacuum at which they were read.
func (t *taken) pumpCurve() (check.Result, error) {
	var points []check.OnKnownLeak
	for _, r := range t.rows {
		v := t.zeroed(r["reading"])
		known := r["known"]
		if known.Spread <= 0 {
			known.Spread = 0.05 * known.Value
		}
		points = append(points, check.OnKnownLeak{Vacuum: v, Flow: t.carried(known, t.way, v.Value)})
	}
	for i, x := range t.traces {
		s := leak.Read(x.trace, check.AsRead(check.OnKnownLeakOf(t.rig)), leak.Options{}).Steady
		if s == nil {
			return check.Result{}, fmt.Errorf("on known leak %d the pull never stood still", i+1)
		}
		k := t.leakOn(i)
		points = append(points, check.OnKnownLeak{
			Vacuum: unit.About(s.Vacuum.Median, (s.Vacuum.High-s.Vacuum.Low)/2),
			Flow:   t.carried(unit.About(k.Median, (k.High-k.Low)/2), t.wayOn(i), s.Vacuum.Median),
		})
	}
	return check.PumpCurve(t.at, points, t.rig)
}

// carried carries the flow of a known leak from 50 kPa to another vacuum: as an
// opening flows where it is said to be a jet, else as either way.
func (t *taken) carried(q unit.Measured, way string, vacuum float64) unit.Measured {
	pa, ta := check.RoomOf(t.rig)
	if way != wayJet {
		i, err := check.Known{Way: check.Measured, Flow: q}.FreeAir(math.Max(vacuum, 1), pa, ta)
		if err != nil {
			return q
		}
		return unit.About(i.Median, math.Max(i.High-i.Median, i.Median-i.Low))
	}
	var at [2]float64 // of a rounded edge and of a sharp one
	for i := range at {
		o, err := gas.OpeningFor(q.Value, gas.StatedVacuum, pa, ta, float64(i))
		if err != nil {
			return q
		}
		if at[i], err = gas.FreeAirAt(o, math.Max(vacuum, 1), pa, ta); err != nil {
			return q
		}
	}
	mid := (at[0] + at[1]) / 2
	return unit.About(mid, math.Hypot(q.Spread/q.Value*mid, math.Abs(at[0]-at[1])/2))
}

// Ways of a known leak, as a sheet asks for them.
const (
	wayJet  = "jet"
	wayTube = "tube"
)

func grams(m unit.Measured) unit.Measured {
	m.Value, m.Spread = m.Value*1e3, m.Spread*1e3 // taken as cm³, kept as kg
	return m
}

// standing is what an open gauge showed [Pa]: the mean of what is not a spike,
// and of an absolute gauge that of the room.
func standing(t *trace.Trace) unit.Measured {
	n := len(t.Value)
	if n == 0 {
		return unit.Measured{}
	}
	mean, sd := 0.0, 0.0
	for pass := range 2 {
		m, s, k := 0.0, 0.0, 0.0
		for _, v := range t.Value {
			if pass == 0 || math.Abs(v-mean) <= 4*sd+t.Step {
				m, s, k = m+v, s+v*v, k+1
			}
		}
		mean = m / k
		sd = math.Sqrt(math.Max(0, s/k-mean*mean))
	}
	// a standing needle moves within half its step, however often it is read
	return unit.About(mean, 1.96*math.Hypot(sd/math.Sqrt(float64(n)), t.Step/math.Sqrt(12)))
}
