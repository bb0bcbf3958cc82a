package head

import (
	"math"
	"slices"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/num"
)

// Apart is what a port's tests with different masks, and with the guides open and
// closed off, say of each of its openings by itself. Rules: docs/model.md §8.
type Apart struct {
	Tests  []string       `json:"tests"`  // identities of those it stands on
	Valves []ValveLeak    `json:"valves"` // in the order of the port
	Rest   *OpeningLeak   `json:"rest"`   // what is left with all seats masked; nil: not told from the seats
	Guides *OpeningLeak   `json:"guides"` // all of them together; nil: no test with them closed off beside one with them open
	Clash  bool           `json:"clash"`  // the tests contradict each other by more than they scatter
	Plan   *MaskPlan      `json:"plan"`   // nil: nothing is left to be told, or something else comes first
	draws  []apartDraw    // of the posterior
	system *apartSystem   // what they were drawn from
	over   []valveChances // of each draw
	strict bool           // verdicts ask 97.5 %
	seeps  []float64      // m³/s, of each valve: its limit for a leak taken as a seep
	told   key            // all that it was made of; what it holds is shared with whoever was told the same, its plan apart
}

// OpeningLeak is the leak of one opening, m³/s of free air at 50 kPa.
type OpeningLeak struct {
	Leak      Estimate `json:"leak"`
	UpperOnly bool     `json:"upper_only"` // "less than": only the high end means something
	Share     Estimate `json:"share"`      // of the port's whole leak, 0..1
	Best      float64  `json:"best"`       // of the weighted least squares, none below zero
	Over      float64  `json:"over"`       // chance that it, tested again, is over the least limit of one valve
}

// ValveLeak is the leak of one valve's seat.
type ValveLeak struct {
	ID string `json:"id"`
	OpeningLeak
	Limit    float64  `json:"limit"`    // of a leak that flows as the tests tell, else of a seep
	Known    bool     `json:"known"`    // the tests tell it from the others; else it is what may be
	Standing Standing `json:"standing"` // by its own leak; one not Known may hold, for it leaks no more than what was open with it
}

// apartOf takes the leaks of a port's openings apart by the tests of an era, nil
// where no two of them were made with another mask or guide. Wet tests tell
// nothing.
func (j *Job) apartOf(w *portWork, scatter *leak.Scatter) *Apart {
	base, ok := w.base()
	if !ok || base.wetted() {
		return nil
	}
	s := newApartSystem(w, base, scatter)
	if s == nil || !s.differ() {
		return nil
	}
	return j.takeApart(w.port, s, apartKept)
}

// base is what tests must share to be taken together here: all but mask and
// guide.
func (w *portWork) base() (like, bool) {
	var k like
	switch {
	case w.speaks != nil && w.speaks.answers():
		k = w.speaks.like
	case len(w.masked) > 0:
		k = w.masked[0].like
	default:
		return k, false
	}
	k.masked = ""
	return k, true
}

// takeApart solves the system and draws from its posterior, that many times, or
// takes what was kept of that.
func (j *Job) takeApart(p *Port, s *apartSystem, draws int) *Apart {
	limits := make([]apartLimit, len(p.Valves))
	told := s.keyOf().words(p.Valves...).figures(float64(draws)).yes(j.Limit.Strict)
	for i, id := range p.Valves {
		limits[i] = j.apartLimit(id, s)
		told = told.figures(limits[i].flow[:]...).figures(limits[i].doubt[:]...)
	}
	a := *keptOf(j.reckoned().kept, told, func() *Apart { return j.apartBy(p, s, draws, limits) })
	a.told = told
	return &a
}

// apartBy takes a port apart; limits are those of its valves.
func (j *Job) apartBy(p *Port, s *apartSystem, draws int, limits []apartLimit) *Apart {
	best, clash := s.solve()
	a := &Apart{Clash: clash, strict: j.Limit.Strict, system: s, draws: s.draw(best, draws)}
	for _, t := range s.tests {
		a.Tests = append(a.Tests, t.id)
	}
	known := s.determined()
	a.over = make([]valveChances, len(a.draws))
	for d := range a.draws {
		a.over[d] = make(valveChances, len(p.Valves))
	}
	for i, id := range p.Valves {
		v := ValveLeak{ID: id, OpeningLeak: a.opening(i, best[i]), Limit: a.usualLimit(i, &limits[i]), Known: known[i]}
		a.seeps = append(a.seeps, limits[i].flow[0])
		v.Over = a.chances(i, &limits[i])
		v.Standing = standingOf(limit.Judge(v.Over, j.Limit.Strict))
		if v.Standing == Leaks && !v.Known { // it, or what was open beside it
			v.Standing = CantTellYet
		}
		a.Valves = append(a.Valves, v)
	}
	least := leastApart(limits)
	if rest := s.rest; known[rest] {
		o := a.opening(rest, best[rest])
		o.Over = a.chances(rest, &least)
		a.Rest = &o
	}
	if g := s.guide; g >= 0 && known[g] {
		o := a.opening(g, best[g])
		o.Over = a.chances(g, &least)
		a.Guides = &o
	}
	return a
}

// opening gathers the draws of one unknown.
func (a *Apart) opening(i int, best float64) OpeningLeak {
	q, share := make([]float64, len(a.draws)), make([]float64, len(a.draws))
	for d, x := range a.draws {
		q[d] = x.x[i] * x.factor
		sum := 0.0
		for _, y := range x.x {
			sum += y
		}
		if sum > 0 {
			share[d] = x.x[i] / sum
		}
	}
	o := OpeningLeak{Best: best}
	o.Leak, o.UpperOnly = summary(q)
	o.Share, _ = summary(share)
	return o
}

// summary returns the median with the equal-tailed 95 % interval of draws, which
// it sorts; where zero is as likely as a seventh of the likeliest, 0 and the 95 %
// quantile.
func summary(q []float64) (e Estimate, upper bool) {
	slices.Sort(q)
	at := func(p float64) float64 { return q[min(len(q)-1, int(p*float64(len(q))))] }
	e = Estimate{at(0.5), at(0.025), at(0.975)}
	const bins = 24
	var n [bins]float64
	for _, x := range q {
		if b := int(bins * x / (e.High * (1 + 1e-12))); b < bins {
			n[b]++
		}
	}
	if e.High <= 0 || n[0] > 0.15*slices.Max(n[:]) {
		e.Low, e.High, upper = 0, at(0.95), true
	}
	return e, upper
}

// valveChances are, of one draw, the chances of each valve to be over its limit
// when it is tested again.
type valveChances []float64

// chances returns the chance that an unknown, tested again, is over a limit, of
// each draw that of how it flows; of a valve it keeps that of each draw.
func (a *Apart) chances(i int, l *apartLimit) float64 {
	limit, doubt := l.flow[0], l.doubt[0]
	if !(limit > 0) || math.IsInf(limit, 1) {
		return math.NaN()
	}
	sum := 0.0
	for d := range a.draws {
		x := &a.draws[d]
		p := 0.0
		if len(a.system.told) > 0 {
			limit, doubt = l.at(a.system.shareOf(i, x.x))
		}
		if q := x.x[i] * x.factor; q > 0 {
			p = num.NormalCDF(math.Log(q/limit) / math.Hypot(x.sigma, doubt))
		}
		if a.over != nil && i < len(a.over[d]) {
			a.over[d][i] = p
		}
		sum += p
	}
	return sum / float64(len(a.draws))
}

// valveStandings returns how each valve of a port stands by the groups that
// count, and whether a leak is known to be one of several valves' only. Where
// masks tell a valve from the others its own leak speaks; else within the limit
// of one valve clears all that were open. One alone open may leak by no seat at
// all: it is told only beside a test with that masked too.
func valveStandings(p *Port, speaks *group, masked []*group, apart *Apart) (at map[string]Standing, oneOf bool) {
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
	told := map[string]bool{}
	if apart != nil {
		for _, v := range apart.Valves {
			if v.Known || v.Standing == Holds {
				at[v.ID], told[v.ID] = v.Standing, true
				found = found || v.Standing == Leaks
			}
		}
	}
	for _, g := range masked {
		for _, id := range g.open {
			switch {
			case told[id] || at[id] != CantTellYet: // the first that speaks is worth most
			case g.verdict == limit.Holds:
				at[id] = Holds
			}
		}
	}
	if verdict != limit.Leaks || found {
		return at, false
	}
	if apart.restLeaks() {
		return at, false // what is left with all masked explains it: no valve is blamed
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
	if len(left) == 1 && len(p.Valves) > 1 && apart != nil && !apart.tells(left[0]) {
		return at, false // it, or what comes by no seat
	}
	for _, id := range left {
		at[id] = Leaks
	}
	return at, len(left) > 1
}

// tells says whether the tests tell a valve from all else.
func (a *Apart) tells(id string) bool {
	return slices.ContainsFunc(a.Valves, func(v ValveLeak) bool { return v.ID == id && v.Known })
}

// restLeaks says whether more than one valve may pass comes by no seat at all.
func (a *Apart) restLeaks() bool {
	over := func(o *OpeningLeak) bool { return o != nil && limit.Judge(o.Over, a.strict) == limit.Leaks }
	return a != nil && (over(a.Rest) || over(a.Guides))
}
