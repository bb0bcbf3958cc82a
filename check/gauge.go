package check

import (
	"fmt"
	"math"
	"time"

	"seatproof/gas"
	"seatproof/num"
	"seatproof/rig"
	"seatproof/unit"
)

// class837 is how much an EN 837-1 class counts as a 95 % accuracy: a limit taken
// as a rectangle (GUM 4.3.7), its sd of 1/sqrt(3) times 1.96; as in package leak.
const class837 = 1.13

// guessAccuracy is the accuracy of a gauge of which nothing is known, of span, 95 %
// (common practice, no source); as in package leak.
const guessAccuracy = 0.02

// Classes are the accuracy classes of EN 837-1:1996: limits of error in % of span.
var Classes = []float64{0.1, 0.25, 0.6, 1, 1.6, 2.5, 4}

// accuracyOf returns a gauge's accuracy (95 %, of span) and its span [Pa], guessed
// where not known.
func accuracyOf(g rig.Gauge) (acc, span float64) {
	acc, span = guessAccuracy, 100e3
	if g.Span.Known && g.Span.Width() > 0 {
		span = g.Span.Width()
	}
	switch {
	case g.Accuracy.Known:
		acc = g.Accuracy.Value
	case g.Class > 0:
		acc = class837 * g.Class / 100
	}
	return acc, span
}

// limitOf returns the largest error a gauge may have [Pa]: its class, or its
// accuracy, or the guess; and what to call it.
func limitOf(g rig.Gauge) (limit float64, name string) {
	acc, span := accuracyOf(g)
	switch {
	case g.Class > 0:
		return g.Class / 100 * span, fmt.Sprintf("class %s of EN 837-1", unit.Significant(g.Class, 0))
	case g.Accuracy.Known:
		return acc * span, "its stated accuracy"
	default:
		return acc * span, "2 % of span, a guess: its class is not known"
	}
}

// readingSD is the standard deviation of one reading by its resolution: half a
// division, or half a digital step, as a rectangle (GUM 4.3.7); where the gauge
// says neither, 0.5 % of span.
func readingSD(g rig.Gauge) float64 {
	half := g.Resolution / 2
	if g.Division > 0 {
		half = g.Division / 2
	}
	if half <= 0 {
		_, span := accuracyOf(g)
		half = 0.005 * span
	}
	return half / math.Sqrt(3)
}

// sdOf is the standard deviation of a reading: as stated, else by resolution.
func sdOf(m unit.Measured, g rig.Gauge) float64 {
	if m.Spread > 0 {
		return m.SD()
	}
	return readingSD(g)
}

// Zero checks that the gauge shows nothing when it is open to the room: its
// reading [Pa] lies within the largest error that its class, or accuracy, allows.
// A gauge that rests on a pin passes and may still be wrong: a second point is
// always worth having.
func Zero(at time.Time, reading unit.Measured, g rig.Gauge) (Result, error) {
	if err := finite("gauge zero", reading); err != nil {
		return Result{}, err
	}
	u := sdOf(reading, g)
	limit, name := limitOf(g)
	r := Result{Kind: KindZero, At: at, Value: unit.About(reading.Value, num.Z95*u), Dim: unit.PressureDim}
	r.Verdict = beyond(reading.Value, u, limit)
	allowed := exactly(limit, unit.PressureDim)
	switch r.Verdict {
	case Passed:
		r.Evidence = append(r.Evidence, say("Open to the room it shows {}; {} is allowed ("+name+").", of(r.Value, r.Dim), allowed))
	case Failed:
		r.Evidence = append(r.Evidence, say("Open to the room it shows {}, and no more than {} is allowed ("+name+").", of(r.Value, r.Dim), allowed))
		r.Do = "Set its zero, or take another gauge; a needle off its zero has often been overloaded, so check a second point too."
	default:
		r.Evidence = append(r.Evidence, say("Open to the room it shows {}, as much as is allowed: {} ("+name+").", of(r.Value, r.Dim), allowed))
		r.Do = "Tap the gauge and read its zero once more."
	}
	r.Evidence = append(r.Evidence, say("A needle that rests on a pin passes this and can still be wrong: a second point tells."))
	return r, nil
}

// Pair is what the gauge showed beside what a second one showed [Pa], both as
// read. Of a Vented pair, both open to the room, the truth is known: nothing.
type Pair struct {
	Reading, Reference unit.Measured
	Vented             bool
}

// AgainstGauge lays a line through pairs of readings of the gauge and a second
// one, b = y1 + y2 v with b what must be added to the reading v:
//
//	b = reference - reading
//
// The line's covariance is that of the fit (GUM H.3) and of the second gauge:
// its gain N(0, acc/1.96) adds to the slope, its bow N(0, acc/3.92) of its span to
// the bow, and its zero, unless a vented pair takes it off, N(0, acc/1.96) of its
// span to the offset. The verdict says whether each error is within the gauge's
// EN 837-1 class. Two pairs will do, one of them vented; four or more over the
// whole scale also tell how far the gauge leaves a straight line.
func AgainstGauge(at time.Time, pairs []Pair, g, second rig.Gauge) (Result, error) {
	acc, span := accuracyOf(second)
	zero, zeroSD := 0.0, acc/num.Z95*span
	own := readingSD(second)
	for _, p := range pairs {
		if p.Vented {
			zero, zeroSD = p.Reference.Value, sdOf(p.Reference, second)
		}
	}
	var pts []point
	for i, p := range pairs {
		if err := finite(fmt.Sprintf("gauge: pair %d", i+1), p.Reading, p.Reference); err != nil {
			return Result{}, err
		}
		pt := point{x: p.Reading.Value, y: p.Reference.Value - zero, sd: math.Hypot(sdOf(p.Reading, g), sdOf(p.Reference, second))}
		if p.Vented {
			pt.y, pt.sd = 0, sdOf(p.Reading, g)
		}
		pts = append(pts, pt)
	}
	r, err := gaugeLine(at, pts, g, reference{gain: acc / num.Z95, bow: acc / 2 / num.Z95 * span, zero: math.Min(zeroSD, math.Hypot(own, zeroSD))})
	if err != nil {
		return r, err
	}
	r.Method = BySecondGauge
	if mine, width := accuracyOf(g); acc*span > mine*width/2 {
		r.Evidence = append(r.Evidence, say("The second gauge is hardly better than this one: a better one would tell more."))
	}
	return r, nil
}

// Water's density [kg/m³] at 4, 15.56 and 20 °C. The first two follow from the
// inch of water at 39.2 and 60 °F (249.082 and 248.84 Pa, NIST SP 811:2008 B.8),
// the third is published (998.2 kg/m³, water data of London South Bank University).
var waterDensity = [][2]float64{{277.15, 999.972}, {288.706, 999.0}, {293.15, 998.2}}

// WaterDensity returns the density [kg/m³] of water at t [K], a parabola through
// three published points; not known: 12 to 26 °C. It holds within 0.3 kg/m³ from 4
// to 30 °C, outside which the error is not nil.
func WaterDensity(t unit.Measured) (unit.Measured, error) {
	if !t.Known {
		return unit.About(998.2, 1.5), nil
	}
	if t.Value < 273.15 || t.Value > 303.15 {
		return unit.Measured{}, fmt.Errorf("water: %.1f °C is outside 0 to 30 °C", t.Value-273.15)
	}
	at := func(x float64) (y float64) {
		for i, p := range waterDensity {
			w := p[1]
			for j, q := range waterDensity {
				if i != j {
					w *= (x - q[0]) / (p[0] - q[0])
				}
			}
			y += w
		}
		return y
	}
	slope := (at(t.Value+0.5) - at(t.Value-0.5))
	return unit.About(at(t.Value), math.Hypot(0.3, slope*t.Spread)), nil
}

// gravityDoubt is the ± on g0 where the latitude is not known: 9.780 at the equator
// to 9.832 m/s² at the poles (from memory).
const gravityDoubt = 0.0027

// ColumnPressure returns the pressure [Pa] of a column of water of a height [m] at
// the temperature of the water [K]: rho g0 h.
func ColumnPressure(height, water unit.Measured) (unit.Measured, error) {
	if err := finite("water column", height); err != nil {
		return unit.Measured{}, err
	}
	rho, err := WaterDensity(water)
	if err != nil {
		return unit.Measured{}, err
	}
	p := rho.Value * gas.Gravity * height.Value
	d := rho.Value * gas.Gravity * height.Spread
	return unit.About(p, math.Hypot(d, math.Abs(p)*math.Hypot(rho.Spread/rho.Value, gravityDoubt))), nil
}

// ColumnPoint is what the gauge showed [Pa], as read, when it held up a column of
// water [m]; a height of 0 is open to the room.
type ColumnPoint struct{ Reading, Height unit.Measured }

// AgainstColumn lays a line, as [AgainstGauge] does, through readings of the gauge
// and columns of water of a temperature [K, not known: of the room] that it held
// up: rho g0 h. Two metres reach 20 kPa: the rest of the scale follows by the line,
// and how far the gauge leaves it there is not told.
func AgainstColumn(at time.Time, points []ColumnPoint, water unit.Measured, g rig.Gauge) (Result, error) {
	var pts []point
	gain := gravityDoubt / num.Z95
	if rho, err := WaterDensity(water); err == nil {
		gain = math.Hypot(gain, rho.SD()/rho.Value)
	}
	for i, c := range points {
		if err := finite(fmt.Sprintf("water column: point %d", i+1), c.Reading, c.Height); err != nil {
			return Result{}, err
		}
		if c.Height.Value < 0 || c.Height.Value > 11 {
			return Result{}, fmt.Errorf("water column: point %d: %.3g m of water: a vacuum lifts it 0 to 10 m", i+1, c.Height.Value)
		}
		p, err := ColumnPressure(c.Height, water)
		if err != nil {
			return Result{}, err
		}
		ruler := c.Height.SD()
		if ruler == 0 && c.Height.Value > 0 {
			ruler = 2e-3 / math.Sqrt(3) // a ruler read to 2 mm
		}
		pts = append(pts, point{c.Reading.Value, p.Value, math.Hypot(sdOf(c.Reading, g), ruler*998.2*gas.Gravity)})
	}
	r, err := gaugeLine(at, pts, g, reference{gain: gain})
	r.Method = ByColumn
	return r, err
}

// point is a reading x with what it should have been y [Pa] and its sd.
type point struct{ x, y, sd float64 }

// reference is what a reference's own errors do: sd of its gain, of its bow and of
// its zero [Pa].
type reference struct{ gain, bow, zero float64 }

// gaugeLine fits and judges the line of a gauge.
func gaugeLine(at time.Time, pts []point, g rig.Gauge, ref reference) (Result, error) {
	r := Result{Kind: KindGauge, At: at, Dim: unit.PressureDim, Verdict: Passed}
	x, b := make([]float64, len(pts)), make([]float64, len(pts))
	own, low, high := 0.0, math.Inf(1), math.Inf(-1)
	for i, p := range pts {
		x[i], b[i] = p.x, p.y-p.x
		own += p.sd * p.sd / float64(len(pts))
		low, high = math.Min(low, p.x), math.Max(high, p.x)
	}
	_, span := accuracyOf(g)
	if len(pts) < 2 || high-low < 0.05*span {
		return r, fmt.Errorf("gauge line: its points lie within %.3g kPa: take two at least, one of them open to the room", math.Max(0, high-low)/1e3)
	}
	f, err := FitLine(x, b, 0, math.Sqrt(own))
	if err != nil {
		return r, err
	}
	k := num.Z95 // the own sd was known beforehand; residuals larger than it were found
	if f.S > math.Sqrt(own) {
		k = factor(f.N - 2)
	}
	scale := k / num.Z95
	u1, u2 := f.InterceptSD*scale, f.SlopeSD*scale
	cov := f.Correlation * u1 * u2
	u1, u2 = math.Hypot(u1, ref.zero), math.Hypot(u2, ref.gain)
	l := &rig.GaugeLine{
		Offset: unit.About(f.Intercept, num.Z95*u1), Slope: unit.About(f.Slope, num.Z95*u2), Correlation: cov / (u1 * u2),
	}
	acc, _ := accuracyOf(g)
	guess := acc / 2 * span
	if f.N > 2 && high-low >= 0.5*span {
		l.Bow = unit.Exactly(math.Min(guess, math.Hypot(k*math.Max(f.S, 0.3*math.Sqrt(own)), num.Z95*ref.bow)))
	}
	r.Line = l
	r.lineVerdict(pts, g, ref)
	v := gas.StatedVacuum
	if v > high || v < low {
		v = high
	}
	c := l.Correct(v)
	r.Value = unit.About(v-c.Value, c.Spread)
	way, by := "deep", r.Value
	if by.Value < 0 {
		way, by.Value = "shallow", -by.Value
	}
	r.Evidence = append([]Sentence{say("Where it shows {} it reads {} too "+way+".", exactly(v, r.Dim), of(by, r.Dim))}, r.Evidence...)
	if c.Spread >= 2*math.Hypot(acc*v, guess) {
		r.Evidence = append(r.Evidence, say("The line is no surer than the gauge itself: take points further apart, or a better second gauge."))
	}
	if !l.Bow.Known {
		r.Evidence = append(r.Evidence, say("Too few points, or too close, to tell how far it leaves a straight line between: that stays a guess."))
	}
	return r, nil
}

// lineVerdict says whether each point's error is within the gauge's class.
func (r *Result) lineVerdict(pts []point, g rig.Gauge, ref reference) {
	limit, name := limitOf(g)
	var most, mostSD float64
	for _, p := range pts {
		u := math.Sqrt(p.sd*p.sd + sq(ref.gain*p.y) + ref.zero*ref.zero + ref.bow*ref.bow)
		if math.Abs(p.x-p.y) >= math.Abs(most) {
			most, mostSD = p.x-p.y, u
		}
		r.Verdict = worst(r.Verdict, beyond(p.x-p.y, u, limit))
	}
	word := map[Verdict]string{Passed: "met", Failed: "not met", Unsure: "can't tell"}[r.Verdict]
	r.Evidence = append(r.Evidence, say("Largest error {}, where {} is allowed: "+name+": "+word+".",
		of(unit.About(most, num.Z95*mostSD), unit.PressureDim), exactly(limit, unit.PressureDim)))
	_, span := accuracyOf(g)
	if c, ok := classFor(math.Abs(most)/span*100, Classes); ok && g.Class == 0 {
		r.Evidence = append(r.Evidence, say("As read it keeps within class "+unit.Significant(c, 0)+" of EN 837-1."))
	}
	switch r.Verdict {
	case Failed:
		r.Do = "Its line corrects it from now on; a gauge that has left its class moves on, so check it again soon, or replace it."
	case Unsure:
		r.Do = "Its line corrects it as far as it is known; a better second gauge would tell."
	}
}

// classFor returns the finest class that an error in % of span keeps within.
func classFor(percent float64, classes []float64) (float64, bool) {
	for _, c := range classes {
		if percent <= c {
			return c, true
		}
	}
	return 0, false
}

func sq(x float64) float64 { return x * x }

// finite refuses figures that nobody gave or that are no numbers.
func finite(what string, m ...unit.Measured) error {
	for _, x := range m {
		if !x.Known {
			return fmt.Errorf("%s: a figure is missing", what)
		}
		if s := x.Value + x.Spread; math.IsNaN(s) || math.IsInf(s, 0) || math.Abs(s) > 1e12 || x.Spread < 0 {
			return fmt.Errorf("%s: %g ± %g is no figure of a rig", what, x.Value, x.Spread)
		}
	}
	return nil
}
