package rigfile

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/rig"
	"seatproof/unit"

	"github.com/pelletier/go-toml/v2/unstable"
)

// partsKeys are the keys of each table of a parts list, in the order in which
// they are told.
var partsKeys = map[string][]string{
	"":       {"name", "fittings", "rig_leak"},
	"air":    {"pressure", "altitude", "temperature"},
	"pump":   {"name", "free_flow", "blanked", "end_pressure", "curve", "rated_at", "power", "price", "supply", "have"},
	"gauge":  {"name", "kind", "unit", "span", "division", "resolution", "class", "accuracy", "price", "have"},
	"hose":   {"name", "bore", "length", "gauge_at", "price", "have"},
	"port":   {"name", "valves", "bore", "volume", "limit"},
	"engine": {"bore", "stroke", "rod", "compression_ratio", "intake_closes", "cranking", "valves", "cost"},
}

// set takes one key of the item at hand.
func (l *list) set(kind, key, full string, v value, at place) {
	if v.at == (place{}) {
		v.at = at
	}
	if !slices.Contains(partsKeys[kind], key) {
		l.add(at, "", fmt.Errorf("unknown key %q%s", full, nearestPartsKey(kind, key)))
		return
	}
	if err := l.take(kind, key, v); err != nil {
		l.add(v.at, full, err)
	}
}

func nearestPartsKey(kind, key string) string {
	if near := unit.Nearest(key, partsKeys[kind]); near != "" {
		return ": did you mean " + near + "?"
	}
	return ": the keys here are " + strings.Join(partsKeys[kind], ", ")
}

func (l *list) take(kind, key string, v value) error {
	// what a rig file has too is read as there
	if i := slices.IndexFunc(fields, func(f field) bool { return f.key == strings.TrimPrefix(kind+"."+key, ".") }); i >= 0 {
		switch kind + "." + key {
		case ".name", "pump.free_flow", "pump.blanked", "pump.rated_at":
		case ".rig_leak", "air.pressure", "air.altitude", "air.temperature":
			return fields[i].set(&l.top, v)
		case "gauge.accuracy":
			l.late = &v
			return fields[i].set(&l.item, v)
		case "pump.curve":
			if v.kind == unstable.String {
				c, err := curveText(v)
				if err != nil {
					return err
				}
				v = c
			}
			return fields[i].set(&l.item, v)
		default:
			return fields[i].set(&l.item, v)
		}
	}
	switch kind {
	case "":
		if key == "fittings" {
			return measuredAt(v, unit.VolumeDim, above(0, 0.01, "10 L"), &l.parts.Fittings)
		}
		return nameAt(v, &l.parts.Name)
	case "pump":
		return l.takePump(key, v)
	case "gauge":
		g := &l.parts.Gauges[len(l.parts.Gauges)-1]
		if key == "name" {
			return nameAt(v, &g.Name)
		}
		return costAt(key, v, &g.Cost)
	case "hose":
		h := &l.parts.Hoses[len(l.parts.Hoses)-1]
		if key == "name" {
			return nameAt(v, &h.Name)
		}
		return costAt(key, v, &h.Cost)
	case "engine":
		return l.takeEngine(key, v)
	default:
		return l.takePort(key, v)
	}
}

// takeEngine takes a key of the engine. Speeds and sizes that nobody turns or makes
// are refused here, where the line is known.
func (l *list) takeEngine(key string, v value) error {
	e := &l.parts.Engine
	switch key {
	case "valves":
		heads, err := valveHeads(v)
		e.Heads = heads
		return err
	case "compression_ratio", "cost":
		return l.takeShare(key, v)
	}
	f := map[string]struct {
		dim    unit.Dimension
		bounds func(unit.Quantity) error
		to     *unit.Measured
	}{
		"bore":          {unit.LengthDim, above(5e-3, 1, "1 m"), &e.Bore},
		"stroke":        {unit.LengthDim, above(5e-3, 1, "1 m"), &e.Stroke},
		"rod":           {unit.LengthDim, above(5e-3, 3, "3 m"), &e.Rod},
		"intake_closes": {unit.AngleDim, from(-60*math.Pi/180, 120*math.Pi/180, "120 deg"), &e.IntakeCloses},
		"cranking":      {unit.SpeedDim, above(0, 2000*2*math.Pi/60, "2000 rpm"), &e.Cranking},
	}[key]
	return measuredAt(v, f.dim, f.bounds, f.to)
}

// takeShare takes the two figures of an engine that have no unit of their own.
func (l *list) takeShare(key string, v value) error {
	e := &l.parts.Engine
	if v.kind != unstable.String && v.kind != unstable.Integer && v.kind != unstable.Float {
		return fmt.Errorf("it must be a figure such as \"9.5\", but is %s", kindName(v.kind))
	}
	if key == "compression_ratio" {
		q, err := unit.ParseIn(strings.TrimSuffix(strings.ReplaceAll(v.text, " ", ""), ":1"), unit.RatioDim, "1")
		if err == nil && !(q.Value > 1 && q.Value <= 40) {
			err = fmt.Errorf("a compression ratio of %s is none: it is above 1, as 9.5", v.text)
		}
		if err == nil {
			e.Ratio = q.Measured
		}
		return err
	}
	q, err := unit.ParseIn(v.text, unit.RatioDim, "%")
	if err == nil && !(q.Value >= 0.001 && q.Value <= 0.5) {
		err = fmt.Errorf("%s of the cranking pressure can't be a limit: give 0.1 %% to 50 %%, 2 %% is the usual choice", v.text)
	}
	if err == nil {
		e.Share = q.Value
	}
	return err
}

func (l *list) takePump(key string, v value) error {
	p := &l.parts.Pumps[len(l.parts.Pumps)-1]
	switch key {
	case "name":
		return nameAt(v, &p.Name)
	case "free_flow":
		all, err := stated(v, unit.FlowDim, above(0, 2./60, "2000 L/min"))
		if err == nil {
			p.Flows, p.Pump.FreeFlow = all.list, all.first
		}
		return err
	case "blanked":
		// what is too deep is asked about with the other slips, beside what it may be
		all, err := stated(v, unit.PressureDim, func(q unit.Quantity) error {
			if q.Value > deepestVacuum {
				return nil
			}
			return vacuum(q)
		})
		if err == nil {
			p.Vacuums, p.Pump.Blanked = all.list, all.first
		}
		return err
	case "end_pressure":
		all, err := stated(v, unit.PressureDim, above(0, deepestVacuum, "110 kPa"))
		if err == nil {
			p.End = all.list[0]
		}
		return err
	case "rated_at":
		if v.kind == unstable.String && strings.EqualFold(strings.TrimSpace(v.text), "here") {
			p.ReadHere = true
			return nil
		}
		err := measuredAt(v, unit.PressureDim, airPressure, &l.item.Pump.RatedAt)
		if err != nil {
			err = fmt.Errorf("%w (or \"here\", where its figures were read in this room)", err)
		}
		return err
	case "power":
		w, err := watts(v)
		p.Power = w
		return err
	case "supply":
		return nameAt(v, &p.Supply)
	}
	return costAt(key, v, &p.Cost)
}

func (l *list) takePort(key string, v value) error {
	p := &l.parts.Ports[len(l.parts.Ports)-1]
	switch key {
	case "name":
		return nameAt(v, &p.Name)
	case "bore", "limit":
		var m unit.Measured
		dim, bounds := unit.LengthDim, above(0, 1, "1 m")
		to := &p.Bore
		if key == "limit" {
			dim, bounds, to = unit.FlowDim, above(0, 1e-3/60*100, "100 L/min"), &p.Limit
		}
		err := measuredAt(v, dim, bounds, &m)
		*to = m.Value
		return err
	}
	heads, err := valveHeads(v)
	p.Heads = append(p.Heads, heads...)
	return err
}

// valveHeads reads the diameters of valves' heads [m].
func valveHeads(v value) ([]float64, error) {
	bounds := above(0, 0.2, "200 mm")
	all, err := stated(v, unit.LengthDim, func(q unit.Quantity) error {
		if q.Value > 0 && q.Value < 5e-3 {
			return fmt.Errorf("%q is less than any valve's head: check figure and unit", q.String())
		}
		return bounds(q)
	})
	if err != nil {
		return nil, err
	}
	var heads []float64
	for _, s := range all.list {
		heads = append(heads, s.Value)
	}
	return heads, nil
}

// measuredAt reads a figure that may have its ±.
func measuredAt(v value, dim unit.Dimension, bounds func(unit.Quantity) error, to *unit.Measured) error {
	q, err := v.quantity(dim)
	if err == nil {
		err = bounds(q)
	}
	if err == nil {
		*to = q.Measured
	}
	return err
}

func nameAt(v value, to *string) error {
	var r rig.Rig
	err := setName(&r, v)
	*to = r.Name
	return err
}

// several are figures stated for one thing.
type several struct {
	list  []check.Stated
	first unit.Measured
}

// stated reads one figure or several: a list, or a text that parts them by " / ".
func stated(v value, dim unit.Dimension, bounds func(unit.Quantity) error) (several, error) {
	items := v.items
	if v.kind != unstable.Array {
		items = nil
		for _, t := range strings.Split(v.text, " / ") {
			items = append(items, value{kind: v.kind, text: strings.TrimSpace(t), at: v.at})
		}
	}
	var out several
	for i, item := range items {
		q, err := item.quantity(dim)
		if err == nil {
			err = bounds(q)
		}
		if err != nil {
			if len(items) > 1 {
				err = &figureError{item.at, i + 1, err}
			}
			return several{}, err
		}
		if i == 0 {
			out.first = q.Measured
		}
		out.list = append(out.list, check.Stated{Text: item.text, Value: q.Value})
	}
	if len(out.list) == 0 {
		return several{}, errors.New("it is an empty list: give a figure with its unit")
	}
	return out, nil
}

// figureError is a fault of one of several figures, at its own place.
type figureError struct {
	at     place
	figure int
	err    error
}

func (e *figureError) Error() string { return fmt.Sprintf("figure %d: %v", e.figure, e.err) }
func (e *figureError) Unwrap() error { return e.err }

// powers are units of power [W]; the horsepower is the mechanical one, NIST SP
// 811 B.8.
var powers = []struct {
	name string
	size float64
}{{"kW", 1000}, {"W", 1}, {"hp", 745.6999}}

// watts reads a power.
func watts(v value) (float64, error) {
	text, err := v.string()
	if err != nil {
		return 0, fmt.Errorf("%w: write it as \"12 W\"", err)
	}
	for _, p := range powers {
		rest, ok := strings.CutSuffix(strings.TrimSpace(text), p.name)
		if !ok {
			continue
		}
		q, err := unit.ParseIn(strings.TrimSpace(rest), unit.RatioDim, "1")
		if err != nil {
			return 0, fmt.Errorf("%q is no power: write it as \"12 W\"", text)
		}
		if w := q.Value * p.size; w > 0 && w <= 20e3 {
			return w, nil
		}
		return 0, fmt.Errorf("%q is not above zero and up to 20 kW: check figure and unit", text)
	}
	return 0, fmt.Errorf("%q is no power: write it as \"12 W\", in W, kW or hp", text)
}

// costAt takes price and have.
func costAt(key string, v value, to *check.Cost) error {
	if key == "have" {
		yes := map[string]bool{"true": true, "yes": true, "false": false, "no": false}
		b, ok := yes[strings.ToLower(strings.TrimSpace(v.text))]
		if !ok || v.kind == unstable.Array {
			return errors.New("it is true or false")
		}
		to.Have = b
		return nil
	}
	if v.kind != unstable.String && v.kind != unstable.Integer && v.kind != unstable.Float {
		return fmt.Errorf("it must be a price such as \"35 EUR\", but is %s", kindName(v.kind))
	}
	figure, money, _ := strings.Cut(strings.TrimSpace(v.text), " ")
	x, err := strconv.ParseFloat(strings.ReplaceAll(figure, ",", "."), 64)
	if err != nil || !(x >= 0 && x < 1e7) {
		return fmt.Errorf("%q is no price: write a figure, and behind it what it is counted in if you like: \"35 EUR\"", v.text)
	}
	to.Price, to.Money = x, strings.TrimSpace(money)
	return nil
}

// curveText reads a curve out of a form: pairs of vacuum and flow, parted by a
// comma within and " / " between.
func curveText(v value) (value, error) {
	out := value{kind: unstable.Array, at: v.at}
	for _, pair := range strings.Split(v.text, " / ") {
		a, b, ok := strings.Cut(pair, ", ")
		if !ok {
			return value{}, fmt.Errorf("%q is no pair of vacuum and flow: write them as \"0 kPa, 10 L/min / 78 kPa, 0 L/min\"", pair)
		}
		text := func(s string) value {
			return value{kind: unstable.String, text: strings.TrimSpace(s), at: v.at}
		}
		out.items = append(out.items, value{kind: unstable.Array, at: v.at, items: []value{text(a), text(b)}})
	}
	return out, nil
}
