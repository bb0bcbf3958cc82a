package head

import (
	"math"
	"slices"
	"strconv"

	"seatproof/unit"
)

const (
	mostCylinders = 16
	millimetre    = 1e-3
	cm3           = 1e-6
	degree        = math.Pi / 180
	perMinute     = 2 * math.Pi / 60 // rad/s of 1 r/min
)

// What figures of an engine usually are; common practice, no source.
var (
	usualBore     = usual{"bore", "mm", millimetre, 30e-3, 200e-3, lengthSlips}
	usualStroke   = usual{"stroke", "mm", millimetre, 20e-3, 300e-3, lengthSlips}
	usualRod      = usual{"rod length", "mm", millimetre, 50e-3, 500e-3, lengthSlips}
	usualChamber  = usual{"chamber volume", "cm³", cm3, 3e-6, 400e-6, volumeSlips}
	usualRatio    = usual{"compression ratio", ": 1", 1, 5, 25, plainSlips}
	usualCloses   = usual{"intake closing", "° after bottom", degree, 20 * degree, 100 * degree, angleSlips}
	usualCranking = usual{"cranking speed", "r/min", perMinute, 80 * perMinute, 800 * perMinute, plainSlips}
	usualIdle     = usual{"idle speed", "r/min", perMinute, 300 * perMinute, 2500 * perMinute, plainSlips}
	usualTop      = usual{"top speed", "r/min", perMinute, 1500 * perMinute, 20000 * perMinute, plainSlips}
	usualVolume   = usual{"port volume", "cm³", cm3, 5e-6, 1500e-6, volumeSlips}
	usualHead     = usual{"valve head", "mm", millimetre, 14e-3, 90e-3, lengthSlips}
	usualStem     = usual{"valve stem", "mm", millimetre, 3.5e-3, 16e-3, lengthSlips}
	usualContact  = usual{"contact width", "mm", millimetre, 0.2e-3, 3.5e-3, lengthSlips}
	usualAngle    = usual{"seat angle", "°", degree, 15 * degree, 70 * degree, angleSlips}
	usualFace     = usual{"face angle", "°", degree, 15 * degree, 70 * degree, angleSlips}
	usualGuide    = usual{"guide length", "mm", millimetre, 20e-3, 130e-3, lengthSlips}
	usualPlay     = usual{"guide clearance", "mm", millimetre, 0.01e-3, 0.3e-3, []slip{{25.4e-3, "thousandths of an inch"}, {10, ""}, {0.1, ""}, {25.4, "in"}}}
	usualLimit    = usual{"limit", "cm³/min", cm3 / 60, 0.5e-6 / 60, 2000e-6 / 60, plainSlips}
	usualGap      = usual{"gap of the limit", "µm", 1e-6, 0.5e-6, 20e-6, plainSlips}
)

// Validate returns all that is wrong or odd in a job, in the order of its form.
// Nothing is mended.
func (j *Job) Validate() Faults {
	var f Faults
	f.text("number", "label", j.Number, 80)
	f.text("title", "title", j.Title, 200)
	f.text("owner", "owner", j.Owner, 200)
	f.text("initials", "initials", j.Initials, 12)
	f.text("notes", "notes", j.Notes, 100000)
	if j.Opened < 0 {
		f.add("opened", "the date lies before 1970: give the day on which the head came in")
	}
	f.under("engine", j.Engine.Validate())
	f.text("lie.landmark", "landmark", j.Lie.Landmark, 40)
	j.portFaults(&f)
	j.valveFaults(&f)
	j.fitFaults(&f)
	f.figure("limit.flow", j.Limit.Flow, usualLimit)
	f.figure("limit.gap", j.Limit.Gap, usualGap)
	j.Limit.check(&f)
	if g := j.Limit.Gap; g.Known && g.Value > 50e-6 {
		f.add("limit.gap", "a gap of %s µm is no seat: give up to 50 µm, 3 µm is the usual choice", fig(g.Value*1e6))
	}
	return f
}

// Validate returns all that is wrong or odd in an engine.
func (e *Engine) Validate() Faults {
	var f Faults
	switch {
	case e.Cylinders < 1:
		f.add("cylinders", "a head has at least 1 cylinder, not %d: count those of this head", e.Cylinders)
	case e.Cylinders > mostCylinders:
		f.add("cylinders", "%d cylinders in one head: up to %d are taken: count those of this head, one bank of a vee", e.Cylinders, mostCylinders)
	}
	if n := len(e.Numbers); n > 0 && n != e.Cylinders {
		f.add("numbers", "%d cylinder numbers for %d cylinders: give one for each, from the end at which the maker starts to count", n, e.Cylinders)
	}
	for i, n := range e.Numbers {
		switch {
		case n < 1 || n > 99:
			f.add(index("numbers", i), "cylinder %d: numbers go from 1 to 99", n)
		case slices.Contains(e.Numbers[:i], n):
			f.add(index("numbers", i), "cylinder %d is named twice: each cylinder has its own number", n)
		}
	}
	if !slices.Contains([]Form{FormNotSaid, FormInline, FormVee, FormFlat}, e.Form) {
		f.add("form", "%q is no way for cylinders to stand: take inline, vee or flat", e.Form)
	}
	f.figure("bore", e.Bore, usualBore)
	f.figure("stroke", e.Stroke, usualStroke)
	f.figure("rod", e.Rod, usualRod)
	f.figure("chamber", e.Chamber, usualChamber)
	f.figure("compression_ratio", e.CompressionRatio, usualRatio)
	f.figure("intake_closes", e.IntakeCloses, usualCloses)
	f.figure("cranking", e.Cranking, usualCranking)
	f.figure("idle", e.Idle, usualIdle)
	f.figure("top_speed", e.TopSpeed, usualTop)
	e.clashes(&f)
	return f
}

// clashes finds figures that are well each by itself and not together.
func (e *Engine) clashes(f *Faults) {
	if r := e.CompressionRatio; r.Known && r.Value <= 1 {
		replace(f, "compression_ratio", Fault{"compression_ratio", "a compression ratio of " + fig(r.Value) + " is none: it is above 1, as 9.5", usualRatio.maybe(r.Value), false})
	}
	if e.Rod.Known && e.Stroke.Known && e.Rod.Value <= 0.5*e.Stroke.Value {
		f.add("rod", "a rod of %s does not reach round a stroke of %s: measure it from eye to eye", mm(e.Rod.Value), mm(e.Stroke.Value))
	}
	if b, s := e.Bore, e.Stroke; b.Known && s.Known && !f.has("bore") && !f.has("stroke") {
		if r := s.Value / b.Value; r < 0.4 || r > 2.5 {
			f.ask("stroke", "", "a stroke of %s on a bore of %s is unusual: check both", mm(s.Value), mm(b.Value))
		}
	}
	if e.Idle.Known && e.TopSpeed.Known && e.Idle.Value >= e.TopSpeed.Value {
		f.add("idle", "an idle speed of %s r/min is not below the top speed, %s r/min: check both", fig(e.Idle.Value/perMinute), fig(e.TopSpeed.Value/perMinute))
	}
	if b, s, c, r := e.Bore, e.Stroke, e.Chamber, e.CompressionRatio; b.Known && s.Known && c.Known && r.Known && r.Value > 1 {
		swept := math.Pi / 4 * b.Value * b.Value * s.Value
		whole := swept / (r.Value - 1)
		if c.Value > 1.6*whole {
			f.ask("chamber", "", "a chamber of %s cm³ is more than the %s cm³ that bore, stroke and a compression ratio of %s leave: check all four", fig(c.Value/cm3), fig(whole/cm3), fig(r.Value))
		}
	}
}

// cylinders returns the numbers of the head's cylinders, from the end at which
// its maker starts to count.
func (e *Engine) cylinders() []int {
	if len(e.Numbers) > 0 {
		return e.Numbers
	}
	out := make([]int, max(0, min(e.Cylinders, mostCylinders)))
	for i := range out {
		out[i] = i + 1
	}
	return out
}

// text checks the length of a text.
func (f *Faults) text(field, name, s string, most int) {
	if n := len([]rune(s)); n > most {
		f.add(field, "the %s has %d characters: %d are taken, put the rest into the notes", name, n, most)
	}
}

func index(field string, i int) string { return field + "[" + strconv.Itoa(i) + "]" }

// known is a figure taken as known, for rules that look at its value alone.
func known(m unit.Measured) bool { return m.Known && m.Value > 0 && !math.IsInf(m.Value, 0) }
