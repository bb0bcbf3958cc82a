package report

import (
	"bufio"
	"io"
	"strings"

	"seatproof/engine"
	"seatproof/unit"
)

// Elsewhere is what the leaks of a head cost its engine and would show in other
// tests.
type Elsewhere struct {
	Loss      *Loss
	Ways      OtherWays
	Cylinders []OtherCylinder
	Ports     []OtherPort
}

// tables are they, in the order of the page; those without a row are left out.
func (e *Elsewhere) tables(s Style) []sideTable {
	var out []sideTable
	for _, t := range []sideTable{e.costTable(s), e.cylinderTable(s), e.portTable(s)} {
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// costTable is what the leaks cost each cylinder.
func (e *Elsewhere) costTable(s Style) sideTable {
	t := sideTable{Title: "What the leaks cost this engine"}
	l := e.Loss
	if l == nil {
		return t
	}
	t.column("", "", "")
	t.column("on the starter,", "of the cranking peak", "of the cranking peak")
	t.column("at idle, of the", "work of a cycle", "of the work at idle")
	t.column("at top speed,", "of the work", "of the work at top speed")
	t.column("chance of being", "over "+l.share(), "chance of being over "+l.share())
	lost := func(x engine.Estimate) string { return s.percent(x.Median) + " (" + s.percents(x) + ")" }
	n := 0
	for _, c := range l.Ask.Cylinders {
		if len(c.Leaks) == 0 {
			t.Below = append(t.Below, sentence(c.Name)+": "+strings.Join(c.Untold, ", ")+".")
			continue
		}
		x := &l.Cylinders[n]
		n++
		t.Rows = append(t.Rows, []string{c.Name, lost(x.Cost.Cranking.Share), lost(x.Cost.Idle.Share), lost(x.Cost.Top.Share), Chance(x.Over)})
		if len(c.Untold) > 0 {
			t.Below = append(t.Below, sentence(c.Name)+": "+strings.Join(c.Untold, ", ")+".")
		}
	}
	t.Below = append(t.Below, "Cylinder: "+s.lossEngine(l)+".")
	return t
}

// cylinderTable is what leak-down tester and cranking gauge show.
func (e *Elsewhere) cylinderTable(s Style) sideTable {
	t := sideTable{Title: "The same leaks in other tests, by cylinder"}
	t.column("", "", "")
	supply := unit.Format(unit.Exactly(e.Ways.Supply.Value), unit.PressureDim, e.Ways.SupplyUnit, 2)
	for _, r := range e.Ways.Restrictors {
		t.column("leak-down of "+supply+",", r.Name+" restrictor", "leak-down of "+supply+", "+r.Name+" restrictor")
	}
	t.column("cranking gauge,", "no leak", "cranking gauge, no leak")
	t.column("", "with these", "cranking gauge, with these leaks")
	for i := range e.Cylinders {
		c := &e.Cylinders[i]
		if len(c.Leaks) == 0 {
			continue
		}
		row := []string{c.Name}
		for k := range c.LeakDown {
			row = append(row, c.LeakDown[k].Figure+", lost "+c.Lost[k].words())
		}
		if x := c.Cranking; x != nil {
			row = append(row, x.Without.words(), x.With.words())
		}
		for len(row) < len(t.Head) {
			row = append(row, "–")
		}
		t.Rows = append(t.Rows, row)
		if c.Missing != "" {
			t.Below = append(t.Below, sentence(c.Name)+" without its "+c.Missing+", of which no leak is known.")
		}
	}
	t.Below = append(t.Below, "Valves only: rings and gasket come to it.")
	return t
}

// portTable is what a liquid in the port and the needle show.
func (e *Elsewhere) portTable(s Style) sideTable {
	t := sideTable{Title: "The same leaks in other tests, by port"}
	t.column("", "", "")
	for _, l := range e.Ways.Liquids {
		t.column(l.Name+" in the port,", "paper wet after", "with "+l.Name+" a paper is wet after")
		t.column("", "first drop after", "first drop after")
	}
	if len(e.Ways.Pumps) > 0 {
		t.column("needle below the", "blanked reading", "needle below the blanked reading")
	}
	for i := range e.Ports {
		p := &e.Ports[i]
		if p.Known == nil {
			t.Below = append(t.Below, sentence(p.Name)+": "+p.Why+".")
			continue
		}
		row := []string{p.Name}
		for _, l := range p.Liquids {
			drop := l.Drop.words()
			if l.Never != "" {
				drop += ", never: " + l.Never
			}
			row = append(row, l.Paper.words(), drop)
		}
		for _, n := range p.Needle {
			row = append(row, n.words())
		}
		t.Rows = append(t.Rows, row)
	}
	height := unit.Format(e.Ways.Height, unit.LengthDim, "mm", 2)
	t.Below = append(t.Below, "Liquid stands "+height+" over the seat. A dry outside proves nothing.")
	if len(e.Ways.Pumps) > 0 {
		t.Below = append(t.Below, "Needle: on this rig's pump.")
	}
	return t
}

// words are the middle and, in brackets, from where to where.
func (f OtherFigure) words() string {
	if f.Range == "" {
		return f.Figure
	}
	return f.Figure + " (" + f.Range + ")"
}

// WriteElsewhere writes what leaks cost and show elsewhere as short tables.
func WriteElsewhere(w io.Writer, e *Elsewhere, s Style) error {
	b := bufio.NewWriter(w)
	for _, t := range e.tables(s) {
		t.write(b)
	}
	return b.Flush()
}
