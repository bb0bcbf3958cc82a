package web

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"seatproof/crosscheck"
	"seatproof/gas"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/unit"
)

// otherShown is the sheet *Other tests* of a head.
type otherShown struct {
	Head      otherHead          `json:"head"`
	Unit      string             `json:"unit"`
	Line      string             `json:"line"`
	Summary   string             `json:"summary"` // the forecasts in a line; "" where there is none
	Asked     map[string]string  `json:"asked"`   // how the tests are made, as typed or as taken
	Restricts []string           `json:"restrictors"`
	Cylinders []otherCylinder    `json:"cylinders"`
	Ports     []otherPort        `json:"ports"`
	Liquids   []otherLiquidWord  `json:"liquids"`
	Pumps     []string           `json:"pumps"` // this rig's, and the other one that was named
	Habit     string             `json:"habit"` // what "2 inHg below" would mean on this pump
	Kinds     []otherKind        `json:"kinds"`
	Observed  []observedShown    `json:"observed"`
	Binned    []observedShown    `json:"binned"`
	Cautions  []report.DetailRow `json:"cautions"`
	Guessed   []string           `json:"guessed"`
	TitleLine []report.DetailRow `json:"title_block"`

	Spread        string `json:"spread"`         // of cranking readings among cylinders; "" for too few
	GaugeSays     string `json:"gauge_says"`     // what was taken of a cranking gauge
	EngineMissing string `json:"engine_missing"` // what a cranking gauge's forecast wants; "" for nothing
}

type otherHead struct {
	ID     string `json:"id"`
	Rev    int64  `json:"rev"`
	Number string `json:"number"`
	Title  string `json:"title"`
}

// otherFigure is a forecast: the middle, and from where to where it may be.
type otherFigure struct {
	Figure string `json:"figure"`
	Range  string `json:"range"`
}

type otherCylinder struct {
	Cylinder int           `json:"cylinder"`
	Name     string        `json:"name"`
	Ports    string        `json:"ports"`     // whose leaks are in it
	Missing  string        `json:"missing"`   // whose are not; "" for none
	LeakDown []otherFigure `json:"leak_down"` // of each restrictor; none: no leak rate
	Lost     []otherFigure `json:"lost"`
	Cranking *otherCrank   `json:"cranking"`

	leaks []crosscheck.Leak
	lost  float64 // by the first restrictor
}

type otherCrank struct {
	Without otherFigure `json:"without"`
	With    otherFigure `json:"with"`
	Cost    string      `json:"cost"`
}

type otherPort struct {
	Port    string        `json:"port"`
	Name    string        `json:"name"`
	Short   string        `json:"short"`
	State   report.State  `json:"state"`
	Word    string        `json:"word"`
	Leak    string        `json:"leak"`
	Why     string        `json:"why"`     // no figure to forecast from
	Liquids []otherLiquid `json:"liquids"` // in the order of the sheet's
	Needle  []otherFigure `json:"needle"`  // in the order of its pumps

	leak *crosscheck.Leak
}

type otherLiquidWord struct {
	word
	Source  string `json:"source"`
	Caution string `json:"caution"`
}

type otherLiquid struct {
	Paper otherFigure `json:"paper"`
	Drop  otherFigure `json:"drop"`
	Never string      `json:"never"` // chance that no drop ever comes, where it is worth a word

	after float64 // s, of the drop; +Inf: never
}

// otherWays are how a person makes the other tests.
type otherWays struct {
	supply      unit.Measured
	supplyUnit  string
	restrictors []crosscheck.Restrictor
	height      unit.Measured
	pumps       []crosscheck.Pump
	asked       map[string]string
}

// Guesses for what nobody said (95 %), no source.
var (
	otherSupply = "80 psi"
	otherHeight = "30 ± 20 mm"
)

func (s *Server) getOther(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	out, err := s.other(r.Context(), k, func(key string) string { return r.URL.Query().Get(key) })
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, out)
}

// other makes the sheet; ask gives what the person typed of how they test.
func (s *Server) other(ctx context.Context, k kept[head.Job], ask func(key string) string) (*otherShown, error) {
	c, err := s.card(ctx, k)
	if err != nil {
		return nil, err
	}
	b, err := s.bench(ctx, k.V)
	if err != nil {
		return nil, err
	}
	out := &otherShown{
		Head: otherHead{k.ID, k.Rev, k.V.Number, k.V.Title}, Unit: c.Unit, Restricts: []string{}, Cylinders: []otherCylinder{}, Ports: []otherPort{},
		Liquids: []otherLiquidWord{}, Pumps: []string{}, Observed: []observedShown{}, Binned: []observedShown{}, Cautions: otherCautions, Guessed: []string{},
		TitleLine: portBlock(c.TitleBlock, "Other tests"),
	}
	out.TitleLine[3].Words = "Other tests"
	for i := range c.Rows {
		out.Ports = append(out.Ports, otherPortOf(&k.V, &c.Rows[i], b.style))
	}
	air := otherAir(out.Ports)
	ways, err := s.otherWays(k.V, b, air, ask, out)
	if err != nil {
		return nil, err
	}
	out.Asked = ways.asked
	for _, n := range cylindersOf(&k.V) {
		out.Cylinders = append(out.Cylinders, cylinderOf(&k.V, n, out.Ports))
	}
	if err := s.forecast(k.V, ways, b.style, out); err != nil {
		return nil, err
	}
	out.Kinds = observedKinds
	if err := s.observedOn(ctx, k, air, out); err != nil {
		return nil, err
	}
	out.Spread, out.GaugeSays = spreadOfCranking(out.Observed), gaugeSays
	out.Line, out.Summary = otherLine(out), otherSummary(out)
	return out, nil
}

// otherPortOf is a port with its leak as it is now, or why there is none.
func otherPortOf(j *head.Job, row *cardRow, style report.Style) otherPort {
	p := otherPort{Port: row.Port, Name: row.Name, Short: row.Short, State: row.State, Word: row.Word, Leak: row.Leak, Liquids: []otherLiquid{}, Needle: []otherFigure{}}
	card := row.card
	switch {
	case card == nil || card.Standing == head.NotTested:
		p.Why = "not tested"
	case card.Standing == head.Lapsed:
		p.Leak, p.Why = "", "worked on since it was tested"
	case card.Leak == nil || row.outcome == nil:
		p.Why = "no leak rate"
	default:
		p.leak = leakOf(j, card, row.outcome)
		if p.leak == nil {
			p.Why = "no leak rate"
		}
	}
	return p
}

// onceMore is how much a leak scatters from test to test where it is only known to
// be less than something: the sd of its logarithm, docs/model.md §4.
const onceMore = 0.3

// leakOf is the leak of a port for the other tests: the draws of its test, moved to
// what its tests say together, with the scatter that one more test adds.
func leakOf(j *head.Job, card *head.PortCard, o *report.Outcome) *crosscheck.Leak {
	rd := o.Reading
	if len(rd.Draws) == 0 && len(o.Each) > 0 && o.Middle < len(o.Each) {
		rd = o.Each[o.Middle].Reading
	}
	if rd == nil || len(rd.Draws) == 0 || rd.Leak == nil {
		return nil
	}
	l := crosscheck.Leak{Port: portAir(j, card.ID, o.Reading), Again: onceMore}
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

// portAir is what is known of a port beside its leak: the air of its test, and the
// seats of its valves.
func portAir(j *head.Job, id string, rd *leak.Reading) crosscheck.Port {
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

// otherAir is the air of the latest port that was tested, for tests of ports that
// were not.
func otherAir(ports []otherPort) crosscheck.Port {
	for _, p := range ports {
		if p.leak != nil {
			return crosscheck.Port{Room: p.leak.Room, Temp: p.leak.Temp}
		}
	}
	return crosscheck.Port{Room: gas.SeaLevelPressure, Temp: 293.15}
}

// otherWays reads how the person makes the tests. What can't be is a fault at its
// field.
func (s *Server) otherWays(j head.Job, b bench, air crosscheck.Port, ask func(string) string, out *otherShown) (otherWays, error) {
	w := otherWays{asked: map[string]string{}}
	var f faults
	text := func(key, otherwise string) asked {
		w.asked[key] = strings.TrimSpace(ask(key))
		if w.asked[key] == "" {
			return asked{Text: otherwise}
		}
		return asked{Text: w.asked[key]}
	}
	w.supplyUnit = "psi"
	supply := text("supply", otherSupply)
	if q, err := unit.ParseIn(supply.Text, unit.PressureDim, "psi"); err == nil {
		w.supplyUnit = q.Unit
	}
	w.supply = supply.read(unit.PressureDim, "psi", "supply", &f)
	w.height = text("height", otherHeight).read(unit.LengthDim, "mm", "height", &f)
	w.restrictors = []crosscheck.Restrictor{crosscheck.Restrictor040, crosscheck.Restrictor060}
	own, err := ownRestrictor(text, w.supply, air, &f)
	if err != nil {
		return w, err
	}
	if own != nil {
		w.restrictors = append(w.restrictors, *own)
	}
	for _, r := range w.restrictors {
		out.Restricts = append(out.Restricts, r.Name)
	}
	if rg, unread := s.ReadRig(b.rigs[j.RigID]); len(unread) == 0 && rg.Pump.FreeFlow.Known && rg.Pump.Blanked.Known {
		p := crosscheck.Pump{Free: rg.Pump.FreeFlow, Blanked: rg.Pump.Blanked}
		if rg.Pump.RatedAt.Known && rg.Pump.RatedAt.Value > 0 { // a pump reaches a ratio: docs/model.md §2
			p.Blanked.Value *= air.Room / rg.Pump.RatedAt.Value
		}
		if _, err := p.Leak(unit.Exactly(0), air); err == nil {
			w.pumps = append(w.pumps, p)
			out.Pumps = append(out.Pumps, "this rig’s pump")
			out.Habit = habit(p, air, b.style)
		}
	}
	free, blanked := text("free_flow", "").read(unit.FlowDim, "L/min", "free_flow", &f), text("blanked", "").read(unit.PressureDim, b.style.Unit.Name, "blanked", &f)
	if free.Known || blanked.Known {
		p := crosscheck.Pump{Free: free, Blanked: blanked}
		if _, err := p.Leak(unit.Exactly(0), air); err != nil {
			inputFault(&f, err, map[string]string{"free flow": "free_flow"})
		} else {
			w.pumps = append(w.pumps, p)
			out.Pumps = append(out.Pumps, w.asked["free_flow"]+" pump")
		}
	}
	test := crosscheck.LeakDown{Supply: w.supply, Restrictor: w.restrictors[0]}
	if _, err := test.Leak(unit.Exactly(w.supply.Value/2), air); w.supply.Known && err != nil {
		inputFault(&f, err, nil)
	}
	if _, err := (crosscheck.LiquidTest{Liquid: crosscheck.Liquids[0], Head: w.height}).Leak(crosscheck.SeenDry, unit.Exactly(60), air); w.height.Known && err != nil {
		inputFault(&f, err, map[string]string{"head": "height"})
	}
	return w, f.err()
}

// ownRestrictor is the tester's own restrictor, by its bore or by what it shows with
// a known leak on it; nil where neither is said.
func ownRestrictor(text func(key, otherwise string) asked, supply unit.Measured, air crosscheck.Port, f *faults) (*crosscheck.Restrictor, error) {
	bore := text("orifice", "").read(unit.LengthDim, "mm", "orifice", f)
	leak := text("known_leak", "").read(unit.FlowDim, "cm³/min", "known_leak", f)
	second := text("known_second", "").read(unit.PressureDim, "psi", "known_second", f)
	var r crosscheck.Restrictor
	var err error
	switch {
	case leak.Known != second.Known:
		f.add(map[bool]string{true: "known_second", false: "known_leak"}[leak.Known], "A known leak goes with what the second gauge shows with it.", "")
		return nil, nil
	case leak.Known:
		r, err = crosscheck.ByKnownLeak("own, by a known leak", supply, second, leak, air)
	case bore.Known:
		r, err = crosscheck.Bored("own, "+unit.Format(unit.Exactly(bore.Value), unit.LengthDim, "mm", 3), bore, crosscheck.DrilledCd)
	default:
		return nil, nil
	}
	if err != nil {
		inputFault(f, err, map[string]string{"known leak": "known_leak", "second": "known_second"})
		return nil, nil
	}
	return &r, nil
}

// habit says what a needle 2 inHg below the blanked reading means on a pump.
func habit(p crosscheck.Pump, air crosscheck.Port, style report.Style) string {
	const inHg = 3386.388640341
	b, err := p.Leak(unit.Exactly(2*inHg), air)
	if err != nil {
		return ""
	}
	return fmt.Sprintf("The habit that a needle may stand 2 inHg below the blanked reading (common practice, no source) lets a leak of %s cm³/min pass on this rig’s pump (%s to %s).",
		report.Figure(b.Median*6e7, 2), report.Figure(b.Low*6e7, 2), report.Figure(b.High*6e7, 2))
}

// cylindersOf are the cylinders of a head as its maker counts, in its order.
func cylindersOf(j *head.Job) []int {
	var out []int
	for _, v := range j.Valves {
		if !slices.Contains(out, v.Cylinder) {
			out = append(out, v.Cylinder)
		}
	}
	return out
}

// cylinderOf gathers the leaks of a cylinder's ports.
func cylinderOf(j *head.Job, n int, ports []otherPort) otherCylinder {
	c := otherCylinder{Cylinder: n, Name: "cylinder " + strconv.Itoa(n), LeakDown: []otherFigure{}, Lost: []otherFigure{}}
	var in, missing []string
	for _, p := range j.CylinderPorts(n) {
		i := slices.IndexFunc(ports, func(x otherPort) bool { return x.Port == p.ID })
		if i < 0 {
			continue
		}
		name := string(p.Side)
		if p.Part != "" {
			name += " " + p.Part
		}
		if ports[i].leak == nil {
			missing = append(missing, name)
			continue
		}
		l := *ports[i].leak
		if l.Part = len(p.Cylinders) > 1; l.Part {
			name += ", shared"
		}
		in = append(in, name)
		c.leaks = append(c.leaks, l)
	}
	c.Ports, c.Missing = strings.Join(in, " and "), strings.Join(missing, " and ")
	return c
}

// forecast fills in what each test would show.
func (s *Server) forecast(j head.Job, ways otherWays, style report.Style, out *otherShown) error {
	for _, l := range crosscheck.Liquids {
		shown := otherLiquidWord{word: word{Code: l.Code, Word: l.Name}, Source: l.Source}
		if l.Fuel {
			shown.Caution = otherCautions[0].Words
		}
		out.Liquids = append(out.Liquids, shown)
	}
	for i := range out.Ports {
		p := &out.Ports[i]
		if p.leak == nil {
			continue
		}
		for _, l := range crosscheck.Liquids {
			f, err := crosscheck.LiquidTest{Liquid: l, Head: ways.height}.Forecast(*p.leak)
			if err != nil {
				return err
			}
			x := otherLiquid{Paper: timesFigure(f.Paper), Drop: timesFigure(f.Drop), after: f.Drop.Median}
			if f.Drop.Never >= 0.025 && f.Drop.Never < 1 {
				x.Never = report.Chance(f.Drop.Never)
			}
			p.Liquids = append(p.Liquids, x)
		}
		for _, pump := range ways.pumps {
			f, err := pump.Forecast(*p.leak)
			if err != nil {
				return err
			}
			p.Needle = append(p.Needle, pressureFigure(f.Below, style))
		}
	}
	for i := range out.Cylinders {
		c := &out.Cylinders[i]
		if len(c.leaks) == 0 {
			continue
		}
		for _, r := range ways.restrictors {
			f, err := crosscheck.LeakDown{Supply: ways.supply, Restrictor: r}.Forecast(c.leaks...)
			if err != nil {
				return err
			}
			if len(c.LeakDown) == 0 {
				c.lost = f.Lost.Median
			}
			c.LeakDown = append(c.LeakDown, gaugeFigure(f.Second, ways.supplyUnit))
			c.Lost = append(c.Lost, percentFigure(f.Lost))
		}
		crank, missing, err := s.crankingOf(&j, c)
		if err != nil {
			return err
		}
		if out.EngineMissing = missing; crank != nil {
			c.Cranking = &otherCrank{Without: gaugeFigure(crank.Without, "bar"), With: gaugeFigure(crank.With, "bar"), Cost: costWords(crank.Cost)}
		}
	}
	return nil
}
