package head

import (
	"slices"

	"seatproof/limit"
)

// portLimits puts side by side what each rule allows the valves of a port, with
// what it means in the others' terms: those that count first, strictest first.
// share nil: the leak is taken as a seep.
func (j *Job) portLimits(valves []string, share *float64, room, temp float64) []PortLimit {
	out := []PortLimit{}
	room, temp = standardAir(room, temp)
	at := 0.0
	if share != nil {
		at = *share
	}
	least := map[limit.Kind]string{} // whose limit is the least
	for _, id := range valves {
		for _, r := range j.rulesFor(id, room, temp) {
			i := slices.IndexFunc(out, func(p PortLimit) bool { return p.Kind == r.Kind })
			if i < 0 {
				i = len(out)
				out = append(out, PortLimit{Kind: r.Kind, Counts: r.counts && !r.gone, Fault: r.fault, Set: r.set()})
			}
			p := &out[i]
			if r.gone {
				continue
			}
			q := r.At(at)
			if p.One == 0 || q < p.One {
				p.One, p.Opening, p.Seep, p.SD = q, r.Opening, r.Seep, r.SD(at)
				least[r.Kind] = id
			}
			p.All += q
		}
	}
	decides := -1
	for i := range out {
		if p := &out[i]; p.Counts && p.One > 0 && (decides < 0 || p.One < out[decides].One) {
			decides = i
		}
	}
	if decides >= 0 {
		out[decides].Decides = true
	}
	for i := range out {
		j.inOtherTerms(&out[i], least[out[i].Kind], room, temp)
	}
	slices.SortStableFunc(out, func(a, b PortLimit) int { return a.rank() - b.rank() })
	return out
}

// rank orders limits: the one that decides, those that count, those beside.
func (p *PortLimit) rank() int {
	switch {
	case p.Decides:
		return 0
	case p.Counts:
		return 1
	}
	return 2
}

// set is what a person set of a rule, in SI.
func (r *rule) set() float64 {
	switch r.Kind {
	case limit.ByWorkmanship:
		return r.Gap
	case limit.ByCost:
		return r.Share
	case limit.ByDrop:
		return r.Drop
	}
	return 0
}

// inOtherTerms says what a limit means as a gap, as a share of cranking pressure,
// and on the needle. Cost is taken as straight in the leak, as it is while it is
// small.
func (j *Job) inOtherTerms(p *PortLimit, id string, room, temp float64) {
	v := j.valve(id)
	if v == nil || !(p.One > 0) {
		return
	}
	head, _ := j.HeadOr(v)
	if gap, err := limit.GapOf(p.Seep, head.Value, room, temp); err == nil {
		p.Gap = gap
	}
	if c := j.cost(v, room, temp); !c.gone {
		p.CostSeep, p.CostOpening = min(1, c.Share*p.Seep/c.Seep), min(1, c.Share*p.Opening/c.Opening)
	}
	if pump := j.reckoned().pump; pump != nil {
		if drop, err := limit.DropOf(p.Seep, 0, pump, room, temp); err == nil {
			p.Drop = drop
		}
	}
}
