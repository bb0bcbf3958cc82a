package head

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"seatproof/leak"
	"seatproof/num"
)

// apartSystem is what tests of one port, with different masks and guides, ask of
// its openings: of test t the sum of those that were open,
//
//	true flow = (sum of row[j] x[j]) exp(sigma_b z),  read = true flow exp(f) + b + own error
//
// z of its own, f (volume, gain) and b (rig leak) those of all tests. The unknowns
// are each valve's seat, what is left, and, where tests were made both ways, the
// guides together.
type apartSystem struct {
	tests       []apartTest
	told        []apartTold // of which tests tell how they flow
	n           int         // unknowns: valves, then rest, then guides
	rest, guide int         // which they are; guide < 0: not parted from the rest
	sigma       []float64
	prior       []float64 // of each sigma_b
	room, temp  float64   // Pa, K, of the tests
	factor      float64   // sd of f
}

// apartTest is one test of it.
type apartTest struct {
	id  string
	row []float64 // 1 for an opening that was open, 0 for one sealed off
	e   leak.Errors
}

// newApartSystem gathers the tests of a port that are like base in all but mask
// and guide; nil where none has a leak rate.
func newApartSystem(w *portWork, base like, scatter *leak.Scatter) *apartSystem {
	s := &apartSystem{rest: len(w.port.Valves), guide: -1, n: len(w.port.Valves) + 1}
	var of []*Tested
	var told []*group
	closed, open := false, false
	for i := range w.groups {
		g := &w.groups[i]
		k := g.like
		k.masked = base.masked
		if k.guide == GuideClosed {
			k.guide = base.guide
		}
		if k != base {
			continue
		}
		if ShareOf(g.reading) != nil {
			told = append(told, g)
		}
		read, _ := g.seenTo()
		for _, t := range read {
			if t.answers() && t.Reading.Leak != nil {
				of = append(of, t)
				closed = closed || g.like.guide == GuideClosed
				open = open || g.like.guide != GuideClosed
			}
		}
	}
	if closed && open {
		s.guide = s.n
		s.n++
	}
	slices.SortStableFunc(of, func(a, b *Tested) int { return int(a.At - b.At) })
	readings := make([]*leak.Reading, len(of))
	for i, t := range of {
		readings[i] = t.Reading
	}
	errors, known := leak.ErrorsOf(readings)
	for i, t := range of {
		if !known[i] {
			continue
		}
		row := s.rowOf(w.port, t.Conditions.Masked, t.Conditions.Guide == GuideClosed)
		s.tests = append(s.tests, apartTest{t.ID, row, errors[i]})
		s.factor = math.Max(s.factor, errors[i].Factor)
		s.room, s.temp = t.Reading.Room, t.Reading.RoomTemp
	}
	if len(s.tests) == 0 {
		return nil
	}
	for _, g := range told {
		row := s.rowOf(w.port, strings.Fields(g.like.masked), g.like.guide == GuideClosed)
		s.told = append(s.told, apartTold{row, math.Min(1, math.Max(0, *ShareOf(g.reading)))})
	}
	s.sigma, s.prior = scatter.Nodes()
	return s
}

// rowOf says which openings a test leaves open.
func (s *apartSystem) rowOf(p *Port, masked []string, guideClosed bool) []float64 {
	row := make([]float64, s.n)
	for i, id := range p.Valves {
		if !slices.Contains(masked, id) {
			row[i] = 1
		}
	}
	row[s.rest] = 1
	if s.guide >= 0 && !guideClosed {
		row[s.guide] = 1
	}
	return row
}

// differ says whether any two tests left different openings open.
func (s *apartSystem) differ() bool {
	return slices.ContainsFunc(s.tests, func(t apartTest) bool { return !slices.Equal(t.row, s.tests[0].row) })
}

// determined says which unknowns the tests tell from all others: those whose unit
// row the rows of the tests can make.
func (s *apartSystem) determined() []bool {
	var basis [][]float64 // rows in echelon form, and where each leads
	var lead []int
	reduce := func(r []float64) []float64 {
		r = slices.Clone(r)
		for k, b := range basis {
			if f := r[lead[k]] / b[lead[k]]; f != 0 {
				for i := range r {
					r[i] -= f * b[i]
				}
			}
		}
		return r
	}
	leads := func(r []float64) int {
		return slices.IndexFunc(r, func(x float64) bool { return math.Abs(x) > 1e-9 })
	}
	for _, t := range s.tests {
		r := reduce(t.row)
		if at := leads(r); at >= 0 {
			basis, lead = append(basis, r), append(lead, at)
		}
	}
	out := make([]bool, s.n)
	for j := range out {
		unit := make([]float64, s.n)
		unit[j] = 1
		out[j] = leads(reduce(unit)) < 0
	}
	return out
}

// usualSigma is the scatter between tests that weights go by.
const usualSigma = 0.3

// solve returns the weighted least squares, none below zero, and whether the tests
// are off it by more than they scatter (1 % of chi-square).
func (s *apartSystem) solve() (x []float64, clash bool) {
	rows := len(s.tests)
	a, b, w := make([]float64, 0, rows*s.n), make([]float64, rows), make([]float64, rows)
	for i, t := range s.tests {
		a, b[i] = append(a, t.row...), t.e.Mean
	}
	fitted := func(i int) float64 { return math.Max(b[i], dotted(s.tests[i].row, x)) }
	x = make([]float64, s.n)
	rss := 0.0
	for range 3 { // the scatter goes with what a test should read
		for i, t := range s.tests {
			u := math.Hypot(math.Hypot(t.e.Own, t.e.Added), usualSigma*math.Max(0, fitted(i)))
			w[i] = 1 / (u * u)
		}
		r, err := num.NNLS(a, s.n, b, w)
		if err != nil { // figures that are not finite: leak gives none
			return x, false
		}
		x, rss = r.X, r.RSS
	}
	free := rows - s.rank()
	if free < 1 {
		return x, false
	}
	far, err := num.ChiSquareQuantile(0.99, float64(free))
	return x, err == nil && rss > far
}

// rank is how many independent rows the tests have.
func (s *apartSystem) rank() int {
	var kinds [][]float64
	for _, t := range s.tests {
		if !slices.ContainsFunc(kinds, func(r []float64) bool { return slices.Equal(r, t.row) }) {
			kinds = append(kinds, t.row)
		}
	}
	return min(len(kinds), s.n)
}

func dotted(row, x []float64) float64 {
	sum := 0.0
	for i, r := range row {
		sum += r * x[i]
	}
	return sum
}

// apartDraw is one draw of the posterior: the openings as read [m³/s], times
// factor as they are; sigma_b.
type apartDraw struct {
	x      []float64
	sigma  float64
	factor float64
}

// How long the chain is: kept draws, steps between two of them, steps before the
// first. With 600 an end of an interval is known to some 0.6 % of chance.
const (
	apartKept = 600
	apartThin = 2
	apartWarm = 200
)

// draw draws from the posterior cut at zero, kept times: x by slices along its axes, along
// exchanges between two openings, and along all together; the added common error b
// by a slice, sigma_b by steps among its nodes. The prior of x is that of a whole
// of which nothing is known, parted in any way as likely:
//
//	p(x) ~ (sum x)^(-n) product (x_j/sum x)^(a-1)
//
// flat for a = 1; a below 1 says that most often few of several leak.
// Source: R. M. Neal, Slice sampling, Annals of Statistics 31 (2003) 705.
func (s *apartSystem) draw(start []float64, kept int) []apartDraw {
	thin := max(apartThin, apartKept*apartThin/kept/2) // few draws are to be further apart
	c := &chain{s: s, x: slices.Clone(start), node: len(s.sigma) / 2, chance: rand.New(rand.NewPCG(1, 8))}
	c.begin()
	out := make([]apartDraw, 0, kept)
	for i := range apartWarm + kept*thin {
		c.step()
		if i >= apartWarm && (i-apartWarm)%thin == 0 {
			f := math.Exp(-s.factor * c.chance.NormFloat64())
			out = append(out, apartDraw{slices.Clone(c.x), s.sigma[c.node], f})
		}
	}
	return out
}
