package report

import (
	"seatproof/gas"
)

// shape returns the flow of a leak at the vacuum v over its flow at 50 kPa,
// for an opening's share s of it: the two laws side by side (docs/model.md §1),
// without edge and slip, which a drawing can't show.
func shape(v, s, room float64) float64 {
	r, r50 := (room-v)/room, (room-gas.StatedVacuum)/room
	return s*gas.Psi(r)/gas.Psi(r50) + (1-s)*(1-r*r)/(1-r50*r50)
}

// other returns the fitted hold as it would have gone with the leak to instead
// of from [m³/s at 50 kPa], from the same start: the isothermal hold of one
// less that of the other is added to the fitted curve, so that what the air
// does while it warms stays in.
//
// Past the end of the fit it goes on by the law alone until a time [s in the
// trace's], for a hold that is still going on; 0: it ends with the fit.
// It is nil when there is nothing to draw or the volume [m³] is not known.
func (o *Outcome) other(from, to, until float64) []Point {
	r := o.Reading
	if len(r.Curve) < 2 || !(o.Room > gas.StatedVacuum) || !(from >= 0) || !(to >= 0) {
		return nil
	}
	s := 0.5
	if r.Share != nil {
		s = r.Share.Median
	}
	perFlow := o.perFlow(from, s)
	if !(perFlow > 0) {
		return nil
	}
	out := make([]Point, len(r.Curve))
	a, b := r.Curve[0].Vacuum, r.Curve[0].Vacuum
	for i, c := range r.Curve {
		if i > 0 {
			dt := c.Time - r.Curve[i-1].Time
			a = fallen(a, dt, (from+o.RigLeak)*perFlow, s, o.Room)
			b = fallen(b, dt, (to+o.RigLeak)*perFlow, s, o.Room)
		}
		out[i] = Point{c.Time, max(0, c.Vacuum+b-a)}
	}
	const ahead = 20 // steps
	last := out[len(out)-1]
	for k := range ahead {
		if !(until > last.Time) {
			break
		}
		dt := (until - last.Time) / float64(ahead-k)
		last = Point{last.Time + dt, fallen(last.Vacuum, dt, (to+o.RigLeak)*perFlow, s, o.Room)}
		out = append(out, last)
	}
	return out
}

// fallen returns the vacuum v after dt [s] of a fall of rate [Pa/s] at 50 kPa.
func fallen(v, dt, rate, s, room float64) float64 {
	const steps = 4
	h := dt / steps
	for range steps {
		mid := max(0, v-h/2*rate*shape(v, s, room))
		v = max(0, v-h*rate*shape(mid, s, room))
	}
	return v
}

// perFlow returns by how much a leak makes the vacuum fall [Pa per m³ of free
// air]: air pressure over volume, or, the volume not being known, what the
// later half of the fitted curve says of the leak it was fitted with.
func (o *Outcome) perFlow(flow, s float64) float64 {
	if o.Volume > 0 {
		return o.Room / o.Volume
	}
	var drawn float64
	c := o.Reading.Curve
	half := len(c) / 2
	for i := half + 1; i < len(c); i++ {
		drawn += (c[i].Time - c[i-1].Time) * shape((c[i].Vacuum+c[i-1].Vacuum)/2, s, o.Room)
	}
	drawn *= flow + o.RigLeak
	if !(drawn > 0) {
		return 0
	}
	return (c[half].Vacuum - c[len(c)-1].Vacuum) / drawn
}

// bandOf returns the fitted hold at the low and the high end of the narrower
// interval.
func (o *Outcome) bandOf() (shallow, deep []Point) {
	l := o.Reading.Leak
	if l == nil || o.Reading.UpperLimitOnly {
		return nil, nil
	}
	return o.other(o.one().Median, l.High, 0), o.other(o.one().Median, l.Low, 0)
}
