package leak

import (
	"math"
	"sort"

	"seatproof/gas"
	"seatproof/rig"
	"seatproof/trace"
)

// drawsKept is how many draws of the posterior a reading holds.
const drawsKept = 2000

// Read reads a trace taken on a rig. It never fails: a trace that can carry no
// answer gives a reading with a Refusal (and whatever else is known of it), one
// whose figures are doubtful a reading with Warnings. Neither t nor r is
// changed; the same input gives the same reading.
func Read(t *trace.Trace, r rig.Rig, o Options) *Reading {
	rd := &reader{t: t, r: correctRig(r), o: o, k: takeRig(r), out: &Reading{}}
	rd.out.Room, rd.out.RoomTemp = rd.k.pa, rd.k.ta
	ref := rd.read()
	if ref == nil && !rd.out.sound() {
		// nothing that can be a gauge's: say nothing rather than nonsense
		ref = &Refusal{Code: NoHold}
	}
	if ref != nil {
		rd.out.refuse(ref)
	}
	if r.Port.Held == rig.HeldNothing { // the seat moved with the vacuum: the curve tells no share
		rd.out.Share, rd.out.Edge = nil, nil
	}
	return rd.out
}

// reader carries one trace through its reading.
type reader struct {
	t      *trace.Trace
	r      rig.Rig
	o      Options
	k      known
	out    *Reading
	depth  []float64
	phases trace.Phases
	zero   float64 // Pa, as read
	zeroSD float64
	noise  float64
	step   float64
	shares []float64 // sorted draws of the share under a uniform prior
	broke  bool      // the hold broke: it is fitted from there on
}

func (rd *reader) warn(w Warning) { rd.out.Warnings = append(rd.out.Warnings, w) }

func (rd *reader) read() *Refusal {
	t := rd.t
	if len(t.Hand) > 0 {
		return rd.readHand()
	}
	rd.fileWarnings()
	if t.Faults.ClockBackLine > 0 {
		return &Refusal{Code: ClockBack, Line: t.Faults.ClockBackLine, Figure: t.Faults.ClockBackBy}
	}
	if t.Len() < 8 {
		return &Refusal{Code: TooFewSamples, Figure: float64(t.Len())}
	}
	rd.depth = rd.k.correctDepths(t.Depth(), t.Kind)
	rd.step = math.Max(t.Step, rd.k.resolution)
	if ref := rd.absurd(); ref != nil {
		return ref
	}
	if ref := rd.stuck(); ref != nil {
		return ref
	}
	rd.findPhases()
	if ref := rd.findZero(); ref != nil {
		return ref
	}
	if ref := rd.checkPull(); ref != nil {
		return ref
	}
	rd.readSteady()
	return rd.readHold()
}

// fileWarnings passes on what the reader of the file found.
func (rd *reader) fileWarnings() {
	f := rd.t.Faults
	if f.Dropped > 0 {
		rd.warn(Warning{Code: RowsDropped, Count: f.Dropped, Line: f.FirstDropped})
	}
	if f.Spikes > 0 {
		rd.warn(Warning{Code: Spikes, Count: f.Spikes})
	}
	if f.Gaps > 0 {
		rd.warn(Warning{Code: Gaps, Count: f.Gaps, Figure: f.LongestGap})
	}
	if f.Jitter > 0.2 {
		rd.warn(Warning{Code: Jitter, Figure: f.Jitter})
	}
	rd.portWarnings()
}

// portWarnings passes on what the way the port was prepared costs.
func (rd *reader) portWarnings() {
	if h := rd.r.Port.Held; h == rig.HeldNothing || h == rig.HeldNotSaid {
		rd.warn(Warning{Code: BareValves, Count: boolCount(h == rig.HeldNothing)})
	}
	switch rd.r.Port.WetWith {
	case rig.WetNothing, rig.WetNotSaid:
	case rig.WetOil:
		rd.warn(Warning{Code: Oiled})
	default:
		rd.warn(Warning{Code: WetPort})
	}
}

func boolCount(b bool) int {
	if b {
		return 1
	}
	return 0
}

// absurd refuses values that no pressure gauge shows.
func (rd *reader) absurd() *Refusal {
	for i, v := range rd.depth {
		if !(math.Abs(v) < 1e8) {
			return &Refusal{Code: TooDeep, Figure: 1e8, Other: rd.k.pa, At: rd.t.Time[i]}
		}
	}
	return nil
}

// stuck refuses a gauge that never moved although it shows a vacuum.
func (rd *reader) stuck() *Refusal {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range rd.depth {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	away := lo
	if rd.t.Kind == trace.Absolute {
		away = rd.k.pa + lo
	}
	if hi == lo && math.Abs(away) > 0.05*rd.k.span && rd.t.Len() >= 8 {
		return &Refusal{Code: GaugeStuck, Figure: away}
	}
	return nil
}

// findPhases finds the phases; where the pump and the volume are known, a fall
// much faster than the steady reading allows is a vent.
func (rd *reader) findPhases() {
	o := trace.PhaseOptions{ShutOff: rd.o.ShutOff}
	if rd.r.Pump.Known() && rd.k.hasVolume && o.ShutOff == nil {
		o.FastestFall = rd.fastestFall
	}
	rd.phases = trace.FindPhases(rd.t, o)
	rd.phases.Deepest = rd.k.correctDepth(rd.phases.Deepest, rd.t.Kind)
	rd.out.Phases = rd.phases.List
	rd.noise = rd.phases.Noise
}

// fastestFall returns the steepest fall [Pa/s] that a leak can make which lets
// the pump stand at the vacuum v: twice its flow there with doubt, into the
// volume at its smallest, adiabatic. 0 where the pump's curve is no use.
func (rd *reader) fastestFall(v float64) float64 {
	c, err := rd.r.Pump.Here(rd.k.pa)
	vol := rd.k.volume() * 0.7
	if err != nil || vol <= 0 {
		return 0
	}
	q := 1.5*c.Flow(v) + c.Slope(v)*(0.06*c.Blanked()+2*rd.k.gainSD*v)
	return 2 * gas.Gamma * rd.k.pa * q / vol
}

// findZero takes the gauge's zero from the vented part, or from the rig.
func (rd *reader) findZero() *Refusal {
	p := &rd.phases
	var sum, n float64
	spread := math.Max(4*p.Noise, 0.75*rd.step)
	for _, ph := range p.List {
		if ph.Name != trace.Vented || ph.Last-ph.First < 2 || !rd.atRest(ph) {
			continue
		}
		last := ph.Last
		mid := median(rd.depth[ph.First : last+1])
		for i := ph.First; i <= last; i++ {
			if math.Abs(rd.depth[i]-mid) <= spread+1e-9 {
				c := rd.countAt(i)
				sum += rd.depth[i] * c
				n += c
			}
		}
		if n >= 20 {
			break // the first one is enough
		}
	}
	stuck := roundingSD(p.Noise, rd.step)
	if rd.t.Kind == trace.Absolute && rd.zero == 0 {
		// a trace that starts near nothing and ends near the room is upside
		// down: its column is a vacuum
		first := -median(rd.depth[:min(20, len(rd.depth))])
		if first < 0.05*rd.k.pa {
			return &Refusal{Code: GaugeZero, Figure: rd.k.pa - first, Other: 0.05 * rd.k.span}
		}
	}
	switch {
	case n > 0:
		rd.zero = sum / n
		rd.zeroSD = math.Sqrt(p.Noise*p.Noise/n + stuck*stuck)
		at := rd.zero
		if rd.t.Kind == trace.Absolute {
			at += rd.k.pa
			if math.Abs(at) > 3*rd.k.paSD && rd.k.paSD > 100 {
				// the vented reading is the better barometer, unless absurd
				if here := -rd.zero; here > 50e3 && here < 110e3 {
					rd.out.Room = here
					rd.k.pa, rd.k.paSD = here, math.Min(rd.k.paSD, 1.96*rd.k.gainSD*here)
					at = 0
				}
			}
		}
		if math.Abs(at) > 0.05*rd.k.span {
			rd.out.Zero = &Interval{at, at - 1.96*rd.zeroSD, at + 1.96*rd.zeroSD}
			return &Refusal{Code: GaugeZero, Figure: at, Other: 0.05 * rd.k.span}
		}
		rd.out.Zero = &Interval{at, at - 1.96*rd.zeroSD, at + 1.96*rd.zeroSD}
	case rd.t.Kind == trace.Absolute && rd.r.Air.Pressure.Known:
		rd.zero = -rd.k.pa
		rd.zeroSD = math.Hypot(rd.k.paSD, rd.k.gainSD*rd.k.span)
	case rd.t.Kind == trace.Vacuum && rd.k.zero.Known:
		rd.zero, rd.zeroSD = rd.k.zero.Value, math.Hypot(rd.k.zero.SD(), stuck)
		if rd.k.line != nil && !rd.r.Gauge.Zero.Known {
			rd.zeroSD = math.Hypot(rd.k.zeroSDAt(p.Deepest), stuck)
		}
	default:
		return &Refusal{Code: NoZero, Figure: rd.depth[0]}
	}
	return nil
}

// atRest says whether a phase stands still: its ends differ by no more than its
// noise and 0.5 % of the span.
func (rd *reader) atRest(ph trace.Phase) bool {
	k := max(1, min(20, (ph.Last-ph.First+1)/3))
	a := median(rd.depth[ph.First : ph.First+k])
	b := median(rd.depth[ph.Last-k+1 : ph.Last+1])
	return math.Abs(a-b) <= math.Max(4*rd.phases.Noise, 1.5*rd.step)+0.005*rd.k.span
}

func (rd *reader) countAt(i int) float64 {
	if rd.t.Count == nil {
		return 1
	}
	return float64(rd.t.Count[i])
}

// checkPull refuses a trace that was never pulled down, or deeper than the room.
func (rd *reader) checkPull() *Refusal {
	p := &rd.phases
	deep := p.Deepest - rd.zero
	slack := 1.96*rd.k.gainSD*rd.k.span + 1.96*rd.zeroSD + 1.96*rd.k.paSD
	switch {
	case deep > rd.k.pa+slack:
		return &Refusal{Code: TooDeep, Figure: deep, Other: rd.k.pa}
	case deep <= math.Max(500, 5*p.Noise):
		return &Refusal{Code: NoPull, Figure: deep}
	case deep < 5e3:
		return &Refusal{Code: NoVacuum, Figure: deep}
	case p.Frozen:
		return &Refusal{Code: GaugeStuck, Figure: deep, At: p.ShutOff}
	}
	return nil
}

// readHold fits the hold, or falls back to the steady reading.
func (rd *reader) readHold() *Refusal {
	ph, ok := rd.phases.Find(trace.Hold)
	if !ok {
		return rd.steadyOr(&Refusal{Code: NoHold})
	}
	if b, ok := rd.breaks(ph); ok {
		ph = rd.from(b, ph)
	} else if at := rd.phases.Broke; at > 0 {
		rd.warn(Warning{Code: HoldBreaks, Count: 1, Figure: at - rd.phases.ShutOff, Other: rd.depth[ph.First] - rd.depth[ph.Last]})
	}
	f, ref := rd.newFit(ph)
	if ref != nil {
		if ref.Code == NoHold {
			return rd.steadyOr(ref)
		}
		if ref.Code == HoldTooShort && rd.out.Steady != nil && rd.out.Steady.Flow != nil && rd.bluntEnough() {
			rd.warn(Warning{Code: FastHold})
			return rd.answerFromSteady()
		}
		return ref
	}
	if !rd.answerFromHold(f, ph) {
		return rd.steadyOr(&Refusal{Code: NoHold})
	}
	return nil
}

// steadyOr answers from the steady reading, with a warning that there was no
// hold to go by, or else refuses.
func (rd *reader) steadyOr(ref *Refusal) *Refusal {
	if rd.out.Steady == nil || rd.out.Steady.Flow == nil {
		return ref
	}
	rd.warn(Warning{Code: NeverShutOff})
	return rd.answerFromSteady()
}

// bluntEnough says whether a hold too short to fit is short because the leak is
// large: its rate is over 4.2 volumes a tau.
func (rd *reader) bluntEnough() bool {
	return rd.out.Steady.Flow.Median > 4.2/60*rd.k.volume()/0.32
}

func median(x []float64) float64 {
	if len(x) > 2001 { // enough of them
		y := make([]float64, 0, 2001)
		for i := 0; i < len(x); i += len(x)/2000 + 1 {
			y = append(y, x[i])
		}
		x = y
	} else {
		x = append([]float64(nil), x...)
	}
	sort.Float64s(x)
	if len(x) == 0 {
		return math.NaN()
	}
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}
