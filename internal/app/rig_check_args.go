package app

import (
	"errors"
	"fmt"
	"os"
	"regexp"
	"strings"

	"seatproof/check"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// figures returns the readings without a unit behind the last, and that unit, else
// the gauge's.
func (c *checking) figures() (texts []string, vacuum string) {
	texts, vacuum = c.job.Readings, c.unit.Name
	if n := len(texts); n > 1 {
		if u, ok := unit.UnitOf(strings.TrimSpace(texts[n-1])); ok && u.Dim == unit.PressureDim {
			return texts[:n-1], u.Name
		}
	}
	return texts, vacuum
}

// figure reads one figure, bare ones in the unit that goes for all.
func (c *checking) figure(text string, dim unit.Dimension, in string) (unit.Measured, error) {
	var q unit.Quantity
	var err error
	if in == "" {
		q, err = unit.Parse(text, dim)
	} else {
		q, err = unit.ParseIn(text, dim, in)
	}
	if err != nil {
		return unit.Measured{}, &fault{"rig check " + c.way.word, err, "as in: seatproof rig check " + c.way.example}
	}
	return q.Measured, nil
}

// option reads a figure of an option; not known where it was left out.
func option(name, text string, dim unit.Dimension) (unit.Measured, error) {
	if text == "" {
		return unit.Measured{}, nil
	}
	q, err := unit.Parse(text, dim)
	if err != nil {
		return unit.Measured{}, &fault{name, err, ""}
	}
	return q.Measured, nil
}

// pair reads LEFT=RIGHT; the right in its own dimension and unit.
func (c *checking) pair(text, in string, dim unit.Dimension, right string) (a, b unit.Measured, err error) {
	l, r, ok := strings.Cut(text, "=")
	if !ok {
		return a, b, c.need(false)
	}
	if a, err = c.figure(strings.TrimSpace(l), unit.PressureDim, in); err != nil {
		return a, b, err
	}
	b, err = c.figure(strings.TrimSpace(r), dim, right)
	return a, b, err
}

// trace opens a trace.
func (c *checking) trace(name string) (*trace.Trace, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, &fault{"rig check " + c.way.word, err, "name a trace, as a logger wrote it"}
	}
	defer f.Close()
	t, err := trace.Read(stoppable{c.ctx, f}, c.read)
	if err != nil {
		return nil, &fault{name, err, ""}
	}
	return t, nil
}

// byEye is a hold as a person read it: "76 to 75.5 kPa in 60 s".
var byEye = regexp.MustCompile(`^\s*(.+?)\s+to\s+(.+?)\s+in\s+(.+?)\s*$`)

// hold takes a hold from what a person typed: read by eye, or the name of a trace.
func (c *checking) hold(text string) (*trace.Trace, error) {
	m := byEye.FindStringSubmatch(text)
	if m == nil || isFile(text) {
		return c.trace(text)
	}
	in := c.unit.Name
	for _, part := range []string{m[2], m[1]} { // a unit behind either goes for both
		if q, err := unit.Parse(part, unit.PressureDim); err == nil {
			in = q.Unit
		}
	}
	from, err := c.figure(m[1], unit.PressureDim, in)
	if err != nil {
		return nil, err
	}
	to, err := c.figure(m[2], unit.PressureDim, in)
	if err != nil {
		return nil, err
	}
	took, err := c.figure(m[3], unit.TimeDim, "")
	if err != nil {
		return nil, err
	}
	return &trace.Trace{Kind: trace.Vacuum, Hand: []trace.HandReading{
		{Value: from.Value, Spread: from.Spread},
		{Time: took.Value, TimeSpread: took.Spread, Value: to.Value, Spread: to.Spread},
	}}, nil
}

// bySlope is a fall as a person took it at one vacuum: "0.5 kPa in 60 s".
var bySlope = regexp.MustCompile(`^\s*(.+?)\s+in\s+(.+?)\s*$`)

// isSlope says whether a text is a fall at one vacuum, and no hold from one to another.
func isSlope(text string) bool {
	return bySlope.MatchString(text) && !byEye.MatchString(text) && !isFile(text)
}

// slope reads by how much the vacuum fell [Pa/s]: a difference of two readings of the
// gauge over a time, each with its ±, else that of reading the gauge twice and half a
// second of reaction. What gain and bow of the gauge do to it is no part of it.
func (c *checking) slope(text string) (unit.Measured, error) {
	m := bySlope.FindStringSubmatch(text)
	fell, err := c.figure(m[1], unit.PressureDim, c.unit.Name)
	if err != nil {
		return unit.Measured{}, err
	}
	took, err := c.figure(m[2], unit.TimeDim, "")
	if err != nil {
		return unit.Measured{}, err
	}
	if !(took.Value > 0) || !(fell.Value >= 0) {
		return unit.Measured{}, &fault{"rig check " + c.way.word, fmt.Errorf("%q: the vacuum falls by some pressure in some time", text), "as in \"4 kPa in 15 s\""}
	}
	if took.Spread == 0 {
		took.Spread = reaction
	}
	return check.Slope(fell, took, c.rig.Gauge), nil
}

// reaction is by how much a time by a watch in the hand may be off [s], 95 % (a guess).
const reaction = 0.5

// reading reads a hold on a rig, from a trace or by eye.
func (c *checking) reading(name string, r rig.Rig) (*leak.Reading, error) {
	t, err := c.hold(name)
	if err != nil {
		return nil, err
	}
	return leak.Read(t, r, leak.Options{}), nil
}

// isFile says whether a text names a file.
func isFile(text string) bool {
	s, err := os.Stat(text)
	return err == nil && !s.IsDir()
}

func readCatalogue(name string) ([]check.Known, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, &fault{"--catalogue", err, "name a catalogue of known leaks (CSV)"}
	}
	defer f.Close()
	return check.ReadCatalogue(f, name)
}

// known finds a known leak by what a person calls it: a flow at 50 kPa, or a name
// of the catalogue, with " x 13 mm" behind it where a tube's length is told.
func (c *checking) known(text string) (check.Known, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return check.Known{}, &fault{"--leak", errors.New("no known leak was named"), "give its flow, such as \"96 ± 6 cm3/min\", or its name, such as \"needle 30 x 13 mm\""}
	}
	if q, err := unit.Parse(text, unit.FlowDim); err == nil {
		return check.Known{Name: text, Way: check.Measured, Flow: q.Measured}, nil
	}
	all := append(check.Catalogue(), c.own...)
	if k, ok := check.Find(all, text); ok {
		return k, nil
	}
	name, length, cut := strings.Cut(strings.ReplaceAll(text, "×", "x"), " x ")
	k, ok := check.Find(all, name)
	if !ok {
		var names []string
		for _, k := range all {
			names = append(names, k.Name)
		}
		hint := "the catalogue has " + names[0] + " to " + names[len(names)-1] + "; add your own with --catalogue"
		if near := unit.Nearest(strings.ToLower(name), names); near != "" {
			hint = "did you mean " + near + "?"
		}
		return k, &fault{"--leak", fmt.Errorf("no known leak is called %q", name), hint}
	}
	if cut {
		q, err := unit.Parse(length, unit.LengthDim)
		if err != nil {
			return k, &fault{"--leak", err, "as in \"needle 30 x 13 mm\""}
		}
		k.Length, k.Name = q.Measured, text
		if k.Length.Spread == 0 {
			k.Length.Spread = 0.5e-3 // measured with a ruler
		}
	}
	return k, nil
}

// leak50 is the flow at 50 kPa of the known leak that --leak names.
func (c *checking) leak50() (leak.Interval, error) {
	k, err := c.known(c.job.Leak)
	if err != nil {
		return leak.Interval{}, err
	}
	pa, ta := check.RoomOf(c.rig)
	return k.FreeAir(50e3, pa, ta)
}

// secondGauge reads "class 1, 0..100 kPa, division 2 kPa" or "0.5 %, 0..100 kPa".
func (c *checking) secondGauge() (rig.Gauge, error) {
	var g rig.Gauge
	for _, part := range strings.Split(c.job.Second, ",") {
		part = strings.TrimSpace(part)
		word, rest, _ := strings.Cut(part, " ")
		switch {
		case part == "":
		case word == "class":
			q, err := unit.ParseIn(rest, unit.RatioDim, "1")
			if err != nil || !(q.Value > 0) || q.Value > 10 {
				return g, &fault{"--second", fmt.Errorf("%q is no class of EN 837-1", rest), "as in \"class 1, 0..100 kPa\""}
			}
			g.Class = q.Value
		case word == "division":
			q, err := unit.Parse(rest, unit.PressureDim)
			if err != nil {
				return g, &fault{"--second", err, ""}
			}
			g.Division = q.Value
		default:
			if q, err := unit.Parse(part, unit.RatioDim); err == nil {
				g.Accuracy = unit.Exactly(q.Value)
				continue
			}
			s, err := unit.ParseRange(part, unit.PressureDim)
			if err != nil {
				return g, &fault{"--second", err, "as in \"class 1, 0..100 kPa, division 2 kPa\""}
			}
			low, high := s.Low, s.High
			if high <= 0 {
				low, high = -high, -low
			}
			g.Span = rig.Span{Low: low, High: high, Known: true}
		}
	}
	return g, nil
}
