package head

import (
	"math"
	"slices"

	"seatproof/engine"
	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// CostFinder finds the leak of all valves of a cylinder that costs a share of its
// cranking pressure: [engine.Given.CostLimit], or what keeps what that found.
type CostFinder func(g engine.Given, share, pa, ta float64) (engine.CostLimit, error)

// PortLimit is what one rule allows a port, m³/s of free air at 50 kPa, and what
// that means in the others' terms.
type PortLimit struct {
	Kind    limit.Kind `json:"kind"`
	Decides bool       `json:"decides"` // it is the strictest of those that count
	Counts  bool       `json:"counts"`  // else it is shown beside
	Fault   string     `json:"fault"`   // why there is no figure

	One     float64 `json:"one"`     // the least of one of its valves, for a leak as this one is taken
	All     float64 `json:"all"`     // the sum of its valves
	Opening float64 `json:"opening"` // One of a leak that flows like a nozzle
	Seep    float64 `json:"seep"`    // One of a leak that flows as through a slot
	SD      float64 `json:"sd"`      // of the logarithm of One
	Set     float64 `json:"set"`     // what was set: m of gap, 0..1 of cranking pressure, Pa of drop; 0 for a figure

	Gap         float64 `json:"gap"`          // m, cube-mean gap round that valve that passes One; 0: none
	CostSeep    float64 `json:"cost_seep"`    // 0..1 of cranking pressure, were all valves of the cylinder at this limit, as a seep; 0: not known
	CostOpening float64 `json:"cost_opening"` // the same as an opening
	Drop        float64 `json:"drop"`         // Pa, by which One moves the needle on the rig's pump, as a seep; 0: not known
}

// reckoner finds limits, each cylinder's cost once.
type reckoner struct {
	cost CostFinder
	pump *rig.Curve
	had  map[costAsked]costFound
	good *goodPort
	kept *keeping // what cards keep from one to the next; nil: nothing
}

type costAsked struct {
	given         engine.Given
	share, pa, ta float64
}

type costFound struct {
	is  engine.CostLimit
	err error
}

// goodPort is what a port known good passes, per metre of its valves' diameters.
type goodPort struct{ flow, doubt float64 }

func newReckoner(cost CostFinder, pump *rig.Curve) *reckoner {
	if cost == nil {
		cost = engine.Given.CostLimit
	}
	return &reckoner{cost: cost, pump: pump, had: map[costAsked]costFound{}}
}

// Reckoned returns the job with what its limits are found with: who asks for
// limits without a card hands in what keeps costs, for each takes milliseconds.
func (j Job) Reckoned(cost CostFinder, pump *rig.Curve) Job {
	j.reckon = newReckoner(cost, pump)
	return j
}

// ReckonedBy returns the job with what its limits are found with, what its port
// known good passes taken from a card of it.
func (j Job) ReckonedBy(c *Card, cost CostFinder, pump *rig.Curve) Job {
	j = j.Reckoned(cost, pump)
	if c != nil {
		j.reckon.good = c.good
	}
	return j
}

func (j *Job) reckoned() *reckoner {
	if j.reckon == nil {
		j.reckon = newReckoner(nil, nil)
	}
	return j.reckon
}

// standardAir replaces air that is not known by that of a standard room.
func standardAir(room, temp float64) (pa, ta float64) {
	if !(room > 0) {
		room = 101325
	}
	if !(temp > 0) {
		temp = 293.15
	}
	return room, temp
}

// basis is the rule that decides in place of workmanship and cost, "" for none,
// or where what it needs is not there.
func (l *Limit) basis() limit.Kind {
	b := l.Basis
	if b == "" && known(l.Flow) {
		b = limit.ByOwn
	}
	switch b {
	case limit.ByOwn, limit.ByMaker:
		if known(l.Flow) {
			return b
		}
	case limit.ByDrop:
		if known(l.Drop) {
			return b
		}
	case limit.ByGoodPort:
		if l.Good != "" {
			return b
		}
	}
	return ""
}

// typed says whether a figure decides that does not go by the valve's diameter.
func (j *Job) typed() bool {
	b := j.Limit.basis()
	return b == limit.ByOwn || b == limit.ByMaker
}

// rule is one rule's limit of one valve.
type rule struct {
	limit.Limit
	counts bool
	fault  string
	gone   bool // there is no figure
}

// rulesFor returns what each rule allows one valve. Workmanship and cost are
// always there; those that count decide.
func (j *Job) rulesFor(id string, room, temp float64) []rule {
	room, temp = standardAir(room, temp)
	v := j.valve(id)
	if v == nil {
		return nil
	}
	basis := j.Limit.basis()
	var out []rule
	switch basis {
	case limit.ByOwn, limit.ByMaker:
		out = append(out, rule{Limit: limit.Plain(basis, j.Limit.Flow.Value, 0), counts: true})
	case limit.ByDrop:
		out = append(out, j.dropRule(room, temp))
	case limit.ByGoodPort:
		out = append(out, j.goodRule(v))
	}
	stands := !slices.ContainsFunc(out, func(r rule) bool { return !r.gone }) // what was chosen has no figure: the usual two
	work := j.workmanship(v, room, temp)
	work.counts = stands
	cost := j.cost(v, room, temp)
	cost.counts = stands && !j.Limit.NoCost && !cost.gone
	return append(out, work, cost)
}

// workmanship is the limit by the gap, in the test's own air; its doubt is that of
// the diameter.
func (j *Job) workmanship(v *Valve, room, temp float64) rule {
	head, _ := j.HeadOr(v)
	gap := j.Limit.Gap.Or(unit.Exactly(limit.WorkmanshipGap)).Value
	flow, err := limit.Workmanship(math.Min(0.2, math.Max(5e-3, head.Value)), gap, room, temp)
	if err != nil { // a gap or an air that the form refuses: the usual ones
		gap = limit.WorkmanshipGap
		flow, _ = limit.Workmanship(27e-3, gap, 101325, 293.15)
		flow *= head.Value / 27e-3
	}
	r := rule{Limit: limit.Plain(limit.ByWorkmanship, flow, head.SD()/head.Value)}
	r.Gap, r.Diameter = gap, head.Value
	return r
}

// CostShare is the share of cranking pressure that the cost limit allows.
func (l *Limit) CostShare() float64 {
	if c := l.Cost; c.Known && limit.CheckShare(c.Value) == nil {
		return c.Value
	}
	return limit.UsualShare
}

// cost is the limit by the engine, the valves of a cylinder sharing it by the
// diameters of their heads. The air is rounded to half a kilopascal and a kelvin,
// far finer than the limit is known, so that like rooms share a computation.
func (j *Job) cost(v *Valve, room, temp float64) rule {
	g, _ := j.Given()
	r := rule{Limit: limit.Limit{Kind: limit.ByCost, Share: j.Limit.CostShare()}}
	asked := costAsked{g, r.Share, 500 * math.Round(room/500), math.Round(temp)}
	k := j.reckoned()
	found, had := k.had[asked]
	if !had {
		found.is, found.err = k.cost(asked.given, asked.share, asked.pa, asked.ta)
		k.had[asked] = found
	}
	if found.err != nil {
		r.gone, r.fault = true, found.err.Error()
		return r
	}
	head, _ := j.HeadOr(v)
	var heads []float64
	for i := range j.Valves {
		if o := &j.Valves[i]; o.Cylinder == v.Cylinder {
			d, _ := j.HeadOr(o)
			heads = append(heads, d.Value)
		}
	}
	r.All, r.AllOpening = found.is.Seep, found.is.Opening
	r.Seep, r.Opening = limit.SharedBy(r.All, head.Value, heads), limit.SharedBy(r.AllOpening, head.Value, heads)
	r.SeepSD, r.OpeningSD = found.is.SeepSD, found.is.OpeningSD
	r.gone = !(r.Seep > 0 && r.Opening > 0)
	return r
}

// dropRule is the habit of a drop below the blanked reading, on this pump.
func (j *Job) dropRule(room, temp float64) rule {
	r := rule{Limit: limit.Limit{Kind: limit.ByDrop, Drop: j.Limit.Drop.Value}, counts: true}
	pump := j.reckoned().pump
	if pump == nil {
		r.gone, r.fault = true, "the pump of the rig is not known"
		return r
	}
	var err error
	if r.Opening, r.Seep, err = limit.OfDrop(r.Drop, pump, room, temp); err != nil {
		r.gone, r.fault = true, err.Error()
	}
	r.gone = r.gone || !(r.Opening > 0 && r.Seep > 0)
	return r
}

// goodRule is what a port known good passes, by the valve's diameter.
func (j *Job) goodRule(v *Valve) rule {
	g := j.reckoned().good
	if g == nil {
		return rule{Limit: limit.Limit{Kind: limit.ByGoodPort}, gone: true, fault: "the port known good has no leak rate yet"}
	}
	head, _ := j.HeadOr(v)
	return rule{Limit: limit.Plain(limit.ByGoodPort, g.flow*head.Value, g.doubt), counts: true}
}

// valveRules are the limits that count, of the valves of a port.
type valveRules limit.Port

func (j *Job) rulesOf(valves []string, room, temp float64) valveRules {
	var out valveRules
	for _, id := range valves {
		var v limit.Valve
		for _, r := range j.rulesFor(id, room, temp) {
			if r.counts && !r.gone {
				v = append(v, r.Limit)
			}
		}
		out = append(out, v)
	}
	return out
}

// plain says whether none of the limits asks how the leak flows.
func (p valveRules) plain() bool {
	for _, v := range p {
		for _, l := range v {
			if l.Opening != l.Seep || l.OpeningSD != l.SeepSD {
				return false
			}
		}
	}
	return true
}

// doubt is the sd of the logarithm of the least limit, of the valve where it is
// largest.
func (p valveRules) doubt() float64 {
	sd := 0.0
	for _, v := range p {
		_, d := leastOf(v, 0)
		sd = math.Max(sd, d)
	}
	return sd
}

// middleZ is how many sds lie between the first and the last of
// [limit.Quantiles] equally likely steps.
var middleZ = 2 * math.Sqrt2 * math.Erfinv(1-1.0/limit.Quantiles)

// leastOf returns the median of the strictest limit at a share, doubts included,
// and the sd of its logarithm.
func leastOf(v limit.Valve, share float64) (flow, sd float64) {
	f, exact := v.Factors(share)
	flow = v.At(share)
	if exact {
		return flow, 0
	}
	return flow * f[limit.Quantiles/2], math.Log(f[limit.Quantiles-1]/f[0]) / middleZ
}

// steps of the share of an opening between which a limit is taken as straight in
// its logarithm.
const shareSteps = 8

// stepped holds the least limit of one valve and the sum of all, of each equally
// likely step of their doubt.
type stepped struct {
	one, all [limit.Quantiles]float64
	exact    bool
}

func (p valveRules) stepped(share float64) (s stepped) {
	s.exact = true
	for i := range s.one {
		s.one[i] = math.Inf(1)
	}
	for _, v := range p {
		at := v.At(share)
		if !(at > 0) {
			continue
		}
		f, exact := v.Factors(share)
		s.exact = s.exact && exact
		for i := range f {
			s.one[i] = math.Min(s.one[i], at*f[i])
			s.all[i] += at * f[i]
		}
	}
	return s
}

// chances returns the chance that a port, tested again, is over the least limit of
// one valve, and over the sum of all, the doubt of the limits gone through. A leak
// of which the tests tell how it flows is held draw by draw against the limit of
// its own share; else it is taken as a seep.
func (p valveRules) chances(r *leak.Reading) (one, all float64) {
	if len(p) == 0 {
		return math.NaN(), math.NaN()
	}
	share := ShareOf(r)
	if share == nil || p.plain() {
		s := p.stepped(0)
		steps := limit.Quantiles
		if s.exact {
			steps = 1
		}
		for i := range steps {
			one += r.ChanceOver(s.one[i]) / float64(steps)
			all += r.ChanceOver(s.all[i]) / float64(steps)
		}
		return one, all
	}
	var table [shareSteps + 1]stepped
	for i := range table {
		table[i] = p.stepped(float64(i) / shareSteps)
	}
	between := func(share float64, of func(s *stepped) float64) float64 {
		x := shareSteps * math.Min(1, math.Max(0, share))
		i := min(int(x), shareSteps-1)
		a, b := of(&table[i]), of(&table[i+1])
		return a * math.Pow(b/a, x-float64(i))
	}
	for i := range limit.Quantiles {
		one += r.ChanceOverAt(func(share float64) float64 {
			return between(share, func(s *stepped) float64 { return s.one[i] })
		}) / limit.Quantiles
		all += r.ChanceOverAt(func(share float64) float64 {
			return between(share, func(s *stepped) float64 { return s.all[i] })
		}) / limit.Quantiles
	}
	return one, all
}

// ShareOf returns the opening's share of a leak of which the tests tell how it
// flows; nil where they don't, and it is taken as a seep, the costlier.
func ShareOf(r *leak.Reading) *float64 {
	if r == nil || r.Share == nil {
		return nil
	}
	switch r.Kind {
	case leak.KindOpening, leak.KindMixed, leak.KindSeep:
		return &r.Share.Median
	}
	return nil
}

// kindOf names how a leak is taken.
func kindOf(share *float64) leak.Kind {
	switch {
	case share == nil || *share < 0.25:
		return leak.KindSeep
	case *share > 0.75:
		return leak.KindOpening
	}
	return leak.KindMixed
}

// PortLimits returns the least limit of one of a port's valves and the sum of
// all [m³/s of free air at 50 kPa], of a leak taken as a seep, in a room of that
// pressure [Pa] and temperature [K]; 0 for either: a standard one. A port without
// valves has none: 0.
func (j *Job) PortLimits(p *Port, room, temp float64) (one, all float64) {
	return j.limits(p.Valves, room, temp)
}

// LimitsOf returns the limits of a port's valves that count, for a leak of any kind,
// in a room as for [Job.PortLimits].
func (j *Job) LimitsOf(p *Port, room, temp float64) limit.Port {
	return limit.Port(j.rulesOf(p.Valves, room, temp))
}

// limits returns the least limit of one of the valves and the sum of all, of a
// leak taken as a seep.
func (j *Job) limits(valves []string, room, temp float64) (one, all float64) {
	return j.limitsAt(valves, nil, room, temp)
}

func (j *Job) limitsAt(valves []string, share *float64, room, temp float64) (one, all float64) {
	at := 0.0
	if share != nil {
		at = *share
	}
	one, all, _ = limit.Port(j.rulesOf(valves, room, temp)).At(at)
	return one, all
}

// goodTimes is how many times what a port known good passes is still called like
// it: an engineering choice, about what one and the same seat differs by from test
// to test.
const goodTimes = 2

// measureGood sets what the port known good passes, by the tests of it that speak.
func (r *Records) measureGood(j *Job, tests []Tested, works []Work, together pooling) {
	i := slices.IndexFunc(j.Ports, func(p Port) bool { return p.ID == j.Limit.Good })
	if j.Limit.basis() != limit.ByGoodPort || i < 0 {
		return
	}
	w := portWork{port: &j.Ports[i], history: historyOf(&j.Ports[i], tests, works)}
	e := w.era()
	if e == nil {
		return
	}
	w.groups = groupsOf(w.port, e)
	g, _ := lead(w.groups)
	j.read(w.port, g, map[string]int{}, together)
	if g == nil || !g.answers() || g.reading.Leak == nil || g.reading.UpperLimitOnly || g.like.wetted() {
		return
	}
	sum := 0.0
	for _, id := range w.port.Valves {
		if v := j.valve(id); v != nil {
			d, _ := j.HeadOr(v)
			sum += d.Value
		}
	}
	if q := g.reading.Leak; sum > 0 && q.Low > 0 {
		j.reckon.good = &goodPort{flow: goodTimes * q.Median / sum, doubt: math.Log(q.High/q.Low) / (2 * 1.96)}
	}
}

// check says what is wrong in how a limit is set.
func (l *Limit) check(f *Faults) {
	if l.Cost.Known {
		if err := limit.CheckShare(l.Cost.Value); err != nil {
			f.add("limit.cost", "%s", err)
		}
	}
	switch l.Basis {
	case "", limit.ByOwn, limit.ByMaker, limit.ByDrop, limit.ByGoodPort:
	default:
		f.add("limit.basis", "%q is no basis of a limit: take own, maker, drop, good-port, or none for workmanship and cost", string(l.Basis))
	}
	switch {
	case (l.Basis == limit.ByOwn || l.Basis == limit.ByMaker) && !known(l.Flow):
		f.add("limit.flow", "the figure is missing: give it, or let workmanship and cost decide")
	case l.Basis == limit.ByDrop && !known(l.Drop):
		f.add("limit.drop", "the drop is missing: give it, or let workmanship and cost decide")
	case l.Basis == limit.ByGoodPort && l.Good == "":
		f.add("limit.good", "no port is named: say which is known good, or let workmanship and cost decide")
	}
	if l.Drop.Known && !(l.Drop.Value > 0 && l.Drop.Value < 90e3) {
		f.add("limit.drop", "a drop of %s kPa can't be: it is above zero and less than the blanked reading, 7 kPa or 2 inHg is the habit", fig(l.Drop.Value/1e3))
	}
}
