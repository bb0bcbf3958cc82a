package app

import (
	"errors"
	"fmt"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/leak"
	"seatproof/unit"
)

func (c *checking) zero() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) == 1); err != nil {
		return check.Result{}, err
	}
	v, err := c.figure(t[0], unit.PressureDim, in)
	if err != nil {
		return check.Result{}, err
	}
	return check.Zero(c.job.Now, v, c.rig.Gauge)
}

func (c *checking) gauge() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) > 0); err != nil {
		return check.Result{}, err
	}
	second, err := c.secondGauge()
	if err != nil {
		return check.Result{}, err
	}
	var pairs []check.Pair
	if c.job.Vented != "" {
		a, b, err := c.pair(c.job.Vented, in, unit.PressureDim, in)
		if err != nil {
			return check.Result{}, err
		}
		pairs = append(pairs, check.Pair{Reading: a, Reference: b, Vented: true})
	}
	for _, x := range t {
		a, b, err := c.pair(x, in, unit.PressureDim, in)
		if err != nil {
			return check.Result{}, err
		}
		pairs = append(pairs, check.Pair{Reading: a, Reference: b})
	}
	return check.AgainstGauge(c.job.Now, pairs, c.stated.Gauge, second)
}

func (c *checking) column() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) > 1); err != nil {
		return check.Result{}, err
	}
	water, err := option("--water", c.job.Water, unit.TemperatureDim)
	if err != nil {
		return check.Result{}, err
	}
	var points []check.ColumnPoint
	for _, x := range t {
		a, h, err := c.pair(x, in, unit.LengthDim, "")
		if err != nil {
			return check.Result{}, err
		}
		points = append(points, check.ColumnPoint{Reading: a, Height: h})
	}
	return check.AgainstColumn(c.job.Now, points, water, c.stated.Gauge)
}

// zeroed takes the gauge's zero off a reading by eye.
func (c *checking) zeroed(m unit.Measured) unit.Measured {
	if z := c.rig.Gauge.Zero; z.Known {
		m.Value -= z.Value
	}
	return m
}

func (c *checking) blanked() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) > 0); err != nil {
		return check.Result{}, err
	}
	var pulls []float64
	for _, x := range t {
		if isFile(x) {
			rd, err := c.reading(x, check.AsRead(check.OnBlank(c.rig)))
			if err != nil {
				return check.Result{}, err
			}
			if rd.Steady == nil {
				if rd.Refusal != nil {
					return check.Result{}, &check.RefusedError{What: x, Refusal: *rd.Refusal}
				}
				return check.Result{}, fmt.Errorf("%s: it shows no steady reading: record the pump running on a blank until the gauge stands still", x)
			}
			pulls = append(pulls, rd.Steady.Vacuum.Median)
			continue
		}
		v, err := c.figure(x, unit.PressureDim, in)
		if err != nil {
			return check.Result{}, err
		}
		pulls = append(pulls, c.zeroed(v).Value)
	}
	return check.BlankedSeries(c.job.Now, pulls, c.rig)
}

func (c *checking) rigLeak() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 1); err != nil {
		return check.Result{}, err
	}
	rd, err := c.reading(c.job.Readings[0], check.OnBlank(c.rig))
	if err != nil {
		return check.Result{}, err
	}
	return check.RigLeak(c.job.Now, rd, c.limit, c.rig.Pump.AfterShutOff)
}

// onBlank is the rig leak of the trace that --blank names, nil for none.
func (c *checking) onBlank() (*leak.Reading, error) {
	if c.job.Blank == "" {
		return nil, nil
	}
	rd, err := c.reading(c.job.Blank, check.OnBlank(c.rig))
	if err != nil {
		return nil, err
	}
	l, err := check.AnswerOf("the blank of --blank", rd)
	if err != nil {
		return nil, err
	}
	// it comes off what is read beside it
	c.rig.RigLeak = unit.About(l.Median, max(l.High-l.Median, l.Median-l.Low))
	if rd.UpperLimitOnly {
		c.rig.RigLeak = unit.About(0, l.High)
	}
	return rd, nil
}

func (c *checking) knownLeak() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 1); err != nil {
		return check.Result{}, err
	}
	known, err := c.leak50()
	if err != nil {
		return check.Result{}, err
	}
	blank, err := c.onBlank()
	if err != nil {
		return check.Result{}, err
	}
	var own *leak.Interval
	if blank != nil {
		own = blank.Leak
	}
	rd, err := c.reading(c.job.Readings[0], check.OnKnownLeakOf(c.rig))
	if err != nil {
		return check.Result{}, err
	}
	return check.KnownLeak(c.job.Now, rd, known, own)
}

// characterise makes a known leak of one of which nothing is known. It says
// nothing of the rig.
func (c *checking) characterise() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 1); err != nil {
		return check.Result{}, err
	}
	if !c.rig.Volume.Known {
		return check.Result{}, &fault{"rig check characterise", fmt.Errorf("the rig's volume is not known"), "name the rig file with --rig, and check its volume first: by syringe or by water"}
	}
	if _, err := c.onBlank(); err != nil {
		return check.Result{}, err
	}
	rd, err := c.reading(c.job.Readings[0], check.OnKnownLeakOf(c.rig))
	if err != nil {
		return check.Result{}, err
	}
	name := c.job.Leak
	if name == "" {
		name = "my leak"
	}
	k, err := check.Characterised(name, rd)
	if err != nil {
		return check.Result{}, err
	}
	c.found = &k
	return check.Result{
		Kind: check.KindKnown, Method: check.ByHold, At: c.job.Now, Value: k.Flow, Dim: unit.FlowDim, Verdict: check.Found,
		Evidence: []check.Sentence{{Text: "It passes {} of free air at 50 kPa of vacuum.", Figures: []check.Figure{{Is: k.Flow, Dim: unit.FlowDim}}}},
	}, nil
}

func (c *checking) syringe() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) > 1); err != nil {
		return check.Result{}, err
	}
	step, err := c.figure(t[0], unit.VolumeDim, "")
	if err != nil {
		return check.Result{}, err
	}
	var steps []check.Syringe
	for _, x := range t[1:] {
		a, b, err := c.pair(x, in, unit.PressureDim, in)
		if err != nil {
			return check.Result{}, err
		}
		s := check.Syringe{Step: step, Before: c.corrected(a), After: c.corrected(b)}
		if (s.After.Value < s.Before.Value) != (step.Value < 0) { // one step word for both ways
			s.Step.Value = -s.Step.Value
		}
		steps = append(steps, s)
	}
	return check.SyringeVolume(c.job.Now, steps, check.AirOf(c.rig), c.rig.Gauge)
}

// corrected puts a reading by eye right: its zero off, by its line where it has one.
func (c *checking) corrected(m unit.Measured) unit.Measured {
	if l := c.rig.Gauge.Line; l != nil {
		m.Value = l.Correct(m.Value).Value
		return m
	}
	return c.zeroed(m)
}

// holdsAs is the volume that two holds are read with.
const holdsAs = 100e-6

func (c *checking) twoHolds() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 2); err != nil {
		return check.Result{}, err
	}
	if a, b := isSlope(c.job.Readings[0]), isSlope(c.job.Readings[1]); a && b {
		return c.twoSlopes()
	} else if a || b {
		return check.Result{}, &fault{"rig check two-holds", errors.New("one of the two is a fall at one vacuum, the other a hold"), "give both the same way: \"0.2 kPa in 60 s\" \"4 kPa in 15 s\" --at \"50 kPa\""}
	}
	known, err := c.leak50()
	if err != nil {
		return check.Result{}, err
	}
	r := check.AsVolume(c.rig, holdsAs)
	var rd [2]*leak.Reading
	for i, name := range c.job.Readings {
		if rd[i], err = c.reading(name, r); err != nil {
			return check.Result{}, err
		}
	}
	return check.VolumeByReadings(c.job.Now, rd[0], rd[1], holdsAs, known)
}

// twoSlopes takes the volume from two falls at the same vacuum, that of --at.
func (c *checking) twoSlopes() (check.Result, error) {
	at, err := option("--at", c.job.At, unit.PressureDim)
	if err != nil {
		return check.Result{}, err
	}
	if !at.Known {
		at.Value = gas.StatedVacuum
	}
	k, err := c.known(c.job.Leak)
	if err != nil {
		return check.Result{}, err
	}
	pa, ta := check.RoomOf(c.rig)
	if !(at.Value > 0 && at.Value < pa) {
		return check.Result{}, &fault{"--at", fmt.Errorf("%s is no vacuum in a room at %.4g kPa", c.job.At, pa/1e3), "give the vacuum at which both falls were taken"}
	}
	q, err := k.FreeAir(at.Value, pa, ta)
	if err != nil {
		return check.Result{}, err
	}
	h := check.TwoHolds{Known: unit.About(q.Median, max(q.High-q.Median, q.Median-q.Low)), Air: check.AirOf(c.rig), Room: c.rig.Air.Temperature}
	if h.Without, err = c.slope(c.job.Readings[0]); err != nil {
		return check.Result{}, err
	}
	if h.With, err = c.slope(c.job.Readings[1]); err != nil {
		return check.Result{}, err
	}
	return check.TwoHoldVolume(c.job.Now, h, c.rig.Gauge)
}

func (c *checking) water() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 1); err != nil {
		return check.Result{}, err
	}
	var w check.Water
	var err error
	if m, ok := grams(c.job.Readings[0]); ok {
		w.Mass = m
	} else if w.Volume, err = c.figure(c.job.Readings[0], unit.VolumeDim, ""); err != nil {
		return check.Result{}, err
	}
	if w.Temp, err = option("--water", c.job.Water, unit.TemperatureDim); err != nil {
		return check.Result{}, err
	}
	if w.Soft, err = option("--soft", c.job.Soft, unit.VolumeDim); err != nil {
		return check.Result{}, err
	}
	return check.WaterVolume(c.job.Now, w, c.rig.Hose)
}

func (c *checking) pump() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) > 0); err != nil {
		return check.Result{}, err
	}
	pa, ta := check.RoomOf(c.rig)
	var points []check.OnKnownLeak
	for _, x := range t {
		name, reading, ok := cutLast(x, "=")
		if !ok {
			return check.Result{}, c.need(false)
		}
		v, err := c.figure(reading, unit.PressureDim, in)
		if err != nil {
			return check.Result{}, err
		}
		v = c.zeroed(v)
		k, err := c.known(name)
		if err != nil {
			return check.Result{}, err
		}
		q, err := k.FreeAir(v.Value, pa, ta)
		if err != nil {
			return check.Result{}, err
		}
		flow := unit.About(q.Median, max(q.High-q.Median, q.Median-q.Low))
		points = append(points, check.OnKnownLeak{Name: name, Vacuum: v, Flow: flow})
	}
	return check.PumpCurve(c.job.Now, points, c.rig)
}

func (c *checking) shutOff() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 2); err != nil {
		return check.Result{}, err
	}
	var is [2]leak.Interval
	for i, name := range c.job.Readings {
		rd, err := c.reading(name, check.OnBlank(c.rig))
		if err != nil {
			return check.Result{}, err
		}
		if is[i], err = check.AnswerOf(name, rd); err != nil {
			return check.Result{}, err
		}
	}
	return check.ShutOffSeep(c.job.Now, is[0], is[1], c.limit)
}

func (c *checking) hose() (check.Result, error) {
	t, in := c.figures()
	if err := c.need(len(t) == 1); err != nil {
		return check.Result{}, err
	}
	a, b, err := c.pair(t[0], in, unit.PressureDim, in)
	if err != nil {
		return check.Result{}, err
	}
	flow, err := option("--flow", c.job.Flow, unit.FlowDim)
	if err != nil {
		return check.Result{}, err
	}
	return check.HoseLoss(c.job.Now, check.HoseEnds{AtPump: c.corrected(a), AtPort: c.corrected(b), Flow: flow}, c.rig)
}

func (c *checking) dryness() (check.Result, error) {
	if err := c.need(len(c.job.Readings) > 1); err != nil {
		return check.Result{}, err
	}
	var pulls []leak.Interval
	for _, name := range c.job.Readings {
		rd, err := c.reading(name, c.rig)
		if err != nil {
			return check.Result{}, err
		}
		i, err := check.AnswerOf(name, rd)
		if err != nil {
			return check.Result{}, err
		}
		pulls = append(pulls, i)
	}
	return check.Dryness(c.job.Now, pulls)
}

func (c *checking) head() (check.Result, error) {
	if err := c.need(len(c.job.Readings) == 1); err != nil {
		return check.Result{}, err
	}
	head, err := c.figure(c.job.Readings[0], unit.TemperatureDim, "")
	if err != nil {
		return check.Result{}, err
	}
	room, err := option("--room", c.job.Room, unit.TemperatureDim)
	if err != nil {
		return check.Result{}, err
	}
	if !room.Known {
		room = c.rig.Air.Temperature
	}
	if !room.Known {
		return check.Result{}, &fault{"rig check head", fmt.Errorf("the room's temperature is not known"), "give it with --room \"19 °C\""}
	}
	return check.HeadTemperature(c.job.Now, head, room)
}

func (c *checking) part() (check.Result, error) {
	if err := c.need(len(c.job.Readings) > 0); err != nil {
		return check.Result{}, err
	}
	p, ok := partNamed(c.job.Readings)
	if err := c.need(ok); err != nil {
		return check.Result{}, err
	}
	return check.PartChanged(c.job.Now, p), nil
}
