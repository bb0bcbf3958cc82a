package head

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/unit"
)

// group is the tests of one port that are like each other, read together.
type group struct {
	like    like
	tests   []*Tested
	offs    []string // why they do not count for the sign-off, all the reasons of all
	last    int64    // when the latest was made
	reading *leak.Reading
	judged
}

// judged is what a reading comes to against the limits of the valves that were
// open.
type judged struct {
	open     []string // identities of the valves that were not masked
	one, all float64  // m³/s: the least limit of one valve, the sum of all
	doubt    float64  // sd of the logarithm of the limits
	overOne  float64  // chance of being over; NaN: no leak rate
	overAll  float64
	verdict  limit.Verdict
}

// groupsOf sorts the tests of an era into groups of like tests, those that speak
// first: with an answer, fit for the sign-off, dry, then the latest. None is read
// yet.
func groupsOf(p *Port, e *era) []group {
	var out []group
	for _, t := range e.tests {
		k := likeOf(&t.Conditions)
		i := slices.IndexFunc(out, func(g group) bool { return g.like == k })
		if i < 0 {
			i = len(out)
			out = append(out, group{like: k})
		}
		g := &out[i]
		g.tests, g.last = append(g.tests, t), t.At
		if t.answers() {
			for _, why := range offSheet(t, p, e) {
				if !slices.Contains(g.offs, why) {
					g.offs = append(g.offs, why)
				}
			}
		}
	}
	for i := range out {
		if g := &out[i]; !g.answers() {
			g.offs = []string{"no test that carries an answer"}
		}
	}
	slices.SortStableFunc(out, func(a, b group) int {
		return cmp.Or(cmp.Compare(b.worth(), a.worth()), cmp.Compare(b.last, a.last))
	})
	return out
}

// answers says whether one of the tests carries an answer.
func (g *group) answers() bool { return slices.ContainsFunc(g.tests, (*Tested).answers) }

// read reads the tests of a group together and judges them, once.
func (j *Job) read(p *Port, g *group, number map[string]int, together pooling) {
	if g == nil || g.open != nil {
		return
	}
	var tests []leak.Test
	read, _ := g.seenTo()
	for _, t := range read {
		if t.Reading != nil {
			tests = append(tests, leak.Test{Name: "test " + strconv.Itoa(number[t.ID]), Reading: t.Reading})
		}
	}
	if len(tests) > 0 {
		g.reading = together(tests)
	}
	j.judge(p, g)
}

// worth orders groups by how much their verdict is worth.
func (g *group) worth() int {
	switch {
	case !g.answers():
		return 0
	case g.like.wetted():
		return 1
	case g.like.guide == GuideClosed:
		return 2
	case len(g.offs) > 0:
		return 3
	}
	return 4
}

// judge sets limits, chances and verdict. Within the limit of one valve clears
// all that were open; above the sum at least one leaks; between nobody can tell.
// A wet seat clears nothing and condemns nothing.
func (j *Job) judge(p *Port, g *group) {
	room, temp := 0.0, 0.0
	if g.reading != nil {
		room, temp = g.reading.Room, g.reading.RoomTemp
	}
	masked := strings.Fields(g.like.masked)
	g.open = []string{}
	for _, id := range p.Valves {
		if !slices.Contains(masked, id) {
			g.open = append(g.open, id)
		}
	}
	g.one, g.all, g.doubt = j.limits(g.open, room, temp)
	g.overOne, g.overAll = math.NaN(), math.NaN()
	if !g.answers() {
		return
	}
	g.verdict = limit.CantTellYet
	if g.reading.Leak == nil || len(g.open) == 0 {
		return
	}
	g.overOne = chanceOver(g.reading, g.one, g.doubt)
	g.overAll = chanceOver(g.reading, g.all, g.doubt)
	switch {
	case g.like.wetted():
	case limit.Judge(g.overOne, j.Limit.Strict) == limit.Holds:
		g.verdict = limit.Holds
	case limit.Judge(g.overAll, j.Limit.Strict) == limit.Leaks && !g.reading.UpperLimitOnly: // "less than" can't be too much
		g.verdict = limit.Leaks
	}
}

// PortLimits returns the least limit of one of a port's valves and the sum of
// all [m³/s of free air at 50 kPa], in a room of that pressure [Pa] and
// temperature [K]; 0 for either: a standard one. A port without valves has
// none: 0.
func (j *Job) PortLimits(p *Port, room, temp float64) (one, all float64) {
	one, all, _ = j.limits(p.Valves, room, temp)
	return one, all
}

// limits returns the least limit of one of the valves, the sum of all [m³/s of
// free air at 50 kPa], and the sd of their logarithm where diameters are
// guessed. Air that is not known is that of a standard room.
func (j *Job) limits(valves []string, room, temp float64) (one, all, doubt float64) {
	if !(room > 0) {
		room = 101325
	}
	if !(temp > 0) {
		temp = 293.15
	}
	for _, id := range valves {
		l, d := j.limitOf(id, room, temp)
		if l > 0 && (one == 0 || l < one) {
			one = l
		}
		all += l
		doubt = math.Max(doubt, d)
	}
	return one, all, doubt
}

// limitOf returns the limit of one valve: as typed in, else of workmanship by
// its diameter in the test's own air; and the sd of its logarithm.
func (j *Job) limitOf(id string, room, temp float64) (flow, doubt float64) {
	if known(j.Limit.Flow) {
		return j.Limit.Flow.Value, 0
	}
	v := j.valve(id)
	if v == nil {
		return 0, 0
	}
	head, _ := j.HeadOr(v)
	gap := j.Limit.Gap.Or(unit.Exactly(limit.WorkmanshipGap)).Value
	flow, err := limit.Workmanship(math.Min(0.2, math.Max(5e-3, head.Value)), gap, room, temp)
	if err != nil { // a gap or an air that the form refuses: the usual ones
		flow, _ = limit.Workmanship(27e-3, limit.WorkmanshipGap, 101325, 293.15)
		flow *= head.Value / 27e-3
	}
	return flow, head.SD() / head.Value
}

// chanceOver is the chance of being over a limit whose logarithm is normal with
// sd doubt: the mean over nine quantiles of it.
func chanceOver(r *leak.Reading, flow, doubt float64) float64 {
	if !(doubt > 0) {
		return r.ChanceOver(flow)
	}
	sum := 0.0
	for i := -4; i <= 4; i++ {
		z := math.Sqrt2 * math.Erfinv(2*float64(i)/9)
		sum += r.ChanceOver(flow*math.Exp(doubt*z)) / 9
	}
	return sum
}

// lead returns the group that speaks for the port, and those with a valve masked
// that are like it in all else; nil, nil where none is without a mask.
func lead(groups []group) (speaks *group, masked []*group) {
	for i := range groups {
		if groups[i].like.masked == "" {
			speaks = &groups[i]
			break
		}
	}
	for i := range groups {
		g := &groups[i]
		if g.like.masked == "" || !g.answers() {
			continue
		}
		bare := g.like
		bare.masked = ""
		if speaks == nil || bare == speaks.like {
			masked = append(masked, g)
		}
	}
	return speaks, masked
}

// valveStandings returns how each valve of a port stands by the groups that
// count, and whether a leak is known to be one of several valves' only.
func valveStandings(p *Port, speaks *group, masked []*group) (at map[string]Standing, oneOf bool) {
	at = map[string]Standing{}
	verdict := limit.CantTellYet
	if speaks != nil {
		verdict = speaks.verdict
	}
	for _, id := range p.Valves {
		at[id] = CantTellYet
		if verdict == limit.Holds {
			at[id] = Holds
		}
	}
	if verdict == limit.Holds {
		return at, false
	}
	found := false
	for _, g := range masked {
		for _, id := range g.open {
			switch {
			case at[id] != CantTellYet: // the first that speaks is worth most
			case g.verdict == limit.Holds:
				at[id] = Holds
			case g.verdict == limit.Leaks && len(g.open) == 1:
				at[id], found = Leaks, true
			}
		}
	}
	if verdict != limit.Leaks || found {
		return at, false
	}
	// at least one of those that no mask cleared
	var left []string
	for _, id := range p.Valves {
		if at[id] == CantTellYet {
			left = append(left, id)
		}
	}
	if len(left) == 0 { // each valve alone is within its limit, the sum is not
		left = p.Valves
	}
	for _, id := range left {
		at[id] = Leaks
	}
	return at, len(left) > 1
}
