package head

import (
	"math"
	"slices"
	"strings"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// kin is what ports must share to be sisters: side, number of valves, and how
// their tests were made. What state they are in is left open: a cut seat is to be
// as tight as one that was sound.
type kin struct {
	side   Side
	valves int
	held   rig.Held
	wet    rig.Liquid
	guide  Guide
}

// compare ranks like ports and names those that are unlike their sisters.
func (c *Card) compare(j *Job, work []portWork) {
	families := map[kin][]int{}
	var order []kin
	for i := range work {
		w := &work[i]
		if g := w.speaks; g != nil && g.answers() {
			k := kin{w.port.Side, len(w.port.Valves), g.like.held, g.like.wet, g.like.guide}
			if families[k] == nil {
				order = append(order, k)
			}
			families[k] = append(families[k], i)
		}
	}
	for _, k := range order {
		var sisters []Sister
		for _, i := range families[k] {
			s := Sister{ID: work[i].port.ID}
			if l := work[i].card.Leak; l != nil {
				s.Leak = l.Median
			}
			if f := work[i].card.Fall; f != nil {
				s.Fall = f.Median
			}
			sisters = append(sisters, s)
		}
		ranks := Ranks(sisters)
		odd := OddOneOut(sisters)
		for n, i := range families[k] {
			p := work[i].card
			p.Rank, p.Ranked = ranks[n], len(sisters)
			if at := slices.IndexFunc(odd, func(o Oddity) bool { return o.Port == p.ID }); at >= 0 && !k.wetted() {
				p.Odd = &odd[at]
			}
		}
	}
}

func (k kin) wetted() bool { return like{wet: k.wet}.wetted() }

// valveCard is how a valve stands: as its port, or as masks tell.
func (j *Job) valveCard(v *Valve, work []portWork) ValveCard {
	c := ValveCard{ID: v.ID, Name: j.ValveName(v.ID), Standing: NotTested}
	c.Head, c.HeadGuessed = j.HeadOr(v)
	room, temp := 0.0, 0.0
	for i := range work {
		w := &work[i]
		if !slices.Contains(w.port.Valves, v.ID) {
			continue
		}
		c.Port, c.Standing = w.port.ID, w.valves[v.ID]
		c.Short = j.valveOf(w.port, v.ID)
		c.OneOf = w.oneOf && c.Standing == Leaks
		if r := w.card.Reading; r != nil {
			room, temp = r.Room, r.RoomTemp
		}
		break
	}
	_, c.Limit = j.limits([]string{v.ID}, room, temp)
	c.Limits = j.portLimits([]string{v.ID}, nil, room, temp)
	return c
}

// tally counts the ports.
func (c *Card) tally() {
	for _, s := range Standings {
		t := Tally{Standing: s}
		for i := range c.Ports {
			if c.Ports[i].Standing == s {
				t.Ports++
			}
		}
		c.Counts = append(c.Counts, t)
	}
	for i := range c.Ports {
		if p := &c.Ports[i]; p.SignOff && p.Standing == Holds {
			c.SignOff++
		}
	}
}

// guesses gathers what was guessed in the answers of the head, each input once,
// where it widened most; widest first.
func (c *Card) guesses(j *Job, work []portWork) {
	add := func(g Guess) {
		i := slices.IndexFunc(c.Guesses, func(o Guess) bool { return o.Input == g.Input })
		switch {
		case i < 0:
			c.Guesses = append(c.Guesses, g)
		case g.Widened > c.Guesses[i].Widened:
			c.Guesses[i] = g
		}
	}
	for i := range work {
		w := &work[i]
		if w.speaks == nil || !w.speaks.answers() {
			continue
		}
		for _, g := range w.speaks.reading.Guessed {
			add(Guess{g.Input, g.Guess, g.Dim, g.Widened})
		}
		if again := w.speaks.reading.TestedAgain; again != nil && !j.typed() {
			for _, id := range w.port.Valves {
				if head, guessed := j.HeadOr(j.valve(id)); guessed {
					add(Guess{string(w.port.Side) + " valve diameter", head, unit.LengthDim, widened(again, w.speaks.doubt)})
				}
			}
		}
	}
	slices.SortStableFunc(c.Guesses, func(a, b Guess) int {
		switch {
		case a.Widened > b.Widened:
			return -1
		case a.Widened < b.Widened:
			return 1
		}
		return strings.Compare(a.Input, b.Input)
	})
}

// widened is how much a doubtful limit widens the answer: the interval of leak
// over limit against that of the leak, in the logarithm.
func widened(again *leak.Interval, doubt float64) float64 {
	w := math.Log(again.High / again.Low)
	if !(w > 0) || math.IsInf(w, 0) {
		return 1
	}
	return math.Hypot(w, 2*1.96*doubt) / w
}
