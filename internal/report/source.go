package report

import (
	"cmp"
	"strings"

	"seatproof/leak"
	"seatproof/limit"
)

// SourceRow says where a computed figure comes from: the formula, what went into
// it, and where the formula stands.
type SourceRow struct {
	Figure  string `json:"figure"`
	Formula string `json:"formula"`
	Inputs  string `json:"inputs"`
	Source  string `json:"source"`
}

// Sources opens every figure of a port that has one: leak rate, both intervals,
// limit and chance. Empty where there is no answer.
func (o *Outcome) Sources(s Style) []SourceRow {
	out := []SourceRow{}
	if !o.Answered() || o.Reading.Leak == nil {
		return out
	}
	r := o.Reading
	if r.Source == leak.FromSteady {
		out = append(out, SourceRow{"leak rate", "the pump's flow at the steady vacuum, less the rig leak, carried to 50 kPa by the law of the leak", o.steadyInputs(s), "docs/model.md 2 and 4.11"})
	} else {
		formula := "q = V/pa · Ta/Tw · dp/dt at 50 kPa vacuum, less the rig leak; dp/dt by the law of opening and seep that fits the hold"
		out = append(out, SourceRow{"leak rate", formula, o.holdInputs(s), "docs/model.md 1, 3 and 4.3 to 4.9"})
	}
	if o.Tests() > 1 {
		out = append(out, SourceRow{"these tests", "the mean of ln q over the tests, each with its own doubt and what tests differ by", o.ThisCell(s) + " cm³/min, 95 %, of " + count(o.Tests(), "test"), "docs/model.md 4.12"})
	} else {
		out = append(out, SourceRow{"this trace", "95 % of all leaks that fit the hold, with every input moved within its ±; the shares stand below", o.ThisCell(s) + " cm³/min", "docs/model.md 4.5 to 4.10"})
	}
	if g := r.TestedAgain; g != nil {
		out = append(out, SourceRow{"tested again", "ln q of one more test: normal about this port's own, with the scatter between tests", betweenWords(r.Between()), "docs/model.md 4.12"})
	}
	if o.Limit != nil {
		row := SourceRow{"limit, one valve", "typed in for this head", s.flow(o.Limit.Flow) + " cm³/min", ""}
		switch {
		case o.Limit.Rule == limit.ByCost:
			share := Figure(cmp.Or(o.Limit.Set, limit.UsualShare)*100, 2) + " %"
			row.Formula = "the leak that takes " + share + " of the cranking pressure, all valves of a cylinder together, shared by the diameters of their heads"
			row.Inputs = "bore, stroke, rod, compression ratio, intake closing and cranking speed; what nobody gave is guessed, wide"
			row.Source = "docs/model.md 9 and its section on the engine"
		case o.Limit.Rule != "" && !o.Limit.Workmanship:
			row.Formula = o.Limit.By
		case o.Limit.Workmanship:
			row.Formula = "mdot = G (p1² - p2²)/(2 μ R T), G = w h³/(12 L), with slip, round the valve's head, in the air of the test"
			row.Inputs = "gap h " + Figure(cmp.Or(o.Limit.Set, limit.WorkmanshipGap)*1e6, 2) + " µm over L " + Figure(limit.WorkmanshipContact*1e3, 2) + " mm: this program's choice, no standard's"
			if d := o.Limit.Diameter; d > 0 {
				row.Inputs = "valve " + Figure(d*1e3, 3) + " mm, " + row.Inputs
			}
			row.Source = "docs/model.md 1 and 6"
		}
		out = append(out, row)
		if o.Over != nil {
			out = append(out, SourceRow{"chance of being over", "the share of tested again above the limit; up to 5 % holds, from 95 % leaks", Chance(*o.Over), "docs/model.md 9; JCGM 106:2012, 7.3 and 8.3"})
		}
	}
	return out
}

func (o *Outcome) holdInputs(s Style) string {
	r := o.Reading
	parts := []string{}
	if l := o.LostWords(s); l != "" {
		parts = append(parts, l)
	}
	if o.Volume > 0 {
		parts = append(parts, "volume of rig and port "+Figure(o.Volume*1e6, 3)+" cm³")
	} else {
		parts = append(parts, "volume guessed")
	}
	if o.RigLeak > 0 {
		parts = append(parts, "rig leak "+s.flow(o.RigLeak)+" cm³/min")
	}
	return strings.Join(append(parts, roomWords(r)...), ", ")
}

func (o *Outcome) steadyInputs(s Style) string {
	r := o.Reading
	parts := []string{}
	if r.Steady != nil {
		parts = append(parts, "steady "+s.vacuum(r.Steady.Vacuum.Median))
	}
	if r.Blanked != nil {
		parts = append(parts, "blanked "+s.vacuum(r.Blanked.Median))
	}
	return strings.Join(append(parts, roomWords(r)...), ", ")
}

// roomWords are the air's figures as they were taken.
func roomWords(r *leak.Reading) []string {
	var out []string
	if r.Room > 0 {
		out = append(out, "air "+Figure(r.Room/1e3, 4)+" kPa")
	}
	if r.RoomTemp > 0 {
		out = append(out, Figure(r.RoomTemp-273.15, 2)+" °C")
	}
	return out
}
