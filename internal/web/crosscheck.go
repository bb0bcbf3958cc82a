package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"seatproof/crosscheck"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/unit"
)

// otherShown is the sheet *Other tests* of a head.
type otherShown struct {
	Head      otherHead          `json:"head"`
	Unit      string             `json:"unit"`
	Vacuum    string             `json:"vacuum_unit"` // of a bare blanked reading
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

// What the sheet shows of cylinders and ports.
type (
	otherFigure   = report.OtherFigure
	otherCylinder = report.OtherCylinder
	otherPort     = report.OtherPort
)

type otherLiquidWord struct {
	word
	Source  string `json:"source"`
	Caution string `json:"caution"`
}

// otherWays are how a person makes the other tests.
type otherWays struct {
	report.OtherWays
	asked map[string]string
	rig   *crosscheck.Pump // this rig's; nil: not known
}

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
		Head: otherHead{k.ID, k.Rev, k.V.Number, k.V.Title}, Unit: c.Unit, Vacuum: b.style.VacuumUnit().Name, Restricts: []string{}, Cylinders: []otherCylinder{}, Ports: []otherPort{},
		Liquids: []otherLiquidWord{}, Pumps: []string{}, Observed: []observedShown{}, Binned: []observedShown{}, Cautions: otherCautions, Guessed: []string{},
		TitleLine: portBlock(c.TitleBlock, "Other tests"),
	}
	out.TitleLine[3].Words = "Other tests"
	for i := range c.Rows {
		out.Ports = append(out.Ports, otherPortOf(&k.V, &c.Rows[i]))
	}
	air := report.OtherAir(out.Ports)
	ways, err := s.otherWays(k.V, b, air, ask, out)
	if err != nil {
		return nil, err
	}
	out.Asked = ways.asked
	for _, n := range report.CylindersOf(&k.V) {
		out.Cylinders = append(out.Cylinders, report.OtherCylinderOf(&k.V, n, out.Ports))
	}
	if err := s.forecast(k.V, ways, b.style, out); err != nil {
		return nil, err
	}
	out.Kinds = kindsOf(b.style, ways.rig != nil)
	if err := s.observedOn(ctx, k, b, air, out); err != nil {
		return nil, err
	}
	out.Spread, out.GaugeSays = spreadOfCranking(out.Observed), gaugeSays
	out.Line, out.Summary = otherLine(out), otherSummary(out)
	return out, nil
}

// otherPortOf is a port with its leak as it is now, or why there is none.
func otherPortOf(j *head.Job, row *cardRow) otherPort {
	p := report.OtherPortOf(j, report.PortRead{Card: row.card, Outcome: row.outcome})
	p.Name, p.Short, p.State, p.Word, p.Leak = row.Name, row.Short, row.State, row.Word, row.Leak
	if row.card.Standing == head.Lapsed {
		p.Leak = ""
	}
	return p
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
	supply := text("supply", report.OtherSupply)
	w.SupplyUnit = typedIn(supply.Text, unit.PressureDim, "psi")
	w.Supply = supply.read(unit.PressureDim, "psi", "supply", &f)
	w.Height = text("height", report.OtherHeight).read(unit.LengthDim, "mm", "height", &f)
	w.Restrictors = []crosscheck.Restrictor{crosscheck.Restrictor040, crosscheck.Restrictor060}
	own, err := ownRestrictor(text, w.Supply, air, &f)
	if err != nil {
		return w, err
	}
	if own != nil {
		w.Restrictors = append(w.Restrictors, *own)
	}
	for _, r := range w.Restrictors {
		out.Restricts = append(out.Restricts, r.Name)
	}
	if p := s.rigPump(b); p != nil {
		if _, err := p.Leak(unit.Exactly(0), air); err == nil {
			w.rig = p
			w.Pumps = append(w.Pumps, *p)
			out.Pumps = append(out.Pumps, "this rig’s pump")
			out.Habit = habit(*p, air, b.style)
		}
	}
	free, blanked := text("free_flow", "").read(unit.FlowDim, "L/min", "free_flow", &f), text("blanked", "").read(unit.PressureDim, out.Vacuum, "blanked", &f)
	if free.Known || blanked.Known {
		p := crosscheck.Pump{Free: free, Blanked: blanked}
		if _, err := p.Leak(unit.Exactly(0), air); err != nil {
			inputFault(&f, err, map[string]string{"free flow": "free_flow"}, typedIn(w.asked["blanked"], unit.PressureDim, out.Vacuum))
		} else {
			w.Pumps = append(w.Pumps, p)
			out.Pumps = append(out.Pumps, w.asked["free_flow"]+" pump")
		}
	}
	test := crosscheck.LeakDown{Supply: w.Supply, Restrictor: w.Restrictors[0]}
	if _, err := test.Leak(unit.Exactly(w.Supply.Value/2), air); w.Supply.Known && err != nil {
		inputFault(&f, err, nil, w.SupplyUnit)
	}
	if _, err := (crosscheck.LiquidTest{Liquid: crosscheck.Liquids[0], Head: w.Height}).Leak(crosscheck.SeenDry, unit.Exactly(60), air); w.Height.Known && err != nil {
		inputFault(&f, err, map[string]string{"head": "height"}, "")
	}
	return w, f.err()
}

// rigPump is the pump of a head's rig, as [Server.pumpToday] has it; nil where it is
// not known.
func (s *Server) rigPump(b bench) *crosscheck.Pump {
	is, c := s.pumpToday(b)
	if c == nil {
		return nil
	}
	p := report.OtherPump(is, c)
	return &p
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
		inputFault(f, err, map[string]string{"known leak": "known_leak", "second": "known_second"}, "psi")
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

// forecast fills in what each test would show.
func (s *Server) forecast(j head.Job, ways otherWays, style report.Style, out *otherShown) error {
	ways.Liquids = crosscheck.Liquids
	for _, l := range ways.Liquids {
		shown := otherLiquidWord{word: word{Code: l.Code, Word: l.Name}, Source: l.Source}
		if l.Fuel {
			shown.Caution = otherCautions[0].Words
		}
		out.Liquids = append(out.Liquids, shown)
	}
	return ways.Forecast(out.Cylinders, out.Ports, style, func(c *otherCylinder) (*crosscheck.CrankingForecast, error) {
		crank, missing, err := s.crankingOf(&j, c)
		out.EngineMissing = missing
		return crank, err
	})
}
