package head

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/leak"
	"seatproof/limit"
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
	doubt    float64  // sd of the logarithm of the least limit
	limits   []PortLimit
	as       leak.Kind
	overOne  float64 // chance of being over; NaN: no leak rate
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
	share := ShareOf(g.reading)
	g.as = kindOf(share)
	g.one, g.all = j.limitsAt(g.open, share, room, temp)
	g.limits = j.portLimits(g.open, share, room, temp)
	g.overOne, g.overAll = math.NaN(), math.NaN()
	rules := j.rulesOf(g.open, room, temp)
	g.doubt = rules.doubt()
	if !g.answers() {
		return
	}
	g.verdict = limit.CantTellYet
	if g.reading.Leak == nil || len(g.open) == 0 {
		return
	}
	g.overOne, g.overAll = rules.chances(g.reading)
	switch {
	case g.like.wetted():
	case limit.Judge(g.overOne, j.Limit.Strict) == limit.Holds:
		g.verdict = limit.Holds
	case limit.Judge(g.overAll, j.Limit.Strict) == limit.Leaks && !g.reading.UpperLimitOnly: // "less than" can't be too much
		g.verdict = limit.Leaks
	}
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

// Judged is what a reading of a port comes to against the limits of its valves.
type Judged struct {
	OneLimit, AllLimit float64  // m³/s: the least limit of one of the valves, the sum of all
	OverOne, OverAll   *float64 // chance that this port, tested again, is over it; nil: no leak rate
	Limits             []PortLimit
	As                 leak.Kind     // how the leak was taken for the limits that ask
	Verdict            limit.Verdict // "" where there is none
	Reading            *leak.Reading
}

// Judge judges a reading of a port, dry and without a mask, by the limits that its
// card goes by.
func (j *Job) Judge(p *Port, r *leak.Reading) Judged {
	g := group{tests: []*Tested{{Reading: r}}, reading: r}
	j.judge(p, &g)
	return Judged{g.one, g.all, chance(g.overOne), chance(g.overAll), g.limits, g.as, g.verdict, r}
}

// Judged is what the tests of a port that count come to against its limits.
func (p *PortCard) Judged() Judged {
	return Judged{p.OneLimit, p.AllLimit, p.OverOne, p.OverAll, p.Limits, p.As, p.Verdict, p.Reading}
}

// PortNamed returns the port of that name in words; nil: there is none.
func (j *Job) PortNamed(name string) *Port {
	for i := range j.Ports {
		if j.PortName(j.Ports[i].ID) == name {
			return &j.Ports[i]
		}
	}
	return nil
}
