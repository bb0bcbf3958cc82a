package web

import (
	"slices"

	"seatproof/check"
	"seatproof/unit"
)

// The steps of a check of a rig, by code: each is one way to one kind of check.
const (
	stepZero     = "zero"
	stepSecond   = "second-gauge"
	stepColumn   = "water-column"
	stepBlanked  = "blanked"
	stepRigLeak  = "rig-leak"
	stepKnown    = "known-leak"
	stepTwoHolds = "two-holds"
	stepSyringe  = "syringe"
	stepWater    = "water"
	stepCurve    = "pump-curve"
	stepValve    = "valve-seep"
	stepHose     = "hose"
	stepDry      = "dryness"
	stepHead     = "head-temperature"
)

// column is a figure that is asked for, alone or in every row of a table.
type column struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	Unit string `json:"unit"` // "": the gauge's
	Hint string `json:"hint"`
	Skip bool   `json:"skip"` // may be left out
	dim  unit.Dimension
}

// checkStep is one way to check something of a rig, as a sheet shows it.
type checkStep struct {
	Code   string     `json:"code"`
	Kind   check.Kind `json:"kind"`
	Name   string     `json:"name"`
	How    string     `json:"how"`   // what to do
	Hand   string     `json:"hand"`  // how the figures are taken by hand; "": the same
	Live   bool       `json:"live"`  // on a live source
	Files  string     `json:"files"` // what the recordings are of, one or several; "": it takes none
	Most   int        `json:"most"`  // recordings that it takes
	Fields []column   `json:"fields"`
	Rows   []column   `json:"rows"`  // of a table; none: it has none
	Start  int        `json:"start"` // rows that stand there at first
}

func vac(key, name, hint string) column {
	return column{Key: key, Name: name, Hint: hint, dim: unit.PressureDim}
}
func sec(key, name, hint string) column {
	return column{Key: key, Name: name, Unit: "s", Hint: hint, dim: unit.TimeDim}
}
func flw(key, name, hint string) column {
	return column{Key: key, Name: name, Unit: "cm³/min", Hint: hint, dim: unit.FlowDim}
}
func skip(c column) column { c.Skip = true; return c }

// handHold are the figures of a hold read by eye.
func handHold(key, of string) []column {
	return []column{
		vac(key+"from", either(of, "The hold")+" began at", "The needle at the moment the pump was shut off."), vac(key+"to", "and ended at", ""),
		sec(key+"for", "after", ""),
	}
}

// checkSteps are the steps in the order of the sheet.
var checkSteps = []checkStep{
	{
		Code: stepZero, Kind: check.KindZero, Name: "Open to the room", Live: true, Files: "the gauge, open to the room", Most: 1,
		How:    "Pump off, the hose open to the room. Leave it alone for ten seconds.",
		Fields: []column{vac("zero", "The gauge shows", "Tap it first, and read half divisions.")},
	},
	{
		Code: stepSecond, Kind: check.KindGauge, Name: "By a second gauge", Start: 5,
		How: "Tee a second gauge in, pull, and read both at five vacuums from a fifth of the scale to its end.",
		Fields: []column{
			skip(column{Key: "class", Name: "Class of the second gauge", Unit: "%", Hint: "EN 837-1, as on its dial: 1.6 is 1.6 % of its span.", dim: unit.RatioDim}),
			skip(vac("span", "Its scale ends at", "")),
			skip(vac("division", "One division of it", "")),
		},
		Rows: []column{vac("reading", "This gauge", ""), vac("other", "The second", "")},
	},
	{
		Code: stepColumn, Kind: check.KindGauge, Name: "By a water column", Start: 4,
		How:    "Let the vacuum lift water in a clear hose, and measure from level to level. Ten metres are a whole atmosphere; one metre is enough for a second point.",
		Fields: []column{skip(column{Key: "water", Name: "The water is at", Unit: "°C", Hint: "", dim: unit.TemperatureDim})},
		Rows:   []column{vac("reading", "The gauge", ""), {Key: "height", Name: "The water stands", Unit: "mm", dim: unit.LengthDim}},
	},
	{
		Code: stepBlanked, Kind: check.KindBlanked, Name: "Five pulls on a blank", Live: true, Files: "pulls on the blank", Most: 25, Start: 5,
		How:  "A blank under the plate. Pull until it stands still, open the valve, and again: five times.",
		Hand: "Write down where the needle stood each time, in order.",
		Rows: []column{vac("pull", "Stood at", "")},
	},
	{
		Code: stepRigLeak, Kind: check.KindRigLeak, Name: "A hold on the blank", Live: true, Files: "a hold on the blank", Most: 1,
		How:    "A blank under the plate. Pull, shut the valve, switch the pump off, hands off for half a minute.",
		Fields: handHold("", ""),
	},
	{
		Code: stepKnown, Kind: check.KindKnown, Name: "A hold on a known leak", Live: true, Files: "a hold on the known leak", Most: 1,
		How:    "The known leak on the plate. Pull, shut the valve, hands off. It must be called leaking, and by its own figure.",
		Fields: append([]column{flw("known", "The known leak passes", "Of free air at 50 kPa, with what it may be off; or by name: needle 30, 13 mm.")}, handHold("", "")...),
	},
	{
		Code: stepTwoHolds, Kind: check.KindVolume, Name: "By two holds", Live: true, Files: "the hold on the blank, then that on the known leak", Most: 2,
		How:    "One hold on the blank and one on a known leak: what it adds to the fall tells the volume. No better than the known leak is known.",
		Fields: append(append([]column{flw("known", "The known leak passes", "Of free air at 50 kPa, with what it may be off; or by name: needle 30, 13 mm.")}, handHold("a", "On the blank it")...), handHold("b", "On the known leak it")...),
	},
	{
		Code: stepSyringe, Kind: check.KindVolume, Name: "By a syringe", Start: 3,
		How:  "A blank under the plate, a syringe in a tee. Pull to about half, shut off, read; draw the plunger out by a known step, wait ten seconds, read again.",
		Rows: []column{{Key: "step", Name: "Drawn out", Unit: "cm³", dim: unit.VolumeDim}, vac("before", "Before", ""), vac("after", "After", "")},
	},
	{
		Code: stepWater, Kind: check.KindVolume, Name: "By the water it takes",
		How: "Fill hose, fittings and plate with water, and measure or weigh it. Never a port: it wets seat and guide. Dry the rig before it is used.",
		Fields: []column{
			skip(column{Key: "volume", Name: "It took", Unit: "cm³", Hint: "Or weigh it.", dim: unit.VolumeDim}),
			skip(column{Key: "mass", Name: "It weighed", Unit: "g", Hint: "1 g is 1 cm³ of water.", dim: unit.VolumeDim}),
		},
	},
	{
		Code: stepCurve, Kind: check.KindPump, Name: "Steady readings on known leaks", Live: true, Files: "pulls on known leaks, in the order below", Most: 12, Start: 4,
		How:  "One known leak after the other on the plate: pull until it stands still, and read.",
		Rows: []column{flw("known", "Known leak", ""), vac("reading", "Stood at", "")},
	},
	{
		Code: stepValve, Kind: check.KindShutOff, Name: "Two holds on the blank", Live: true, Files: "a hold on the blank with the pump running", Most: 1,
		How:    "A blank under the plate. Pull, shut the valve, and leave the pump running behind it. Against the hold with the pump off it shows what the valve lets through.",
		Fields: append(handHold("a", "Pump off: it"), handHold("b", "Pump running: it")...),
	},
	{
		Code: stepHose, Kind: check.KindHose, Name: "A gauge at both ends",
		How: "A known leak on the plate, the pump running. Read at the pump, then move the gauge to the plate and read again.",
		Fields: []column{vac("pump", "At the pump", ""), vac("port", "At the plate", ""), flw("known", "The known leak passes", "Of free air at that vacuum."),
			{Key: "length", Name: "The hose is", Unit: "m", Hint: "Where the rig’s file does not say.", Skip: true, dim: unit.LengthDim},
			{Key: "bore", Name: "Its bore", Unit: "mm", Hint: "As it was bought.", Skip: true, dim: unit.LengthDim},
		},
	},
	{
		Code: stepDry, Kind: check.KindDry, Name: "Five vented pulls", Live: true, Files: "five holds, in order", Most: 12, Start: 5,
		How:  "A blank under the plate, or a port. Pull, hold, open the valve, and again: five times. A leak stays; what a liquid gives off falls from pull to pull.",
		Rows: handHold("", ""),
	},
	{
		Code: stepHead, Kind: check.KindHead, Name: "A thermometer on the head",
		How:    "Lay a thermometer on the head, and one beside it. Ten degrees read 3.4 % wrong.",
		Fields: []column{{Key: "head", Name: "The head", Unit: "°C", dim: unit.TemperatureDim}, {Key: "room", Name: "The room", Unit: "°C", dim: unit.TemperatureDim}},
	},
}

// checkWhy says what a kind of check is for.
var checkWhy = map[check.Kind]string{
	check.KindZero:    "A gauge that shows something when there is nothing is wrong by as much everywhere.",
	check.KindGauge:   "A needle that rests on its pin shows zero and may still be wrong: it needs a second point.",
	check.KindBlanked: "Where the pump stands on a blank today, and how much that differs from pull to pull.",
	check.KindRigLeak: "What falls on a blank is the rig’s own. A blank must hold before a valve is blamed.",
	check.KindKnown:   "A rig that can’t see a known leak can’t see a valve’s.",
	check.KindVolume:  "A fall becomes a leak only by the volume that it falls in.",
	check.KindPump:    "With it a steady reading speaks, for leaks too large to hold.",
	check.KindShutOff: "A valve that lets through looks like a leak on every port alike.",
	check.KindHose:    "A thin hose makes a gauge at the pump read deeper than the port is.",
	check.KindDry:     "Solvent or water left in the rig gives off vapour, and a vacuum falls with no leak at all.",
	check.KindHead:    "A head still warm from the wash holds warm gas, and reads wrong by as much.",
}

// checkNames are the kinds as a sheet heads them.
var checkNames = map[check.Kind]string{
	check.KindZero: "Gauge at zero", check.KindGauge: "Gauge at a second point", check.KindBlanked: "Blanked reading", check.KindRigLeak: "Rig leak",
	check.KindKnown: "Known leak", check.KindVolume: "Volume of the rig", check.KindPump: "Pump curve", check.KindShutOff: "Shut-off valve",
	check.KindHose: "Hose", check.KindDry: "Dryness", check.KindHead: "Head temperature", check.KindPart: "Part changed",
}

// daySteps are those of a day on which nothing is known to have changed.
var daySteps = []string{stepZero, stepBlanked, stepRigLeak, stepKnown}

// liveSteps are the codes of the steps that a rig can show, in the sheet's order.
func liveSteps() (out []string) {
	for _, c := range checkSteps {
		if c.Live {
			out = append(out, c.Code)
		}
	}
	return out
}

// stepBy returns a step by its code; nil: there is none.
func stepBy(code string) *checkStep {
	if i := slices.IndexFunc(checkSteps, func(c checkStep) bool { return c.Code == code }); i >= 0 {
		return &checkSteps[i]
	}
	return nil
}

// stepName is what a step is called in a session: the name of what it checks.
func stepName(code string) string {
	c := stepBy(code)
	switch {
	case c == nil:
		return code
	case c.Kind == check.KindVolume:
		return "volume, " + lowerFirst(c.Name)
	}
	return lowerFirst(checkNames[c.Kind])
}
