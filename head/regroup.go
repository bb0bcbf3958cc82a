package head

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// workRegrouped stands for the day on which the valves of a port were grouped
// otherwise. Nobody logs it: [Port.Since] says it.
const workRegrouped WorkKind = "regrouped"

// Regrouped notes at [Port.Since] the time [ms since 1970 UTC] at each port that
// feeds other valves than it did: what was tested before was another port, so its
// verdict lapses. A port with a new name, other openings or another volume is the
// same port, and its tests stay.
func (j *Job) Regrouped(was *Job, at int64) {
	for i := range j.Ports {
		p := &j.Ports[i]
		if o := was.port(p.ID); o != nil && !sameValves(o.Valves, p.Valves) {
			p.Since = at
		}
	}
}

func sameValves(a, b []string) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(a, b)
}

// regrouped returns the work that a port's [Port.Since] stands for, nil for none.
func (p *Port) regrouped() *Work {
	if p.Since <= 0 {
		return nil
	}
	return &Work{Valves: p.Valves, At: p.Since, Kind: workRegrouped}
}

// Order puts ports and valves in the order of the cylinders, intake first, as
// they lie beside each other.
func (j *Job) Order() {
	at := j.Engine.cylinders()
	rank := func(cylinder int, side Side, place string) int {
		return slices.Index(at, cylinder)*100 + sideIndex(side)*10 + placeRank(place)
	}
	slices.SortStableFunc(j.Ports, func(a, b Port) int {
		return cmp.Compare(rank(first(a.Cylinders), a.Side, a.Part), rank(first(b.Cylinders), b.Side, b.Part))
	})
	slices.SortStableFunc(j.Valves, func(a, b Valve) int {
		return cmp.Compare(rank(a.Cylinder, a.Side, a.Place), rank(b.Cylinder, b.Side, b.Place))
	})
}

// FreeID returns the first identity "p7" that none of the jobs has for a port or
// valve. With all revisions of a head none comes back: what was once said of a
// valve that is gone is never said of another.
func FreeID(letter string, jobs ...Job) string {
	most := 0
	see := func(id string) {
		if n, err := strconv.Atoi(strings.TrimPrefix(id, letter)); err == nil && strings.HasPrefix(id, letter) {
			most = max(most, n)
		}
	}
	for _, j := range jobs {
		for _, p := range j.Ports {
			see(p.ID)
		}
		for _, v := range j.Valves {
			see(v.ID)
		}
	}
	return letter + strconv.Itoa(most+1)
}
