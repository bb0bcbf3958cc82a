package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"seatproof/check"
	"seatproof/head"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// CardPorts returns the kinds of port of a head, in its order: ports of one side
// with like valves and volume are one kind. A head's own volume goes before the
// rig's port, that before a guess by the valves' size.
func CardPorts(j *head.Job, r rig.Rig) []check.CardPort {
	type kind struct {
		check.CardPort
		side      head.Side
		cylinders []int
	}
	var kinds []kind
	for i := range j.Ports {
		p := &j.Ports[i]
		k := kind{side: p.Side, CardPort: check.CardPort{Volume: r.Port.Volume, Guessed: r.Port.VolumeGuessed}}
		k.Typed, k.Instead = typedLimit(j, p)
		if p.Volume.Known || !r.Port.Volume.Known {
			k.Volume, k.Guessed = j.VolumeOr(p)
		}
		for _, id := range p.Valves {
			v := slices.IndexFunc(j.Valves, func(v head.Valve) bool { return v.ID == id })
			if v < 0 {
				continue
			}
			d, _ := j.HeadOr(&j.Valves[v])
			k.Valves = append(k.Valves, d.Value)
		}
		slices.SortFunc(k.Valves, func(a, b float64) int { return cmp.Compare(b, a) })
		same := slices.IndexFunc(kinds, func(o kind) bool {
			return o.side == k.side && o.Volume == k.Volume && slices.Equal(o.Valves, k.Valves)
		})
		if same < 0 {
			kinds = append(kinds, k)
			same = len(kinds) - 1
		}
		for _, c := range p.Cylinders {
			if !slices.Contains(kinds[same].cylinders, c) {
				kinds[same].cylinders = append(kinds[same].cylinders, c)
			}
		}
	}
	// Heads of one make lie with the intake first; several kinds of a side are told
	// apart by their cylinders.
	slices.SortStableFunc(kinds, func(a, b kind) int { return cmp.Compare(sideOrder(a.side), sideOrder(b.side)) })
	var out []check.CardPort
	for _, k := range kinds {
		k.Name = "Intake port"
		if k.side == head.Exhaust {
			k.Name = "Exhaust port"
		}
		if n := 0; true {
			for _, o := range kinds {
				if o.side == k.side {
					n++
				}
			}
			if n > 1 {
				k.Name += ", " + cylinderWords(k.cylinders)
			}
		}
		out = append(out, k.CardPort)
	}
	return out
}

// typedLimit is what stands in the place of workmanship and cost: the maker's
// figure or one's own, a drop, what a port known good passes where the job was
// reckoned with its tests; zero where there is none. instead says which limit was
// chosen that a card can't have, and why.
func typedLimit(j *head.Job, p *head.Port) (l limit.Limit, instead string) {
	set := &j.Limit
	switch set.Basis {
	case "", limit.ByOwn, limit.ByMaker:
		if set.Flow.Known && set.Flow.Value > 0 {
			return limit.Plain(cmp.Or(set.Basis, limit.ByOwn), set.Flow.Value, 0), ""
		}
	case limit.ByDrop:
		if set.Drop.Known && set.Drop.Value > 0 {
			return limit.Limit{Kind: limit.ByDrop, Drop: set.Drop.Value}, ""
		}
	case limit.ByGoodPort:
		for i, v := range j.LimitsOf(p, 0, 0) {
			at := slices.IndexFunc(v, func(l limit.Limit) bool { return l.Kind == limit.ByGoodPort })
			k := slices.IndexFunc(j.Valves, func(o head.Valve) bool { return o.ID == p.Valves[i] })
			if at >= 0 && k >= 0 {
				l = v[at]
				d, _ := j.HeadOr(&j.Valves[k])
				l.Diameter = d.Value
				return l, ""
			}
		}
		return l, "a port known good: its tests give no leak rate here"
	}
	return l, ""
}

// gapOf is the head's own gap of workmanship [m]; 0: the usual one.
func gapOf(j *head.Job) float64 {
	gap := j.Limit.Gap
	if !gap.Known {
		return 0
	}
	if _, err := limit.Workmanship(27e-3, gap.Value, 101325, 293.15); err != nil {
		return 0 // as the head's own judge takes it
	}
	return gap.Value
}

// EngineLimit is the engine of a head, for what it can spare, with the gap of
// workmanship: the gap alone where the engine's limit is set aside.
func EngineLimit(j *head.Job) check.Engine {
	e := check.Engine{Gap: gapOf(j), Share: j.Limit.CostShare()}
	if j.Limit.NoCost {
		return e
	}
	e.Given, _ = j.Given()
	for i := range j.Valves {
		if v := &j.Valves[i]; v.Cylinder == j.Valves[0].Cylinder {
			d, _ := j.HeadOr(v)
			e.Heads = append(e.Heads, d.Value)
		}
	}
	return e
}

func sideOrder(s head.Side) int {
	if s == head.Exhaust {
		return 1
	}
	return 0
}

func cylinderWords(all []int) string {
	if len(all) == 1 {
		return fmt.Sprintf("cylinder %d", all[0])
	}
	words := make([]string, len(all))
	for i, c := range all {
		words[i] = strconv.Itoa(c)
	}
	return "cylinders " + strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// CardValvesHint says how valves are written for [CardValves].
const CardValvesHint = "the heads of one port's valves: \"27, 27 mm\"; several kinds: \"intake 27, 27 mm; exhaust 23, 23 mm\""

// CardValves reads kinds of port from their valves' sizes, "27, 27 mm" or "intake
// 27, 27 mm; exhaust 23, 23 mm"; a bare figure takes the unit of the last. The
// volume is the rig's port, else a guess by the valves' size, as for a head.
func CardValves(text string, r rig.Rig) ([]check.CardPort, error) {
	var out []check.CardPort
	for _, part := range strings.Split(text, ";") {
		part = strings.TrimSpace(part)
		if part == "" {
			continue
		}
		p := check.CardPort{Name: "Port", Volume: r.Port.Volume, Guessed: r.Port.VolumeGuessed}
		if i := strings.IndexAny(part, "0123456789"); i > 0 {
			name := strings.TrimRight(strings.TrimSpace(part[:i]), ":")
			if first, size := utf8.DecodeRuneInString(name); size > 0 {
				p.Name = string(unicode.ToUpper(first)) + name[size:] + " port"
			}
			part = part[i:]
		}
		sizes := strings.Split(part, ",")
		last, err := unit.Parse(strings.TrimSpace(sizes[len(sizes)-1]), unit.LengthDim)
		if err != nil {
			return nil, err
		}
		j := head.Job{}
		port := head.Port{ID: "p1"}
		for i, s := range sizes {
			q, err := unit.ParseIn(strings.TrimSpace(s), unit.LengthDim, last.Unit)
			if err != nil {
				return nil, err
			}
			id := "v" + strconv.Itoa(i+1)
			p.Valves = append(p.Valves, q.Value)
			j.Valves = append(j.Valves, head.Valve{ID: id, Head: unit.Exactly(q.Value)})
			port.Valves = append(port.Valves, id)
		}
		if !p.Volume.Known {
			p.Volume, p.Guessed = j.VolumeOr(&port)
		}
		out = append(out, p)
	}
	return out, nil
}

// CardOthers guesses the heads of the valves of a cylinder of which only one kind
// of port was named, as a head's are guessed: as many on the other side (two
// exhaust valves to three). A port whose side was not named is taken as exhaust,
// whose intake valves are the larger: the strict side. None where both are named.
func CardOthers(ports []check.CardPort) []float64 {
	if len(ports) != 1 {
		return nil
	}
	n := len(ports[0].Valves)
	side, other := head.Exhaust, head.Intake
	if strings.HasPrefix(ports[0].Name, "Intake") || n > 2 {
		side, other = other, side
	}
	j := head.Job{}
	for i, d := range ports[0].Valves {
		j.Valves = append(j.Valves, head.Valve{ID: "v" + strconv.Itoa(i+1), Cylinder: 1, Side: side, Head: unit.Exactly(d)})
	}
	for i := range min(n, 2) {
		j.Valves = append(j.Valves, head.Valve{ID: "o" + strconv.Itoa(i+1), Cylinder: 1, Side: other})
	}
	var out []float64
	for i := n; i < len(j.Valves); i++ {
		d, _ := j.HeadOr(&j.Valves[i])
		out = append(out, d.Value)
	}
	return out
}

// CardLapses says until when what a card leans on is trusted, by the checks of
// its rig: the first of those trusted for longer than a day that grows old. ""
// where there is none such.
func CardLapses(all []check.Standing) string {
	words := ""
	var first time.Time
	for _, s := range all {
		switch {
		case s.Result == nil || s.Result.Trust() <= check.TheDay:
		case s.Old:
			return "the " + string(s.Kind) + " check is old: make it again"
		case !s.Until.IsZero() && (first.IsZero() || s.Until.Before(first)):
			first = s.Until
			words = "after " + s.Until.AddDate(0, 0, -1).Format("2 January 2006") + " (" + string(s.Kind) + " check)"
		}
	}
	return words
}
