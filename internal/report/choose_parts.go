package report

import (
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/unit"
)

// chooseChecks is what to do with the parts once they are there.
var chooseChecks = []string{
	"Close the plate on a blank, a smooth flat piece, and pull: read the blanked reading three times. It has to come near what the sheet says, at this altitude.",
	"Shut off and watch a minute: what falls now is the rig's own leak. A fitting that weeps shows here and not on a valve.",
	"Put a known leak in place of the blank, a fine needle or a jet: it has to be called leaking.",
	"Gauge vented: does it rest at nought? One that leans on a pin passes that and may still be wrong: hold it against a second gauge at one vacuum too.",
	"Fill hose, tee and plate with water and measure it: that is the rig's part of the volume. Dry it well.",
}

// chooseCautions stand beside a rig that is to be built.
var chooseCautions = []string{
	"Mains supplies: leave the pump's own plug and case as they are, and keep water and oil away from them. A motor pump runs hot when it is blanked for long.",
	"A trap keeps chips, oil and solvent out of pump and valve. Use a vessel made for vacuum: glass and thin boxes fall in.",
	"Hose for vacuum has a wall that does not close: a soft one goes flat, and gives gas and volume for a long time.",
	"The plate goes on the port's side: the vacuum pulls the valve shut. On the chamber's side it pulls it off its seat.",
}

func mm(m unit.Measured) string { return unit.Format(unit.Exactly(m.Value), unit.LengthDim, "mm", 0) }

// partsList is what a rig is built from.
func (s Style) partsList(c *check.Choice, x *check.Candidate) []PartShown {
	p := &c.Parts
	pump, gauge, hose := p.Pumps[x.Pump], p.Gauges[x.Gauge], p.Hoses[x.Hose]
	price := func(k check.Cost) string {
		switch {
		case k.Have:
			return "there already"
		case k.Price > 0:
			return strings.TrimSpace(strconv.FormatFloat(k.Price, 'f', -1, 64) + " " + k.Money)
		}
		return ""
	}
	h := hose.Hose
	out := []PartShown{
		{"pump", pump.Name + ", " + s.pumpWords(pump), price(pump.Cost)},
		{"filter or trap", "between pump and shut-off valve, vacuum-proof", ""},
		{"shut-off valve", "a ball valve that closes in a quarter turn, bore " + mm(h.Bore) + " or more; what it seeps counts as rig leak", ""},
		{"hose", hose.Name + ": bore " + mm(h.Bore) + ", length " + unit.Format(unit.Exactly(h.Length.Value), unit.LengthDim, "m", 0) + ", stiff-walled", price(hose.Cost)},
		{"gauge tee", "on the port's side of the shut-off valve, or the hold can't be seen; " + s.teeWords(x), ""},
		{"gauge", gauge.Name + ", " + s.gaugeWords(gauge), price(gauge.Cost)},
		{"plate and pad", "flat plate with a barb, larger than the port's mouth; closed-cell pad that does not creep", ""},
		{"blank", "a smooth flat piece for the rig check", ""},
		{"known leak", "a fine needle or a jet for the rig check", ""},
		{"clips and grease", "a clip on every barb, a thin film of grease on the pad", ""},
	}
	return out
}

func (s Style) pumpWords(p check.PumpPart) string {
	words := "free flow " + s.anyFlow(p.Pump.FreeFlow.Value, 0)
	if n := len(p.Pump.Curve); n > 0 {
		words = "free flow " + s.anyFlow(p.Pump.Curve[0].Flow, 0) + ", by its curve"
	}
	if v := p.Pump.Blanked; v.Known {
		words += ", pulls to " + s.vacuum(v.Value)
		if !p.ReadHere {
			words += " by its sheet"
		}
	}
	if p.Supply != "" {
		words += ", " + p.Supply
	}
	return words
}

func (s Style) gaugeWords(g check.GaugePart) string {
	x := g.Gauge
	u := s.unit()
	words := Figure(x.Span.Low/u.Size, 3) + " to " + Figure(x.Span.High/u.Size, 3) + " " + u.Name
	if x.Resolution > 0 {
		words += ", steps of " + s.lost(x.Resolution)
	} else {
		words += ", a line every " + s.lost(x.Division)
	}
	switch {
	case x.Class > 0:
		words += ", class " + Figure(x.Class, 2)
	case x.Accuracy.Known:
		words += ", good to " + Figure(100*x.Accuracy.Value, 2) + " % of its span"
	}
	return words
}

// teeWords says where the gauge goes.
func (s Style) teeWords(x *check.Candidate) string {
	v := x.Ports[x.Worst]
	if x.TeeAtPort() {
		return "at the plate's end of the hose: at the valve's end it would read " + s.lost(v.HoseLoss) + " deeper than the port is, at ten times the limit"
	}
	return "at either end of the hose: it takes " + s.lost(v.HoseLoss) + " at ten times the limit, less than the gauge shows"
}

// plumbing is the order of the parts in words.
func (s Style) plumbing(c *check.Choice, x *check.Candidate) []string {
	order := "Pump, filter or trap, shut-off valve, hose, gauge tee, plate and pad, port."
	if x.GaugeAtPump || !x.TeeAtPort() {
		order = "Pump, filter or trap, shut-off valve, gauge tee, hose, plate and pad, port; or the tee behind the hose."
	}
	tee := s.teeWords(x)
	return []string{order, "The gauge goes on the port's side of the shut-off valve, " + tee + "."}
}
