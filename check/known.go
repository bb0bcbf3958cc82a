package check

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"seatproof/gas"
	"seatproof/leak"
	"seatproof/unit"
)

// Way is what a known leak is made of.
type Way string

// The ways.
const (
	Needle    Way = "needle"
	Capillary Way = "capillary"
	Jet       Way = "jet"
	Drilled   Way = "drilled"
	Measured  Way = "measured"
)

// Ways are all of them.
var Ways = []Way{Needle, Capillary, Jet, Drilled, Measured}

// Known is a known leak that a person can own.
type Known struct {
	Name         string
	Way          Way
	Bore, Length unit.Measured // m
	Flow         unit.Measured // m³/s of free air at 50 kPa, of a measured one
	Source       string
}

// What is taken of a known leak beside its sizes (95 %). The first is from memory
// (Hagenbach); the discharge coefficients are Weisbach's for short cylindrical and
// for rounded mouthpieces, 0.81 to 0.84 and 0.92 to 0.93 (Encyclopaedia Britannica
// 1911, Hydraulics §63); the drill's oversize in thin sheet is common practice, no
// source; the rest are guesses.
const (
	tubeLoss      = 2.3  // velocity heads, entrance and exit
	tubeLossLeast = 1.0  // at the least
	tubeCd        = 0.83 // of a tube that is so short or wide that it chokes
	tubeDoubt     = 0.05 // of the laminar law
	shortDoubt    = 0.15 // more, where it comes near to choking
	jetCd         = 0.87
	jetCdDoubt    = 0.07 // 0.81 to 0.93
	sharpDoubt    = 0.12 // Weisbach and Perry differ by 6 %, and sheet is seldom thin beside a small hole: 10 % more, a guess
	oversize      = 0.03 // 1 to 5 %
	oversizeDoubt = 0.02
	drillDoubt    = 1e-5 // m, of any drilled bore: run-out, burr
)

// FreeAir returns the free-air flow [m³/s] of the known leak from a room at pa [Pa],
// ta [K] into a vacuum [Pa], with its 95 % interval, log-normal. A tube flows as
// gas.Pipe with its entrance loss, and never more than 0.83 of what its bore
// chokes at: from needle 27 on (bore 0.2 mm and more) that is all that can be said.
// A flow goes with the fourth power of a laminar bore: 12 % of a needle's bore is 40
// to 60 % of its flow, so have it characterised. A measured one is carried from 50
// kPa to another vacuum as an opening or a seep, whichever, and widened by that.
func (k Known) FreeAir(vacuum, pa, ta float64) (leak.Interval, error) {
	what := "known leak " + k.Name
	if !(vacuum > 0 && vacuum < pa) {
		return leak.Interval{}, fmt.Errorf("%s: a vacuum of %.3g kPa in a room at %.4g kPa", what, vacuum/1e3, pa/1e3)
	}
	switch k.Way {
	case Needle, Capillary:
		if !(k.Bore.Known && k.Bore.Value > 0) || !(k.Length.Known && k.Length.Value > 0) {
			return leak.Interval{}, fmt.Errorf("%s: a tube needs bore and length: measure its length, the bore alone says little", what)
		}
		return k.tube(vacuum, pa, ta)
	case Jet, Drilled:
		if !(k.Bore.Known && k.Bore.Value > 0) {
			return leak.Interval{}, fmt.Errorf("%s: its bore is missing", what)
		}
		return k.hole(vacuum, pa, ta)
	case Measured:
		if !(k.Flow.Known && k.Flow.Value > 0) {
			return leak.Interval{}, fmt.Errorf("%s: its flow is missing", what)
		}
		return k.measured(vacuum, pa, ta)
	default:
		return leak.Interval{}, fmt.Errorf("%s: unknown way %q", what, k.Way)
	}
}

// logInterval makes an interval of a median and a 95 % half-width of its logarithm.
func logInterval(median, half float64) leak.Interval {
	return leak.Interval{Median: median, Low: median * math.Exp(-half), High: median * math.Exp(half)}
}

func (k Known) tube(vacuum, pa, ta float64) (leak.Interval, error) {
	var failed error
	flow := func(bore, length, loss float64) (q, near float64) {
		m, err := gas.FreeAirAt(gas.Pipe{Diameter: bore, Length: length, Loss: loss}, vacuum, pa, ta)
		if err != nil {
			failed = err
			return 1, 0
		}
		most, err := gas.FreeAirAt(gas.Opening{Area: tubeCd * math.Pi / 4 * bore * bore}, vacuum, pa, ta)
		if err != nil {
			failed = err
			return 1, 0
		}
		return math.Min(m, most), math.Min(1, m/most)
	}
	b, l := k.Bore, k.Length
	q, near := flow(b.Value, l.Value, tubeLoss)
	half := tubeDoubt + shortDoubt*near*near
	widen := func(other float64) { half = math.Hypot(half, math.Abs(math.Log(other/q))) }
	if d := math.Min(b.Spread, 0.9*b.Value); d > 0 { // the mean of both sides: the flow bends with the bore
		up, _ := flow(b.Value+d, l.Value, tubeLoss)
		down, _ := flow(b.Value-d, l.Value, tubeLoss)
		half = math.Hypot(half, math.Log(up/down)/2)
	}
	if d := math.Min(l.Spread, 0.9*l.Value); d > 0 {
		other, _ := flow(b.Value, l.Value-d, tubeLoss)
		widen(other)
	}
	other, _ := flow(b.Value, l.Value, tubeLossLeast)
	widen(other)
	if failed != nil {
		return leak.Interval{}, fmt.Errorf("known leak %s: %w", k.Name, failed)
	}
	return logInterval(q, half), nil
}

func (k Known) hole(vacuum, pa, ta float64) (leak.Interval, error) {
	bore, boreDoubt := k.Bore.Value, k.Bore.Spread/k.Bore.Value
	r50 := math.Max(0, (pa-gas.StatedVacuum)/pa)
	cd, cdDoubt, edge := jetCd, jetCdDoubt, 0.0
	if k.Way == Drilled {
		bore *= 1 + oversize
		boreDoubt = math.Hypot(math.Hypot(boreDoubt, oversizeDoubt), drillDoubt/bore)
		cd, cdDoubt, edge = gas.SharpEdgeCd(r50), sharpDoubt, 1
	}
	q, err := gas.FreeAirAt(gas.Opening{Area: cd * math.Pi / 4 * bore * bore, Edge: edge}, vacuum, pa, ta)
	if err != nil {
		return leak.Interval{}, fmt.Errorf("known leak %s: %w", k.Name, err)
	}
	return logInterval(q, math.Hypot(2*boreDoubt, cdDoubt)), nil
}

func (k Known) measured(vacuum, pa, ta float64) (leak.Interval, error) {
	rel := math.Log1p(k.Flow.Spread / k.Flow.Value)
	if vacuum == gas.StatedVacuum {
		return logInterval(k.Flow.Value, rel), nil
	}
	o, err := gas.OpeningFor(k.Flow.Value, gas.StatedVacuum, pa, ta, 0.5)
	if err != nil {
		return leak.Interval{}, fmt.Errorf("known leak %s: %w", k.Name, err)
	}
	a, err := gas.FreeAirAt(o, vacuum, pa, ta)
	if err != nil {
		return leak.Interval{}, fmt.Errorf("known leak %s: %w", k.Name, err)
	}
	p1, p2 := pa, pa-vacuum
	s := pa - gas.StatedVacuum
	b := k.Flow.Value * (p1*p1 - p2*p2) / (p1*p1 - s*s)
	return logInterval(math.Sqrt(a*b), math.Hypot(rel, math.Abs(math.Log(a/b))/2)), nil
}

// Characterised returns a known leak as it was found on a rig of known volume: what
// a hold on it read, the rig's own leak taken off already.
func Characterised(name string, reading *leak.Reading) (Known, error) {
	i, err := AnswerOf("known leak "+name, reading)
	if err != nil {
		return Known{}, err
	}
	if reading.UpperLimitOnly || !(i.Low > 0) {
		return Known{}, fmt.Errorf("known leak %s: it can't be told from none: hold longer, or take a larger one", name)
	}
	return Known{Name: name, Way: Measured, Flow: measuredOf(i, false), Source: "measured on the rig"}, nil
}

//go:embed catalogue.csv
var catalogue string

// Catalogue returns the known leaks that come with the program: sizes that are
// published, each with its source. The caller owns the slice.
func Catalogue() []Known {
	k, err := ReadCatalogue(strings.NewReader(catalogue), "catalogue")
	if err != nil {
		panic(err) // a test reads it
	}
	return k
}

// Find returns the known leak of that name, without regard to case and blanks.
func Find(all []Known, name string) (Known, bool) {
	key := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	for _, k := range slices.Backward(all) { // a person's own lines come last, and speak first
		if key(k.Name) == key(name) {
			return k, true
		}
	}
	return Known{}, false
}

// ReadCatalogue reads a catalogue of known leaks: CSV with the header "name,way,
// bore,length,flow,source" in any order, source alone may be missing; lines that
// start with # are comments. Figures carry their units. An error names the line.
func ReadCatalogue(r io.Reader, name string) ([]Known, error) {
	c := csv.NewReader(r)
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord = '#', true, -1
	head, err := c.Read()
	if err != nil {
		return nil, fmt.Errorf("read %s: no header: the first line is name,way,bore,length,flow,source", name)
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff")
	columns := map[string]int{}
	for i, h := range head {
		columns[strings.ToLower(strings.TrimSpace(h))] = i
	}
	for _, want := range []string{"name", "way", "bore", "length", "flow"} {
		if _, ok := columns[want]; !ok {
			return nil, fmt.Errorf("read %s: no column %q: the first line is name,way,bore,length,flow,source", name, want)
		}
	}
	var all []Known
	for {
		row, err := c.Read()
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", name, err)
		}
		line, _ := c.FieldPos(0)
		cell := func(n string) string {
			if i, ok := columns[n]; ok && i < len(row) {
				return strings.TrimSpace(row[i])
			}
			return ""
		}
		k := Known{Name: cell("name"), Way: Way(strings.ToLower(cell("way"))), Source: cell("source")}
		if k.Name == "" {
			return nil, fmt.Errorf("read %s: line %d: it has no name", name, line)
		}
		if !slices.Contains(Ways, k.Way) {
			return nil, fmt.Errorf("read %s: line %d: %q is no way of a known leak: take one of needle, capillary, jet, drilled, measured", name, line, k.Way)
		}
		for _, f := range []struct {
			column string
			dim    unit.Dimension
			to     *unit.Measured
		}{{"bore", unit.LengthDim, &k.Bore}, {"length", unit.LengthDim, &k.Length}, {"flow", unit.FlowDim, &k.Flow}} {
			text := cell(f.column)
			if text == "" {
				continue
			}
			q, err := unit.Parse(text, f.dim)
			if err != nil {
				return nil, fmt.Errorf("read %s: line %d: %s: %w", name, line, f.column, err)
			}
			if !(q.Value > 0) {
				return nil, fmt.Errorf("read %s: line %d: %s: %s is not above zero", name, line, f.column, text)
			}
			*f.to = q.Measured
		}
		if k.Way == Measured && !k.Flow.Known || k.Way != Measured && !k.Bore.Known {
			return nil, fmt.Errorf("read %s: line %d: a %s one needs its %s", name, line, k.Way, map[bool]string{true: "flow", false: "bore"}[k.Way == Measured])
		}
		all = append(all, k)
	}
}
