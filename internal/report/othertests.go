package report

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/crosscheck"
	"seatproof/gas"
	"seatproof/head"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// PortRead is a port with what its tests come to.
type PortRead struct {
	Card    *head.PortCard
	Outcome *Outcome // nil: none that carries an answer
}

// OtherWays are how a person makes the other tests.
type OtherWays struct {
	Supply      unit.Measured
	SupplyUnit  string
	Restrictors []crosscheck.Restrictor
	Height      unit.Measured // of the liquid over the seat
	Liquids     []crosscheck.Liquid
	Pumps       []crosscheck.Pump
}

// OtherFigure is a forecast: the middle, and from where to where it may be.
type OtherFigure struct {
	Figure string `json:"figure"`
	Range  string `json:"range"`
}

// OtherCylinder is what the leaks of a cylinder show.
type OtherCylinder struct {
	Cylinder int           `json:"cylinder"`
	Name     string        `json:"name"`
	Ports    string        `json:"ports"`     // whose leaks are in it
	Missing  string        `json:"missing"`   // whose are not; "" for none
	LeakDown []OtherFigure `json:"leak_down"` // of each restrictor; none: no leak rate
	Lost     []OtherFigure `json:"lost"`
	Cranking *OtherCrank   `json:"cranking"`

	Leaks []crosscheck.Leak `json:"-"`
	Loses float64           `json:"-"` // of the supply, by the first restrictor
}

// OtherCrank is what a cranking gauge shows.
type OtherCrank struct {
	Without OtherFigure `json:"without"`
	With    OtherFigure `json:"with"`
	Cost    string      `json:"cost"`
}

// OtherPort is what the leak of a port shows.
type OtherPort struct {
	Port    string        `json:"port"`
	Name    string        `json:"name"`
	Short   string        `json:"short"`
	State   State         `json:"state"`
	Word    string        `json:"word"`
	Leak    string        `json:"leak"`
	Why     string        `json:"why"`     // no figure to forecast from
	Liquids []OtherLiquid `json:"liquids"` // in the order of the sheet's
	Needle  []OtherFigure `json:"needle"`  // in the order of its pumps

	Known *crosscheck.Leak `json:"-"` // the leak; nil: Why

	card *head.PortCard
}

// OtherLiquid is when a liquid in the port shows.
type OtherLiquid struct {
	Paper OtherFigure `json:"paper"`
	Drop  OtherFigure `json:"drop"`
	Never string      `json:"never"` // chance that no drop ever comes, where it is worth a word

	After float64 `json:"-"` // s, of the drop; +Inf: never
}

// How other tests are made where nobody says: guesses (95 %), no source.
const (
	OtherSupply = "80 psi"
	OtherHeight = "30 ± 20 mm"
)

// UsualWays are the ways to make other tests where nobody says otherwise: both
// standard restrictors, the first of the liquids, and the pump of the rig as far as
// it is known, in the air of the tests.
func UsualWays(r rig.Rig, air crosscheck.Port) OtherWays {
	supply, _ := unit.Parse(OtherSupply, unit.PressureDim)
	height, _ := unit.Parse(OtherHeight, unit.LengthDim)
	w := OtherWays{
		Supply: supply.Measured, SupplyUnit: supply.Unit, Height: height.Measured,
		Restrictors: []crosscheck.Restrictor{crosscheck.Restrictor040, crosscheck.Restrictor060},
		Liquids:     crosscheck.Liquids[:1],
	}
	if c, err := r.Pump.Here(air.Room); err == nil {
		w.Pumps = []crosscheck.Pump{OtherPump(r.Pump, c)}
	}
	return w
}

// OtherPump is the rig's pump for other tests: its curve in the room, and the ± of the
// figures it was stated by.
func OtherPump(is rig.Pump, c *rig.Curve) crosscheck.Pump {
	p := crosscheck.Pump{Free: unit.Exactly(c.Flow(0)), Blanked: unit.Exactly(c.Blanked()), Exact: !c.Guessed(), Curve: c}
	if f := is.FreeFlow; f.Known && f.Value > 0 { // its ± is that of the whole curve
		p.Free.Spread = p.Free.Value * f.Spread / f.Value
	}
	if v := is.Blanked; v.Known && v.Value > 0 {
		p.Blanked.Spread = p.Blanked.Value * v.Spread / v.Value
	}
	return p
}

// OtherPortOf is a port with its leak as it is now, or why there is none.
func OtherPortOf(j *head.Job, r PortRead) OtherPort {
	p := OtherPort{card: r.Card, Port: r.Card.ID, Liquids: []OtherLiquid{}, Needle: []OtherFigure{}}
	switch c := r.Card; {
	case c.Standing == head.NotTested:
		p.Why = "not tested"
	case c.Standing == head.Lapsed:
		p.Why = "worked on since it was tested"
	case c.Leak == nil || r.Outcome == nil:
		p.Why = "no leak rate"
	default:
		if p.Known = otherLeak(j, c, r.Outcome); p.Known == nil {
			p.Why = "no leak rate"
		}
	}
	return p
}

// onceMore is how much a leak scatters from test to test where it is only known to
// be less than something: the sd of its logarithm, docs/model.md §4.
const onceMore = 0.3

// otherLeak is the leak of a port for the other tests: the draws of its test, moved to
// what its tests say together, with the scatter that one more test adds.
func otherLeak(j *head.Job, card *head.PortCard, o *Outcome) *crosscheck.Leak {
	rd := o.Reading
	if len(rd.Draws) == 0 && len(o.Each) > 0 && o.Middle < len(o.Each) {
		rd = o.Each[o.Middle].Reading
	}
	if rd == nil || len(rd.Draws) == 0 || rd.Leak == nil {
		return nil
	}
	l := crosscheck.Leak{Port: PortAir(j, card.ID, o.Reading), Again: onceMore}
	shift, own := 1.0, spreadOf(rd.Leak.Low, rd.Leak.High)
	if !card.UpperOnly && rd.Leak.Median > 0 {
		shift = card.Leak.Median / rd.Leak.Median
		if a := card.Again; a != nil && a.Low > 0 && own > 0 {
			l.Again = math.Sqrt(max(0, math.Pow(spreadOf(a.Low, a.High), 2)-own*own))
		}
	}
	for _, d := range rd.Draws {
		l.Draws = append(l.Draws, crosscheck.Draw{Flow: d.Flow * shift, Share: d.Share, Edge: d.Edge})
	}
	return &l
}

// spreadOf is the sd of the logarithm that a 95 % interval stands for; 0: none.
func spreadOf(low, high float64) float64 {
	if !(low > 0 && high > low) {
		return 0
	}
	return math.Log(high/low) / 3.92
}

// PortAir is what is known of a port beside its leak: the air of its test, and the
// seats of its valves.
func PortAir(j *head.Job, id string, rd *leak.Reading) crosscheck.Port {
	p := crosscheck.Port{Room: gas.SeaLevelPressure, Temp: 293.15}
	if rd != nil && rd.Room > gas.StatedVacuum && rd.RoomTemp > 0 {
		p.Room, p.Temp = rd.Room, rd.RoomTemp
	}
	i := slices.IndexFunc(j.Ports, func(p head.Port) bool { return p.ID == id })
	if i < 0 {
		return p
	}
	n := 0.0
	var d unit.Measured
	for k := range j.Valves {
		v := &j.Valves[k]
		if !slices.Contains(j.Ports[i].Valves, v.ID) {
			continue
		}
		h, _ := j.HeadOr(v)
		n, d.Value, d.Spread, d.Known = n+1, d.Value+h.Value, max(d.Spread, h.Spread), true
		if v.Contact.Known {
			p.Seat.Contact = v.Contact
		}
	}
	if n > 0 {
		d.Value /= n
		p.Seat.Diameter = d
	}
	return p
}

// OtherAir is the air of the latest port that was tested, for tests of ports that
// were not.
func OtherAir(ports []OtherPort) crosscheck.Port {
	for _, p := range ports {
		if p.Known != nil {
			return crosscheck.Port{Room: p.Known.Room, Temp: p.Known.Temp}
		}
	}
	return crosscheck.Port{Room: gas.SeaLevelPressure, Temp: 293.15}
}

// CylindersOf are the cylinders of a head as its maker counts, in its order.
func CylindersOf(j *head.Job) []int {
	var out []int
	for _, v := range j.Valves {
		if !slices.Contains(out, v.Cylinder) {
			out = append(out, v.Cylinder)
		}
	}
	return out
}

// OtherCylinderOf gathers the leaks of a cylinder's ports.
func OtherCylinderOf(j *head.Job, n int, ports []OtherPort) OtherCylinder {
	c := OtherCylinder{Cylinder: n, Name: "cylinder " + strconv.Itoa(n), LeakDown: []OtherFigure{}, Lost: []OtherFigure{}}
	var in, missing []string
	for _, p := range j.CylinderPorts(n) {
		i := slices.IndexFunc(ports, func(x OtherPort) bool { return x.Port == p.ID })
		if i < 0 {
			continue
		}
		name := string(p.Side)
		if p.Part != "" {
			name += " " + p.Part
		}
		if ports[i].Known == nil {
			missing = append(missing, name)
			continue
		}
		l := *ports[i].Known
		if l.Part = PartOf(j, p, ports[i].card, n); l.Part.Shared {
			name += ", shared"
		}
		in = append(in, name)
		c.Leaks = append(c.Leaks, l)
	}
	c.Ports, c.Missing = strings.Join(in, " and "), strings.Join(missing, " and ")
	return c
}

// Forecast fills in what each test would show of the leaks of ports and cylinders.
// cranking finds what a gauge shows while the starter turns a cylinder; nil: it is
// left out.
func (w *OtherWays) Forecast(cylinders []OtherCylinder, ports []OtherPort, style Style, cranking func(c *OtherCylinder) (*crosscheck.CrankingForecast, error)) error {
	for i := range ports {
		p := &ports[i]
		if p.Known == nil {
			continue
		}
		for _, l := range w.Liquids {
			f, err := crosscheck.LiquidTest{Liquid: l, Head: w.Height}.Forecast(*p.Known)
			if err != nil {
				return err
			}
			x := OtherLiquid{Paper: TimesFigure(f.Paper), Drop: TimesFigure(f.Drop), After: f.Drop.Median}
			if f.Drop.Never >= 0.025 && f.Drop.Never < 1 {
				x.Never = Chance(f.Drop.Never)
			}
			p.Liquids = append(p.Liquids, x)
		}
		for _, pump := range w.Pumps {
			f, err := pump.Forecast(*p.Known)
			var deep *crosscheck.InputError
			if errors.As(err, &deep) { // the air of its test is thinner than the blanked reading is deep
				p.Needle = append(p.Needle, OtherFigure{Figure: "–"})
				continue
			}
			if err != nil {
				return err
			}
			p.Needle = append(p.Needle, NeedleFigure(f.Below, style))
		}
	}
	for i := range cylinders {
		c := &cylinders[i]
		if len(c.Leaks) == 0 {
			continue
		}
		for _, r := range w.Restrictors {
			f, err := crosscheck.LeakDown{Supply: w.Supply, Restrictor: r}.Forecast(c.Leaks...)
			if err != nil {
				return err
			}
			if len(c.LeakDown) == 0 {
				c.Loses = f.Lost.Median
			}
			c.LeakDown = append(c.LeakDown, GaugeFigure(f.Second, w.SupplyUnit))
			c.Lost = append(c.Lost, PercentFigure(f.Lost))
		}
		if cranking == nil {
			continue
		}
		crank, err := cranking(c)
		if err != nil {
			return err
		}
		if crank != nil {
			gauge := style.CrankingUnit().Name
			c.Cranking = &OtherCrank{Without: GaugeFigure(crank.Without, gauge), With: GaugeFigure(crank.With, gauge), Cost: CostWords(crank.Cost)}
		}
	}
	return nil
}
