package head

import (
	"math"
	"slices"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// Records are all that is kept of a job.
type Records struct {
	Job     Job
	Tests   []Tested // of this job; others and those in the tray are left out
	Work    []Work
	Checks  []Check       // of any rig
	Today   int64         // ms since 1970 UTC when today began where the person is; 0: no rig check is asked for
	Scatter *leak.Scatter // between tests, learned from the shop's repeats; nil: the common one

	// Together reads several tests of one port together; nil: [leak.Together] with
	// Scatter. Whoever keeps what it made of the same readings hands in their own.
	Together func(tests []leak.Test) *leak.Reading

	Kept *Kept      // what cards of this job keep from one to the next; nil: nothing
	Cost CostFinder // nil: [engine.Given.CostLimit]
	Pump *rig.Curve // of the job's rig, in its room; nil: not known, and no limit is told in the needle's terms
}

// pooling reads several tests of one port together.
type pooling func(tests []leak.Test) *leak.Reading

// Card is what a job comes to.
type Card struct {
	Ports   []PortCard  `json:"ports"`  // in the job's order
	Valves  []ValveCard `json:"valves"` // likewise
	Counts  []Tally     `json:"counts"` // of ports, in the order of [Standings], none left out
	Guesses []Guess     `json:"guesses"`
	Next    []Todo      `json:"next"`     // in order
	Checked bool        `json:"checked"`  // the rig was checked today
	SignOff int         `json:"sign_off"` // ports that hold, by tests that count for the sign-off

	good *goodPort // what the port known good passes; nil: there is none, or it tells no figure
}

// Tally counts the ports of one standing.
type Tally struct {
	Standing Standing `json:"standing"`
	Ports    int      `json:"ports"`
}

// Estimate is a median with its 95 % interval, SI.
type Estimate struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

func estimate(i *leak.Interval) *Estimate {
	if i == nil {
		return nil
	}
	return &Estimate{i.Median, i.Low, i.High}
}

// PortCard is how one port stands.
type PortCard struct {
	ID        string           `json:"id"`
	Name      string           `json:"name"` // in words, as it lies
	Standing  Standing         `json:"standing"`
	Words     string           `json:"words"`      // of the standing
	Verdict   limit.Verdict    `json:"verdict"`    // "" where there is none
	Leak      *Estimate        `json:"leak"`       // m³/s, of the tests that count: these tests
	Again     *Estimate        `json:"again"`      // m³/s: this port, tested again
	UpperOnly bool             `json:"upper_only"` // "less than": only the high end means something
	Fall      *Estimate        `json:"fall"`       // Pa/s
	OneLimit  float64          `json:"one_limit"`  // m³/s, the least limit of one of its valves
	AllLimit  float64          `json:"all_limit"`  // m³/s, the sum of its valves' limits
	OverOne   *float64         `json:"over_one"`   // chance that this port, tested again, is over one valve's limit
	OverAll   *float64         `json:"over_all"`   // over the sum
	Limits    []PortLimit      `json:"limits"`     // one of each rule, those that decide first
	As        leak.Kind        `json:"as"`         // how its leak was taken for the limits that ask: seep where the tests don't tell
	Counted   []string         `json:"counted"`    // identities of the tests that the verdict stands on
	Aside     []Aside          `json:"aside"`      // those it does not stand on, and why
	Masked    []MaskedCard     `json:"masked"`     // tests with valves sealed off, by which were left open
	Apart     *Apart           `json:"apart"`      // the leak of each opening by itself; nil: one test, or all alike
	Old       *OldCard         `json:"old"`        // what it was before it was worked on
	SignOff   bool             `json:"sign_off"`   // the verdict counts for the sign-off
	Off       []string         `json:"off"`        // why not, in words
	Doubt     leak.WarningCode `json:"doubt"`      // the warning that puts the answer in doubt, "" for none: its step comes first
	Retest    bool             `json:"retest"`     // it holds, and must be tested again for that
	Odd       *Oddity          `json:"odd"`
	Rank      int              `json:"rank"` // among like ports, 1 leaks most; 0: no figure
	Ranked    int              `json:"ranked"`
	Next      Step             `json:"next"`
	Expect    *Expect          `json:"expect"` // what the step comes to, of a port that can't be told yet; nil: not worked out
	Advice    *Advice          `json:"advice"` // what the next step stands on, of a port that leaks; nil elsewhere
	Guide     *GuideForecast   `json:"guide"`  // what its guides alone may pass; nil: nothing to compute it from

	// Reading is that of the tests that count, together: its warnings, budget,
	// guesses and curve.
	Reading *leak.Reading `json:"-"`
}

// Aside is a test that a verdict does not stand on.
type Aside struct {
	Test   string   `json:"test"`
	Why    []string `json:"why"`
	Lapsed bool     `json:"lapsed"`
}

// MaskedCard is what tests with one or more valves sealed off come to.
type MaskedCard struct {
	Open    []string      `json:"open"` // identities of the valves that were not masked
	Tests   []string      `json:"tests"`
	Leak    *Estimate     `json:"leak"`
	Verdict limit.Verdict `json:"verdict"`
}

// OldCard is a verdict that lapsed.
type OldCard struct {
	Standing Standing  `json:"standing"`
	Leak     *Estimate `json:"leak"`
	Again    *Estimate `json:"again"`
	At       int64     `json:"at"`   // of its last test
	Why      string    `json:"why"`  // it lapsed
	Work     string    `json:"work"` // identity of the work; "" where only a test said so
	WorkAt   int64     `json:"work_at"`
}

// ValveCard is how one valve stands.
type ValveCard struct {
	ID          string        `json:"id"`
	Name        string        `json:"name"`
	Short       string        `json:"short"` // among those of its port: "left valve"
	Port        string        `json:"port"`
	Standing    Standing      `json:"standing"`
	OneOf       bool          `json:"one_of"` // at least one of the port's leaks, nobody knows which
	Limit       float64       `json:"limit"`  // m³/s, the least
	Limits      []PortLimit   `json:"limits"` // one of each rule
	Head        unit.Measured `json:"head"`   // m, diameter
	HeadGuessed bool          `json:"head_guessed"`
}

// Guess is a figure nobody gave, the widest that it made an answer of the head.
type Guess struct {
	Input   string         `json:"input"`
	Guess   unit.Measured  `json:"guess"`
	Dim     unit.Dimension `json:"dim"`
	Widened float64        `json:"widened"` // ratio of widths with and without, >= 1
}

// portWork is a port on its way to a card.
type portWork struct {
	card    *PortCard
	port    *Port
	history history
	groups  []group // of the current era
	speaks  *group
	masked  []*group
	apart   *Apart   // nil: nothing to take apart
	mask    []string // the valves that the next step masks
	valves  map[string]Standing
	oneOf   bool
}

// era returns the current era, nil where there is none.
func (w *portWork) era() *era {
	if n := len(w.history.eras); n > 0 && w.history.current {
		return &w.history.eras[n-1]
	}
	return nil
}

// CardOf says of every port and valve how it stands, and what to do next. The
// same records make the same card; their order does not matter. Rules:
// docs/model.md §9.
func CardOf(r Records) *Card {
	j := &r.Job
	j.reckon = newReckoner(r.Cost, r.Pump)
	j.reckon.kept = r.Kept.begin()
	defer j.reckon.kept.end()
	c := &Card{Ports: make([]PortCard, len(j.Ports)), Valves: []ValveCard{}, Guesses: []Guess{}, Checked: r.checked()}
	together := pooling(r.Together)
	if together == nil {
		together = func(tests []leak.Test) *leak.Reading { return leak.Together(tests, r.Scatter) }
	}
	work := make([]portWork, len(j.Ports))
	tests := slices.DeleteFunc(slices.Clone(r.Tests), func(t Tested) bool { return t.JobID != j.ID })
	works := slices.DeleteFunc(slices.Clone(r.Work), func(w Work) bool { return w.JobID != j.ID })
	r.measureGood(j, tests, works, together)
	c.good = j.reckon.good
	for i := range j.Ports {
		w := &work[i]
		w.port, w.card = &j.Ports[i], &c.Ports[i]
		*w.card = PortCard{ID: w.port.ID, Name: j.PortName(w.port.ID), Counted: []string{}, Aside: []Aside{}, Masked: []MaskedCard{}, Off: []string{}, Limits: []PortLimit{}}
		w.history = historyOf(w.port, tests, works)
		j.stand(w, together, r.Scatter)
	}
	c.compare(j, work)
	for i := range j.Valves {
		c.Valves = append(c.Valves, j.valveCard(&j.Valves[i], work))
	}
	for i := range work {
		w := &work[i]
		j.planApart(w, r.Scatter)
		room, temp := w.room()
		w.card.Guide = j.forecastGuides(w.port, room, temp)
		w.card.Next = j.nextOf(w)
		w.card.tell(w)
	}
	c.tally()
	c.guesses(j, work)
	c.Next = j.todo(c, work, r.Today > 0 && !c.Checked)
	return c
}

// checked says whether the job's rig, or any where none is named, was checked
// today.
func (r *Records) checked() bool {
	return slices.ContainsFunc(r.Checks, func(k Check) bool {
		return k.At >= r.Today && (r.Job.RigID == "" || k.RigID == r.Job.RigID)
	})
}

// stand sets how a port stands.
func (j *Job) stand(w *portWork, together pooling, scatter *leak.Scatter) {
	c := w.card
	number := map[string]int{}
	for _, e := range w.history.eras {
		for _, t := range e.tests {
			number[t.ID] = len(number) + 1
		}
	}
	c.Standing = NotTested
	j.lapse(w, number, together, scatter)
	e := w.era()
	if e == nil {
		c.Limits, c.As = j.portLimits(w.port.Valves, nil, 0, 0), leak.KindSeep
		c.OneLimit, c.AllLimit = j.limits(w.port.Valves, 0, 0)
		if len(w.history.eras) > 0 {
			c.Standing = Lapsed
		}
		c.Words = c.Standing.Words()
		w.valves, w.oneOf = sameFor(w.port, c.Standing), false
		return
	}
	j.judgeEra(w, e, number, together, scatter)
	c.Standing = portStanding(w)
	c.Words = c.Standing.Words()
	if c.Standing == Refused {
		w.valves = sameFor(w.port, Refused)
	}
	g := w.speaks
	if g == nil {
		c.Limits, c.As = j.portLimits(w.port.Valves, nil, 0, 0), leak.KindSeep
		c.OneLimit, c.AllLimit = j.limits(w.port.Valves, 0, 0)
		c.Off = []string{"tested with a valve masked only"}
	} else {
		c.take(g)
	}
	if d := w.doubt(); d != nil && c.Standing != Refused {
		c.Doubt, c.Retest = d.code, c.Standing == Holds
		c.Off = append(c.Off, "in doubt: "+d.off)
	}
	c.SignOff = g != nil && len(c.Off) == 0 && c.Standing != Refused
	for i := range w.groups {
		w.setAside(&w.groups[i])
	}
}

// judgeEra reads and judges the tests of an era that speak, and those that tell
// whether a guide leaks.
func (j *Job) judgeEra(w *portWork, e *era, number map[string]int, together pooling, scatter *leak.Scatter) {
	w.groups = groupsOf(w.port, e)
	w.speaks, w.masked = lead(w.groups)
	j.read(w.port, w.speaks, number, together)
	for _, g := range w.masked {
		j.read(w.port, g, number, together)
	}
	if len(w.masked) > 0 || w.speaks != nil && w.speaks.verdict != limit.Holds && w.card != nil {
		w.apart = j.apartOf(w, scatter)
	}
	w.valves, w.oneOf = valveStandings(w.port, w.speaks, w.masked, w.apart)
	if w.speaks != nil && w.speaks.verdict == limit.Leaks {
		for i := range w.groups {
			if g := &w.groups[i]; g.like.guide == GuideClosed {
				j.read(w.port, g, number, together)
			}
		}
	}
}

// take takes a group's figures.
func (c *PortCard) take(g *group) {
	c.OneLimit, c.AllLimit, c.Reading, c.Verdict = g.one, g.all, g.reading, g.verdict
	c.Limits, c.As = g.limits, g.as
	c.Off = append(c.Off, g.offs...)
	c.OverOne, c.OverAll = chance(g.overOne), chance(g.overAll)
	if g.answers() {
		c.Leak, c.Again, c.Fall = estimate(g.reading.Leak), estimate(g.reading.TestedAgain), estimate(g.reading.FallRate)
		c.UpperOnly = g.reading.UpperLimitOnly
	}
}

// setAside files a group's tests under counted, masked or aside.
func (w *portWork) setAside(g *group) {
	c := w.card
	var ids []string
	_, settled := g.seenTo()
	for _, t := range g.tests {
		switch {
		case t.Reading == nil:
			c.Aside = append(c.Aside, Aside{Test: t.ID, Why: []string{"could not be read"}})
		case t.Reading.Refusal != nil:
			c.Aside = append(c.Aside, Aside{Test: t.ID, Why: []string{"refused"}})
		case slices.Contains(settled, t):
			c.Aside = append(c.Aside, Aside{Test: t.ID, Why: []string{"in doubt: " + doubtOf(t.Reading).off, "tested again since"}})
		case g == w.speaks:
			c.Counted = append(c.Counted, t.ID)
		case slices.Contains(w.masked, g):
			ids = append(ids, t.ID)
		default:
			c.Aside = append(c.Aside, Aside{Test: t.ID, Why: g.like.unlike(w.speaks.like)})
		}
	}
	if len(ids) > 0 {
		c.Masked = append(c.Masked, MaskedCard{g.open, ids, estimate(g.reading.Leak), g.verdict})
	}
}

// lapse files the tests of earlier eras, and the last verdict before the work.
func (j *Job) lapse(w *portWork, number map[string]int, together pooling, scatter *leak.Scatter) {
	past := w.history.eras
	if w.era() != nil {
		past = past[:len(past)-1]
	}
	for i := range past {
		for _, t := range past[i].tests {
			w.card.Aside = append(w.card.Aside, Aside{t.ID, []string{past[i].why()}, true})
		}
	}
	if len(past) == 0 {
		return
	}
	e := &past[len(past)-1]
	then := portWork{port: w.port}
	j.judgeEra(&then, e, number, together, scatter)
	old := &OldCard{Standing: portStanding(&then), At: e.tests[len(e.tests)-1].At, Why: e.why()}
	if g := then.speaks; g != nil && g.answers() {
		old.Leak, old.Again = estimate(g.reading.Leak), estimate(g.reading.TestedAgain)
	}
	if e.work != nil {
		old.Work, old.WorkAt = e.work.ID, e.work.At
	}
	w.card.Old = old
}

// portStanding is the standing of a port with tests: it holds where all its
// valves do, by one test of all or by masks.
func portStanding(w *portWork) Standing {
	answered := len(w.masked) > 0 || w.speaks != nil && w.speaks.answers()
	if !answered {
		return Refused
	}
	all := Holds
	if w.speaks != nil && w.speaks.verdict == limit.Leaks {
		return Leaks
	}
	if a := w.apart; a != nil && a.Rest != nil && limit.Judge(a.Rest.Over, a.strict) != limit.Holds {
		all = CantTellYet // every seat may hold, and something else not
	}
	for _, g := range w.masked {
		if g.verdict == limit.Leaks && len(g.open) == 1 {
			return Leaks // by that seat, or by none
		}
	}
	for _, s := range w.valves {
		switch {
		case s == Leaks:
			return Leaks
		case s != Holds:
			all = CantTellYet
		}
	}
	if len(w.valves) == 0 {
		return CantTellYet
	}
	return all
}

func sameFor(p *Port, s Standing) map[string]Standing {
	at := map[string]Standing{}
	for _, id := range p.Valves {
		at[id] = s
	}
	return at
}

func chance(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}
