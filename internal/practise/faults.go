package practise

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"seatproof/rig"
	"seatproof/unit"
)

// Fault is something wrong with the rig, a port or the line to the sensor.
type Fault struct {
	Name     string
	Port     string  // identity of the port it is on, of [LeakingValve] of the valve; "": the rig, or every port
	Strength float64 // as its kind has it
}

// The faults. What the strengths mean is said in [Faults].
const (
	LeakingValve   = "leaking-valve"
	TiredPump      = "tired-pump"
	StickingGauge  = "sticking-gauge"
	PlateNotSeated = "plate-not-seated"
	ColdGas        = "cold-gas"
	WetPort        = "wet-port"
	OiledSeat      = "oiled-seat"
	MovingSeat     = "moving-seat"
	ValvePasses    = "valve-passes"
	NarrowHose     = "narrow-hose"
	GaugeAtPump    = "gauge-at-pump"
	NoisyLine      = "noisy-line"
	UnpluggedCable = "unplugged-cable"
	BoardRestarts  = "board-restarts"
)

// FaultKind says what a fault is and how strong it usually is.
type FaultKind struct {
	Name  string
	Words string
	What  string // what its strength is a figure of
	Unit  string // in which a strength is given
	Usual float64
	Line  bool // of the line to the sensor, not of rig or port
	Port  bool // of ports or valves: nothing on a blank or a known leak

	practice string // of rig.PracticeTable; "": its own
	si       float64
}

var kinds = []FaultKind{
	{Name: LeakingValve, Port: true, Words: "a valve leaks", What: "its leak", Unit: "cm³/min", Usual: 120, si: cm3min},
	{Name: TiredPump, Words: "the pump's valves are worn", What: "part of the blanked reading that is lost", Unit: "", Usual: 0.15},
	{Name: StickingGauge, Words: "the needle sticks", What: "friction", Unit: "Pa", Usual: 400, practice: "needle-sticks"},
	{Name: PlateNotSeated, Port: true, Words: "the plate does not sit, every other time", What: "leak beside the pad", Unit: "cm³/min", Usual: 80, si: cm3min},
	{Name: ColdGas, Words: "the gas warms up slowly after the pull", What: "time constant of the wall", Unit: "s", Usual: 1.2},
	{Name: WetPort, Port: true, Words: "petrol was left in the port", What: "how fast it evaporates", Unit: "1/s", Usual: 1.0 / 60, practice: "petrol-left"},
	{Name: OiledSeat, Port: true, Words: "oil closes the leak, then lets go", What: "time it holds at 75 kPa", Unit: "s", Usual: 20, practice: "oil-film"},
	{Name: MovingSeat, Port: true, Words: "the gap closes with the vacuum", What: "exponent of gap against load", Unit: "", Usual: 0.2, practice: "seat-moves"},
	{Name: ValvePasses, Words: "the shut-off valve passes", What: "leak back through it at 50 kPa, the pump stopped", Unit: "cm³/min", Usual: 10, si: cm3min},
	{Name: NarrowHose, Words: "the hose, 1.5 m, is narrow", What: "bore with which it acts", Unit: "mm", Usual: 2, si: 1e-3},
	{Name: GaugeAtPump, Words: "the gauge is at the pump’s end of the hose", What: "whether it is, 1", Unit: "", Usual: 1},
	{Name: NoisyLine, Words: "the line garbles bytes", What: "part of the bytes that are changed", Unit: "", Usual: 0.002, Line: true},
	{Name: UnpluggedCable, Words: "the cable is pulled and put back", What: "time between", Unit: "s", Usual: 25, Line: true},
	{Name: BoardRestarts, Words: "the board restarts", What: "time between", Unit: "s", Usual: 30, Line: true},
}

// Faults lists every kind of fault.
func Faults() []FaultKind { return slices.Clone(kinds) }

// ParseFault reads "wet-port", "tired-pump=0.2" or "oiled-seat=12@p3": a name,
// how strong, and on which port. The error says what there is.
func ParseFault(text string) (Fault, error) {
	rest, port, _ := strings.Cut(strings.TrimSpace(text), "@")
	name, strength, has := strings.Cut(rest, "=")
	var names []string
	for _, k := range kinds {
		names = append(names, k.Name)
		if k.Name != name {
			continue
		}
		f := Fault{Name: name, Port: port, Strength: k.strength(k.Usual)}
		if has {
			x, err := strconv.ParseFloat(strength, 64)
			if err != nil || !(x > 0) || math.IsInf(x, 0) {
				return Fault{}, fmt.Errorf("fault %s: %q is no figure above zero: give its %s in %s, as %g", name, strength, k.What, or(k.Unit, "parts of one"), k.Usual)
			}
			f.Strength = k.strength(x)
		}
		return f, nil
	}
	hint := "there are " + strings.Join(names, ", ")
	if n := unit.Nearest(name, names); n != "" {
		hint = "did you mean " + n + "?"
	}
	return Fault{}, fmt.Errorf("no fault is called %q: %s", name, hint)
}

// String writes a fault as [ParseFault] reads it.
func (f Fault) String() string {
	x := f.Strength
	if k := f.kind(); k.si > 0 {
		x /= k.si
	}
	text := f.Name + "=" + strconv.FormatFloat(x, 'g', 6, 64)
	if f.Port != "" {
		text += "@" + f.Port
	}
	return text
}

func or(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

func (k FaultKind) strength(x float64) float64 {
	if k.si > 0 {
		return x * k.si
	}
	return x
}

func (f Fault) kind() FaultKind {
	for _, k := range kinds {
		if k.Name == f.Name {
			return k
		}
	}
	return FaultKind{}
}

// apply puts a fault on the closed volume of a port, or of the blank or known leak.
func (f Fault) apply(c *rig.Closed, on string) {
	if f.Port != "" && f.Port != on {
		return
	}
	ofPort := on != Blank && !isKnown(on)
	switch f.Name {
	case ColdGas:
		c.Tau = f.Strength
	case WetPort, OiledSeat, MovingSeat:
		if ofPort {
			var shown rig.Shown
			f.practise(c, &shown)
		}
	}
}

// valve puts a leak on a valve of some ports; where none is named, on one that
// r chooses.
func (f Fault) valve(ports []Port, r *rand.Rand) error {
	var all []*Valve
	for i := range ports {
		for k := range ports[i].Valves {
			v := &ports[i].Valves[k]
			if v.ID == f.Port {
				v.Leak = f.Strength
				return nil
			}
			all = append(all, v)
		}
	}
	if f.Port != "" || len(all) == 0 {
		return fmt.Errorf("practice rig: fault %s: there is no valve %q", f.Name, f.Port)
	}
	all[r.IntN(len(all))].Leak = f.Strength
	return nil
}

// gauge puts a fault on the gauge.
func (f Fault) gauge(c *rig.Closed, g *rig.Shown) {
	if f.Name == StickingGauge {
		f.practise(c, g)
	}
}

// practise puts on the practice of the forward model that a fault is.
func (f Fault) practise(c *rig.Closed, g *rig.Shown) {
	name := f.kind().practice
	for _, p := range rig.PracticeTable() {
		if p.Name == name {
			p.Apply(f.Strength, c, g)
		}
	}
}
