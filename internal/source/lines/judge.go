package lines

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"seatproof/internal/source"
	"seatproof/trace"
	"seatproof/unit"
)

// notPressure are names of what stands beside a pressure.
var notPressure = []string{
	"temp", "temperature", "tmp", "hum", "humidity", "rh", "rssi", "bat", "batt", "battery", "vbat", "vcc", "supply",
	"seq", "sequence", "counter", "n", "no", "nr", "id", "idx", "index", "channel", "line", "status", "stat", "flag", "flags",
	"crc", "checksum", "cs", "sum", "error", "errors", "err", "uptime", "snr", "alt", "altitude", "flow", "current", "rpm", "setpoint", "limit",
	"min", "max", "zero", "offset", "mode", "room", "ambient", "baro", "barometer", "barometric", "atm", "version", "ver", "heap", "debug",
}

// plainClocks are names of clocks beside those of files.
var plainClocks = []string{"ms", "us", "millis", "micros", "uptime", "ts", "tick", "ticks", "sec", "secs"}

// is says whether one of the words of a name is among those of a list; digits
// at a word's end do not matter.
func is(name string, list []string) bool {
	return slices.ContainsFunc(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), func(w string) bool {
		return slices.Contains(list, w) || slices.Contains(list, strings.TrimRight(w, "0123456789"))
	})
}

// isClock returns how well a figure does for the lines' clock; 0: not at all.
func (c *column) isClock(name string) int {
	moves := c.steady() || c.n < fewest
	timeUnit := c.heading.HasUnit && c.heading.Unit.Dim == unit.TimeDim || c.inLine.HasUnit && c.inLine.Unit.Dim == unit.TimeDim
	named := c.heading.Time || is(name, plainClocks)
	if c.stamp && c.n > fewest && c.ups*2 < len(c.steps) {
		return 0 // it tells whole seconds of samples that come faster: arrival tells more
	}
	switch {
	case c.stamp && named:
		return 5
	case c.stamp:
		return 3
	case named && timeUnit && moves:
		return 6
	case timeUnit && moves && (c.ups > 0 || named):
		return 4
	case named && moves:
		return 2
	case name == "" && c.steady() && !c.counts():
		return 1
	}
	return 0
}

// candidates finds the ways to read a group.
func (g *group) candidates(set Pattern, others []group, share float64) []Candidate {
	p := set
	p.Of = len(g.cols)
	for i := range others {
		o := &others[i]
		if o.key != g.key && len(o.cols) == len(g.cols) && len(o.lines) >= 1 && g.starts != "" && o.starts != g.starts {
			p.Starts = g.starts
		}
	}
	if g.title != "" {
		p.Starts = g.starts
		if is(g.title, notPressure) {
			return nil
		}
	}
	clock, rank := -1, 0
	for k := range g.cols {
		if r := g.cols[k].isClock(g.names[k]); r > rank && len(g.cols) > 1 {
			clock, rank = k, r
		}
	}
	clockWords := ""
	if clock >= 0 {
		p, clockWords = g.withClock(set, p, clock)
	}
	var all []Candidate
	for k := range g.cols {
		c := &g.cols[k]
		if set.Glued && (g.names[k] == "" || c.still() && c.whole) {
			continue // digits among letters, most likely
		}
		if k == clock || c.stamp || c.n == 0 || g.cols[k].isClock(g.names[k]) > 1 {
			continue
		}
		score, ok := c.score(g.names[k])
		if !ok {
			continue
		}
		cand := Candidate{Pattern: p, Now: c.last, Share: share, score: score + share}
		cand.Pattern.Value = g.pick(set, k)
		if cand.Pattern.Value.Name != "" && cand.Pattern.Starts == "" && !g.jsonOrNumbered() {
			// what is named is found by its name, whatever else a line holds
			cand.Pattern.Of = 0
		}
		cand.meaning(c, g.names[k])
		cand.which = ordinal(k, len(g.cols), cand.Pattern.Value.Name)
		if name := strings.TrimSpace(g.names[k]); cand.Pattern.Value.Name == "" && name != "" {
			cand.which += " (" + name + ")"
		}
		cand.clock = clockWords
		cand.say()
		all = append(all, cand)
	}
	return all
}

// jsonOrNumbered says whether the clock is found by number, so that the number
// of figures must hold.
func (g *group) jsonOrNumbered() bool {
	for k := range g.cols {
		if g.names[k] == "" && !g.cols[k].stamp {
			return true
		}
	}
	return false
}

// withClock adds the clock to a pattern, if its unit is known.
func (g *group) withClock(set, p Pattern, k int) (Pattern, string) {
	c := &g.cols[k]
	which := ordinal(k, len(g.cols), g.pickName(set, k))
	if c.stamp {
		p.Time = g.pick(set, k)
		return p, "; " + which + " is its clock"
	}
	u, ok := c.timeUnit(g.names[k])
	if !ok {
		return p, "; " + which + fmt.Sprintf(" may be its clock, in a unit that is not known, so arrival counts (time=%s,time_unit=ms would say it)", g.pick(set, k))
	}
	p.Time, p.TimeUnit = g.pick(set, k), u
	return p, "; " + which + " is its clock, in " + u.Name
}

// timeUnit returns the unit of a clock.
func (c *column) timeUnit(name string) (unit.UnitInfo, bool) {
	for _, h := range []trace.Heading{c.inLine, c.heading} {
		if h.HasUnit && h.Unit.Dim == unit.TimeDim {
			return h.Unit, true
		}
	}
	known := ""
	switch {
	case is(name, []string{"ms", "millis"}):
		known = "ms"
	case is(name, []string{"us", "micros"}):
		known = "µs"
	case is(name, []string{"sec", "secs", "seconds"}):
		known = "s"
	default:
		known = c.clockUnit()
	}
	if known == "" {
		return unit.UnitInfo{}, false
	}
	return unit.UnitOf(known)
}

// pick returns how the figure is found in a line.
func (g *group) pick(set Pattern, k int) Pick {
	if name := g.pickName(set, k); name != "" {
		return Pick{Name: name}
	}
	return Pick{Number: k + 1}
}

// pickName returns the name by which a figure is found in a line, "" where its
// number is better: a name from a line before, or one that two figures have.
func (g *group) pickName(set Pattern, k int) string {
	if g.heads || g.names[k] == "" {
		return ""
	}
	scan := set.scanner()
	figs := scan.scan([]byte(g.lines[0].Text))
	if len(figs) != len(g.cols) || figs[k].name == nil {
		return ""
	}
	name := string(figs[k].name)
	if strings.ToValidUTF8(name, "") != name || len(name) > 60 || len(plainName([]byte(name))) == 0 {
		return ""
	}
	same := 0
	for i := range figs {
		if sameName(figs[i].name, plainName([]byte(name))) {
			same++
		}
	}
	if same == 1 {
		return name
	}
	return ""
}

// score says how much a figure looks like the pressure of a valve seat's test;
// ok is false for what can be none.
func (c *column) score(name string) (score float64, ok bool) {
	h, in := c.heading, c.inLine
	pressureUnit := h.HasUnit && h.Unit.Dim == unit.PressureDim || in.HasUnit && in.Unit.Dim == unit.PressureDim
	otherUnit := !pressureUnit && (h.HasUnit && h.Unit.Dim != unit.PressureDim && !(h.Pressure && len(h.Unit.Name) == 1) || in.HasUnit && in.Unit.Dim != unit.PressureDim)
	named := h.Pressure || h.Form != trace.SaysNothing
	switch {
	case otherUnit:
		return 0, false
	case is(name, notPressure) && !(pressureUnit && !is(name, []string{"room", "ambient", "baro", "barometer", "barometric", "atm", "setpoint", "limit", "min", "max", "offset", "zero"})):
		if !pressureUnit && !named {
			return 0, false
		}
		score -= 6
	}
	if is(name, []string{"pct", "percent"}) {
		score -= 3
	}
	if pressureUnit {
		score += 6
	}
	if named {
		score += 5
	}
	if h.Form == trace.SaysVacuum {
		score++
	}
	if h.Raw || in.Raw {
		score--
	}
	if name == "" && !pressureUnit {
		switch {
		case c.counts():
			score -= 5
		case c.still() && c.whole && c.n >= 5:
			score -= 3 // an address, a flag
		case c.whole && c.high-c.low <= 1 && c.n >= 5:
			score -= 2
		case c.steady() && c.n >= 5:
			score -= 2.5
		case !c.whole:
			score++
		}
	}
	if name != "" && !named && !pressureUnit {
		score -= 0.5
		if c.counts() {
			score -= 5
		}
	}
	return score, true
}

// meaning fills in unit and meaning, and what must be asked.
func (cand *Candidate) meaning(c *column, name string) {
	for _, h := range []trace.Heading{c.inLine, c.heading} {
		if h.HasUnit && h.Unit.Dim == unit.PressureDim && cand.Unit.Name == "" {
			cand.Unit = h.Unit
		}
		if h.Raw && cand.Raw == "" && cand.Unit.Name == "" {
			cand.Raw = h.BadUnit
		}
		if cand.Reads == "" {
			switch h.Form {
			case trace.SaysVacuum:
				cand.Reads = source.ReadsVacuum
			case trace.SaysGauge:
				cand.Reads = source.ReadsGauge
			case trace.SaysAbsolute:
				cand.Reads = source.ReadsAbsolute
			}
		}
	}
	if cand.Raw == "" && cand.Unit.Name == "" && is(name, []string{"raw", "adc", "count", "counts", "lsb", "ain", "analog"}) {
		cand.Raw = "counts"
	}
	if cand.Raw != "" {
		cand.Ask = append(cand.Ask, "table")
		return
	}
	if cand.Unit.Name == "" {
		cand.Ask = append(cand.Ask, "unit")
		if cand.Reads == "" {
			cand.Ask = append(cand.Ask, "reads")
		}
		return
	}
	low, high := cand.Unit.ToSI(c.low), cand.Unit.ToSI(c.high)
	if cand.Reads == source.ReadsVacuum && high < -2e3 {
		cand.Reads = source.ReadsGauge // called a vacuum, written with a minus
	}
	if cand.Reads != "" {
		return
	}
	switch {
	case low < -1e3 && low > -112e3 && high < 5e3:
		cand.Reads = source.ReadsGauge
	case low > 92e3 && high < 108e3:
		// a room at rest; a pump that holds as deep a vacuum on a blank is rare, and
		// saying reads=vacuum comes first
		cand.Reads = source.ReadsAbsolute
	default:
		cand.Ask = append(cand.Ask, "reads")
	}
}

// say puts into words how a line is read, from what is known by now.
func (c *Candidate) say() {
	s := c.which
	switch {
	case c.table:
		s += ", turned into a pressure by the table"
	case c.Raw != "":
		s += ", which is in " + c.Raw + ": a table must say which pressure that is"
	case c.Unit.Name == "":
		s += ", whose unit is not known"
		if guess := roomIn(c.Now); guess != "" {
			s += " (" + figureText(c.Now) + " would be the room's own pressure in " + guess + ")"
		}
	case c.Reads == "":
		s += ", in " + c.Unit.Name + ", but whether vacuum, gauge or absolute is not known"
	default:
		s += ", taken as " + c.Unit.Name + " " + map[source.Reads]string{source.ReadsVacuum: "of vacuum", source.ReadsGauge: "against the room, negative below it", source.ReadsAbsolute: "absolute"}[c.Reads]
	}
	c.Words = s + c.clock
}

func figureText(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

// roomIn returns the units in which a figure is what a room's air has at
// heights up to some 500 m.
func roomIn(x float64) string {
	var fits []string
	for _, name := range []string{"kPa", "mbar", "Pa", "bar", "psi", "inHg", "mmHg"} {
		if u, ok := unit.UnitOf(name); ok {
			if p := u.ToSI(x); p > 94e3 && p < 105e3 {
				fits = append(fits, name)
			}
		}
	}
	return strings.Join(fits, " or ")
}

// ordinal says which figure of a line is meant.
func ordinal(k, of int, name string) string {
	names := []string{"first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}
	switch {
	case name != "":
		return fmt.Sprintf("the figure called %q", name)
	case of == 1:
		return "the figure of each line"
	case k < len(names):
		return "the " + names[k] + " figure of each line"
	}
	return "figure " + strconv.Itoa(k+1) + " of each line"
}
