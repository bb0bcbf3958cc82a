package head

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"seatproof/leak"
)

// MaskPlan is which masks tell the valves of a port apart with the fewest tests.
type MaskPlan struct {
	Mask    []string `json:"mask"`    // identities of the valves to mask next
	First   string   `json:"first"`   // the step that comes before any mask; "": a mask is next
	Again   bool     `json:"again"`   // that mask was on before: the test is a repeat
	Best    int      `json:"best"`    // tests it takes where it goes well
	Worst   int      `json:"worst"`   // where it does not: nine of ten take no more
	Settles bool     `json:"settles"` // false: nine of ten are not settled by Worst tests
}

// Of a plan: draws of the posterior that it thinks with, how many of them are
// played through as if they were the truth, how far ahead, and the least that a
// test is thought to be wrong by, as a part of the least limit.
const (
	planDraws = 120
	planTruth = 32
	planAhead = 5
	planFloor = 0.05
)

// planner thinks ahead with draws of the posterior: a test that may be made is
// thought made of a draw, and all draws are weighed anew by what it reads.
type planner struct {
	valves int
	draws  []apartDraw
	over   []valveChances
	open   [][]float64 // by mask (a bit a valve), of each draw: flow with it on [m³/s]
	log    [][]float64 // likewise ln(flow + floor)
	half   []float64   // of each draw: 1/(2 u²), u the sd of the logarithm of a reading
	root   []float64   // 1/u
	made   []int       // masks of the tests made
	limits []float64   // m³/s, of a seep
	told   bool        // every valve is told by all draws
	floor  float64     // m³/s
	wrong  float64     // chance of a wrong verdict that is accepted
	chance *rand.Rand
}

func newPlanner(p *Port, a *Apart, wrong float64) *planner {
	s := a.system
	n := len(p.Valves)
	pl := &planner{valves: n, open: make([][]float64, 1<<n), log: make([][]float64, 1<<n), wrong: wrong, chance: rand.New(rand.NewPCG(2, 8)), floor: math.Inf(1)}
	pl.told = true
	pl.limits = a.seeps
	for i, v := range a.Valves {
		pl.told = pl.told && (v.Over <= wrong || v.Over >= 1-wrong)
		if l := a.seeps[i]; l > 0 {
			pl.floor = math.Min(pl.floor, planFloor*l)
		}
	}
	every := max(1, len(a.draws)/planDraws)
	for d := 0; d < len(a.draws); d += every {
		pl.draws, pl.over = append(pl.draws, a.draws[d]), append(pl.over, a.over[d])
		u2 := a.draws[d].sigma*a.draws[d].sigma + 1e-3
		pl.half, pl.root = append(pl.half, 1/(2*u2)), append(pl.root, 1/math.Sqrt(u2))
	}
	for mask := range pl.open {
		pl.open[mask], pl.log[mask] = make([]float64, len(pl.draws)), make([]float64, len(pl.draws))
		for d, x := range pl.draws {
			for i, q := range x.x {
				if i >= n || mask>>i&1 == 0 {
					pl.open[mask][d] += q
				}
			}
			pl.log[mask][d] = math.Log(pl.open[mask][d] + pl.floor)
		}
	}
	for _, t := range s.tests {
		mask := 0
		for i := range n {
			if t.row[i] == 0 {
				mask |= 1 << i
			}
		}
		pl.made = append(pl.made, mask)
	}
	return pl
}

// weigh multiplies weights by how likely each draw makes a reading with a mask,
// and returns their sum.
func (p *planner) weigh(w, out []float64, mask int, read float64) float64 {
	sum := 0.0
	y := math.Log(read + p.floor)
	for d, q := range p.log[mask] {
		was := w[d] // out may be w
		out[d] = 0
		if z := y - q; was > 0 && z*z*p.half[d] < 40 {
			out[d] = was * math.Exp(-z*z*p.half[d]) * p.root[d]
			sum += out[d]
		}
	}
	return sum
}

// reading is what a test with a mask would read where draw d is the truth.
func (p *planner) reading(mask, d int, z float64) float64 {
	return p.open[mask][d] * math.Exp(p.draws[d].sigma*z)
}

// unsettled returns how much is not known of the valves: the mean over them of
// 4 p (1-p), and how many of them are neither below nor above their limit.
func (p *planner) unsettled(w []float64, sum float64) (doubt float64, left int) {
	for i := range p.valves {
		over := 0.0
		for d, x := range w {
			over += x * p.over[d][i]
		}
		over /= sum
		doubt += 4 * over * (1 - over) / float64(p.valves)
		if over > p.wrong && over < 1-p.wrong {
			left++
		}
	}
	return doubt, left
}

// masks returns those worth a thought, in the order of preference: not made yet,
// the fewest seats to grease, the first. Of valves that no test told apart so far,
// and whose limits are alike, the first ones are masked.
func (p *planner) masks(made []int) []int {
	alike := func(i, k int) bool {
		return p.limits[i] == p.limits[k] && !slices.ContainsFunc(made, func(m int) bool { return m>>i&1 != m>>k&1 })
	}
	var out []int
	for mask := range p.open {
		first := true
		for k := range p.valves {
			for i := range k {
				if mask>>k&1 == 1 && mask>>i&1 == 0 && alike(i, k) {
					first = false
				}
			}
		}
		if first {
			out = append(out, mask)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int {
		if x, y := slices.Contains(made, a), slices.Contains(made, b); x != y {
			return map[bool]int{true: 1, false: -1}[x]
		}
		return bits.OnesCount(uint(a)) - bits.OnesCount(uint(b))
	})
	return out
}

// next returns the mask whose test is expected to leave least in doubt: the first
// of [planner.masks] that wins nine tenths of what the best wins or more.
// hypotheses is how many draws are thought true in turn.
func (p *planner) next(w []float64, sum float64, made []int, hypotheses int) int {
	now, _ := p.unsettled(w, sum)
	truths := p.pick(w, sum, hypotheses)
	won := make([]float64, len(p.open))
	out := make([]float64, len(w))
	best := 0.0
	masks := p.masks(made)
	for _, mask := range masks {
		after := 0.0
		for k, d := range truths {
			z := spread7[k%len(spread7)]
			s := p.weigh(w, out, mask, p.reading(mask, d, z))
			if s > 0 {
				left, _ := p.unsettled(out, s)
				after += left / float64(len(truths))
			}
		}
		won[mask] = now - after
		best = math.Max(best, won[mask])
	}
	for _, mask := range masks {
		if won[mask] >= best-0.1*math.Abs(best) {
			return mask
		}
	}
	return 0
}

// spread7 are the middles of seven equal parts of a standard normal.
var spread7 = [...]float64{0, 1.465, -0.792, 0.366, -1.465, 0.792, -0.366}

// pick returns n draws, evenly through the weights.
func (p *planner) pick(w []float64, sum float64, n int) []int {
	out := make([]int, 0, n)
	acc, at := 0.0, 0
	for k := range n {
		to := sum * (float64(k) + 0.5) / float64(n)
		for acc+w[at] < to && at < len(w)-1 {
			acc += w[at]
			at++
		}
		out = append(out, at)
	}
	return out
}

// plan returns which mask is next and how many tests it takes; nil where every
// valve is settled.
func (p *planner) plan(port *Port) *MaskPlan {
	w := make([]float64, len(p.draws))
	for d := range w {
		w[d] = 1
	}
	sum := float64(len(w))
	if p.told {
		return nil
	}
	mask := p.next(w, sum, p.made, 2*planTruth)
	out := &MaskPlan{Again: slices.Contains(p.made, mask), Mask: []string{}}
	for i, id := range port.Valves {
		if mask>>i&1 == 1 {
			out.Mask = append(out.Mask, id)
		}
	}
	var took []int
	for _, d := range p.pick(w, sum, planTruth) {
		took = append(took, p.play(w, mask, d))
	}
	slices.Sort(took)
	out.Best, out.Worst = took[0], took[len(took)*9/10]
	out.Settles = out.Worst <= planAhead
	out.Best, out.Worst = min(out.Best, planAhead), min(out.Worst, planAhead)
	return out
}

// play makes test after test where draw d is the truth and returns how many it
// took, one more than are thought ahead where they did not do.
func (p *planner) play(w []float64, mask, d int) int {
	w = slices.Clone(w)
	made := slices.Clone(p.made)
	for n := 1; n <= planAhead; n++ {
		sum := p.weigh(w, w, mask, p.reading(mask, d, p.chance.NormFloat64()))
		if !(sum > 1e-200) { // read what no draw foresaw
			return planAhead + 1
		}
		if _, left := p.unsettled(w, sum); left == 0 {
			return n
		}
		made = append(made, mask)
		mask = p.next(w, sum, made, 7)
	}
	return planAhead + 1
}

// Words says how many tests a plan takes: "one more test may settle it, at worst
// three".
func (m *MaskPlan) Words() string {
	n := func(k int) string {
		if k < len(countWords) {
			return countWords[k]
		}
		return strconv.Itoa(k)
	}
	if m.Best == 0 {
		return ""
	}
	tests := n(m.Best) + " more " + plural(m.Best, "test", "tests")
	switch {
	case !m.Settles && m.Best >= planAhead:
		return "masks alone may not settle it: the leak lies near a limit"
	case !m.Settles:
		return tests + " may settle it; where a leak lies near its limit, masks alone do not"
	case m.Best == m.Worst:
		return tests + " " + plural(m.Best, "settles", "settle") + " it"
	}
	return tests + " may settle it, at worst " + n(m.Worst)
}

var countWords = []string{"no", "one", "two", "three", "four", "five", "six"}

// planApart makes the plan of a port with several valves that leaks or can't be
// told, where there is a leak rate to go by.
func (j *Job) planApart(w *portWork, scatter *leak.Scatter) {
	n := len(w.port.Valves)
	if n < 2 || n > 6 || w.card.Standing != Leaks && w.card.Standing != CantTellYet {
		return
	}
	base, ok := w.base()
	if !ok || base.wetted() {
		return
	}
	a := w.apart
	if a == nil {
		s := newApartSystem(w, base, scatter)
		if s == nil {
			return
		}
		a = j.takeApart(w.port, s, planDraws)
	}
	wrong := 0.05
	if j.Limit.Strict {
		wrong = 0.025
	}
	plan := keptOf(j.reckoned().kept, slices.Clone(a.told).words("plan").figures(wrong), func() *MaskPlan { return newPlanner(w.port, a, wrong).plan(w.port) })
	if plan == nil {
		return
	}
	own := *plan // whose first step is this card's
	a.Plan, w.apart = &own, a
}

// differs says whether tests with different masks or guides were made.
func (a *Apart) differs() bool { return a != nil && a.system.differ() }

// unmasked returns the first valve of a port that no mask was on yet, none where
// all were.
func (w *portWork) unmasked() []string {
	for _, id := range w.port.Valves {
		if !slices.ContainsFunc(w.masked, func(g *group) bool { return !slices.Contains(g.open, id) }) {
			return []string{id}
		}
	}
	return nil
}

// maskStep is the step that a plan asks for, or where it asks for none the first
// valve that was never masked; false where there is neither, or repeats of what
// was made will not do.
func (j *Job) maskStep(w *portWork, why string) (Step, bool) {
	var m *MaskPlan
	if w.apart != nil {
		m = w.apart.Plan
	}
	if m == nil || len(m.Mask) == 0 {
		m = &MaskPlan{Mask: w.unmasked()}
	}
	if len(m.Mask) == 0 || m.Again && !m.Settles && w.unmasked() == nil {
		return Step{}, false
	}
	w.mask = m.Mask
	names := j.maskNames(w.port, m.Mask)
	reason := why
	if words := m.Words(); words != "" {
		reason += " By what was tested " + words + "."
	}
	if m.Again {
		return Step{OneMoreTest + ", with " + names + " masked", reason}, true
	}
	left := "what is left is the other's."
	switch {
	case len(m.Mask) == len(w.port.Valves):
		left = "what is left comes by " + otherOpenings + "."
	case len(w.port.Valves) > len(m.Mask)+1:
		left = "what is left is the others'."
	}
	reason += " Grease " + plural(len(m.Mask), "that seat", "those seats") + " all round: " + left
	return Step{"mask " + names + ", then test again", reason}, true
}

// maskNames names the seats to mask: "the left valve", "both valves", "the left
// and the right valve".
func (j *Job) maskNames(p *Port, mask []string) string {
	if len(mask) == len(p.Valves) && len(mask) > 1 {
		return plural(len(mask)-1, "both valves", "all "+strconv.Itoa(len(mask))+" valves")
	}
	words := make([]string, len(mask))
	for i, id := range mask {
		words[i] = "the " + j.valveOf(p, id)
	}
	return and(words)
}

// MaskWords says which valves of a port were masked: "left valve masked", "both
// valves masked"; "" for none.
func (j *Job) MaskWords(port string, masked []string) string {
	p := j.port(port)
	switch {
	case len(masked) == 0:
		return ""
	case p == nil:
		return strconv.Itoa(len(masked)) + " " + plural(len(masked), "valve", "valves") + " masked"
	}
	return strings.ReplaceAll(j.maskNames(p, masked), "the ", "") + " masked"
}
