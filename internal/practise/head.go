package practise

import (
	"math"
	"math/rand/v2"

	"seatproof/head"
)

// HeadOf invents how the seats of a head are: a third tight, a third middling, a
// third in need of work, ports of some 60 to 140 cm³ by the valves they feed.
// Each leak is a seep, an opening or both. It follows from the seed.
func HeadOf(j *head.Job, seed uint64) []Port {
	r := rand.New(rand.NewPCG(seed, 0x4ead))
	var ports []Port
	for i := range j.Ports {
		p := &j.Ports[i]
		port := Port{ID: p.ID, Volume: 70e-6 * math.Exp(0.2*r.NormFloat64()) * math.Sqrt(float64(max(1, len(p.Valves))))}
		// 3 to 9, 9 to 30 and 30 to 200 cm³/min for all valves of the port
		levels := [][2]float64{{3, 9}, {9, 30}, {30, 200}}
		l := levels[r.IntN(len(levels))]
		left := l[0] * math.Pow(l[1]/l[0], r.Float64()) * cm3min
		for k, id := range p.Valves {
			part := left
			if k < len(p.Valves)-1 {
				part *= 0.2 + 0.6*r.Float64()
			}
			left -= part
			v := Valve{ID: id, Leak: part, Share: []float64{0, 0.5, 1}[r.IntN(3)], Head: 25e-3}
			for m := range j.Valves {
				if j.Valves[m].ID == id {
					d, _ := j.HeadOr(&j.Valves[m])
					v.Head = d.Value
				}
			}
			port.Valves = append(port.Valves, v)
		}
		ports = append(ports, port)
	}
	return ports
}
