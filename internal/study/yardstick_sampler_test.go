package study

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strconv"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

func parse9(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 9, 64), 64)
	if err != nil {
		return math.NaN()
	}
	return r
}

// A thin bent target with known answers: coordinates N(0,1) but for the total,
// which is held to a quadratic of edge and slip within 0.002, and the edge,
// which is pulled to two places of unequal weight. So edge is 0.25 N(-2, .3²) +
// 0.75 N(1.5, .3²) exactly, and the total's mean follows from its moments.
func TestSamplerOnABentTarget(t *testing.T) {
	if testing.Short() {
		t.Skip("takes three seconds; runs in the full test")
	}
	d := coordinates - 1
	bend := func(x []float64) float64 { return 0.5*x[atEdge]*x[atEdge] - 0.7*x[atEdge]*x[atSlip] + 0.2*x[atBow] }
	normal := func(x, m, s float64) float64 { return math.Exp(-(x-m)*(x-m)/(2*s*s)) / s }
	tg := &target{d: d, normal: make([]bool, d)}
	for k := range tg.normal {
		tg.normal[k] = k != atTotal
	}
	tg.feature = func(dst []float64, k int, x []float64) []float64 { return append(dst, x[k]) }
	tg.draw = func(r *rand.Rand, x []float64) {
		for k := range x {
			x[k] = r.NormFloat64()
		}
	}
	tg.reference = func(x []float64) float64 {
		s := 0.0
		for _, v := range x {
			s += v * v
		}
		return -s / 2
	}
	tg.ratio = func(x []float64) float64 {
		u := (x[atTotal] - bend(x)) / 0.002
		return -u*u/2 + x[atTotal]*x[atTotal]/2 +
			math.Log(0.25*normal(x[atEdge], -2, 0.3)+0.75*normal(x[atEdge], 1.5, 0.3)+1e-300) + x[atEdge]*x[atEdge]/2
	}
	s := newSampler(tg, rand.New(rand.NewPCG(1, 2)))
	o := BruteOptions{Effective: 8000, Calls: 250_000}.filled()
	ps, _ := s.anneal(o.Population, o.Sweeps)
	s.teach(ps, o)
	out, _ := s.chains(ps, o)
	var total, n float64
	flow := make([][]float64, len(out))
	for c, ds := range out {
		for _, x := range ds {
			total += x.total
			n++
			flow[c] = append(flow[c], x.total)
		}
	}
	// E[edge²] = 0.25 (4 + 0.09) + 0.75 (2.25 + 0.09) = 2.7775; half of it is
	// the total's mean
	want := 2.7775 / 2
	ess := effectiveSize(flow)
	t.Logf("mean %.4f, want %.4f; draws %.0f, R-hat %.4f, calls %d, taken %v of %v", total/n, want, ess, splitRHat(flow), s.calls, s.taken, s.tried)
	// sd of the total is below 1.8: four standard errors
	if got := total / n; math.Abs(got-want) > 4*1.8/math.Sqrt(math.Max(ess, 100)) {
		t.Errorf("mean of the total got %.4f, want %.4f", got, want)
	}
	if r := splitRHat(flow); r > 1.02 {
		t.Errorf("R-hat got %.4f, want under 1.02", r)
	}
	if ess < 500 {
		t.Errorf("effective draws got %.0f, want at least 500 of %d", ess, s.calls)
	}
}

// An autoregressive chain of coefficient a is worth n (1-a)/(1+a) draws.
func TestEffectiveSizeOfAnAutoregression(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, a := range []float64{0, 0.5, 0.9} {
		var cs [][]float64
		const n, m = 20000, 4
		for range m {
			x := r.NormFloat64()
			var c []float64
			for range n {
				x = a*x + math.Sqrt(1-a*a)*r.NormFloat64()
				c = append(c, x)
			}
			cs = append(cs, c)
		}
		want := n * m * (1 - a) / (1 + a)
		if got := effectiveSize(cs); math.Abs(got/want-1) > 0.1 {
			t.Errorf("a = %g: effective size got %.0f, want %.0f within 10 %%", a, got, want)
		}
		if got := splitRHat(cs); got > 1.005 {
			t.Errorf("a = %g: R-hat got %.4f, want near 1", a, got)
		}
		if got := tailSize(cs); got < want/2 || got > n*m*1.1 {
			t.Errorf("a = %g: tails got %.0f draws, want between %.0f and %d", a, got, want/2, n*m)
		}
		for i := range cs[0] {
			cs[0][i] += 1 // one chain elsewhere
		}
		// between-chain variance of means 1/4·(1-1/4)·8/7 over 8 halves: R-hat² ≈ 1 + 0.214
		if got := splitRHat(cs); math.Abs(got-math.Sqrt(1+0.1875*8/7)) > 0.02 {
			t.Errorf("a = %g: R-hat of a strayed chain got %.4f, want near 1.10", a, got)
		}
	}
}

func TestWarpIsInvertible(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	feature := func(dst []float64, k int, x []float64) []float64 {
		if k == atTauVapour {
			return dst
		}
		return append(dst, math.Tanh(x[k]))
	}
	for _, d := range []int{coordinates, coordinates - 1} {
		var points [][]float64
		for range 600 {
			x := make([]float64, d)
			for k := range x {
				x[k] = r.NormFloat64()
			}
			x[atTotal] = x[atEdge]*x[atSlip] + 0.01*x[atTotal]
			points = append(points, x)
		}
		w := newWarp(d, feature)
		w.learn(points, 600)
		rest, back := make([]float64, d), make([]float64, d)
		scatter := 0.0
		for _, x := range points {
			w.rests(x, rest)
			w.points(rest, back)
			for k := range x {
				if math.Abs(back[k]-x[k]) > 1e-10 {
					t.Fatalf("%d coordinates: %d got %g back, want %g", d, k, back[k], x[k])
				}
			}
			scatter += rest[atTotal] * rest[atTotal] / 600
		}
		// edge times slip has sd 1; half of the bend at least is straightened
		if scatter > 0.5 {
			t.Errorf("%d coordinates: rest of the total has variance %.3f, want well under 1", d, scatter)
		}
	}
}

// The density a mixture says it has is the one it draws by: the mean over its
// draws of another density over it is 1.
func TestMixtureDensity(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var points [][]float64
	for i := range 4000 {
		x := []float64{r.NormFloat64(), r.NormFloat64()}
		if i%3 == 0 {
			x[0] = 4 + 0.3*x[0]
		}
		points = append(points, x)
	}
	m := fitMixture(r, points, 3, 20)
	sum, n := 0.0, 200000
	x := make([]float64, 2)
	for range n {
		m.draw(r, x)
		// N(1, 1) twice over; the mixture's log leaves out 2 pi, as this does
		u, v := x[0]-1, x[1]-1
		sum += math.Exp(-(u*u+v*v)/2 - m.log(x))
	}
	if got := sum / float64(n); math.Abs(got-1) > 0.03 {
		t.Errorf("integral got %.4f, want 1", got)
	}
}

// The weights of a step of ETDRK4 against their closed forms in 200 bits,
// where nothing cancels (Cox and Matthews 2002, eqs. 26-29).
func TestETDRK4Weights(t *testing.T) {
	for _, z := range []float64{-1e-4, -0.01, -0.3, -0.999, -1.001, -5, -80} {
		const bits = 400
		b := func(v float64) *big.Float { return new(big.Float).SetPrec(bits).SetFloat64(v) }
		zb := b(z)
		e, term := b(1), b(1)
		for k := 1; k < 400; k++ {
			term = new(big.Float).Quo(new(big.Float).Mul(term, zb), b(float64(k)))
			e = new(big.Float).Add(e, term)
		}
		mul := func(x, y *big.Float) *big.Float { return new(big.Float).SetPrec(bits).Mul(x, y) }
		add := func(xs ...*big.Float) *big.Float {
			s := b(0)
			for _, x := range xs {
				s.Add(s, x)
			}
			return s
		}
		z2 := mul(zb, zb)
		z3 := mul(z2, zb)
		over := func(x *big.Float) float64 {
			f, _ := new(big.Float).SetPrec(bits).Quo(x, z3).Float64()
			return f
		}
		want := [3]float64{
			over(add(b(-4), mul(b(-1), zb), mul(e, add(b(4), mul(b(-3), zb), z2)))),
			over(add(b(2), zb, mul(e, add(b(-2), zb)))),
			over(add(b(-4), mul(b(-3), zb), mul(b(-1), z2), mul(e, add(b(4), mul(b(-1), zb))))),
		}
		f1, f2, f3 := etdrk4(z)
		for i, got := range []float64{f1, f2, f3} {
			if math.Abs(got/want[i]-1) > 1e-10 {
				t.Errorf("z = %g: weight %d got %.14g, want %.14g", z, i+1, got, want[i])
			}
		}
	}
}

// The chances of all steps of the gauge add up to 1, and a level behind
// quantised samples is found where their mean is biased.
func TestChanceOfAQuantisedSample(t *testing.T) {
	for _, noise := range []float64{15, 25, 40} {
		c := newChanceTable(noise, 100)
		if !c.quantised {
			t.Fatalf("noise %g of step 100: not taken as quantised", noise)
		}
		for _, at := range []float64{0, 20, 49} {
			sum := 0.0
			for k := -5.0; k <= 5; k++ {
				sum += math.Exp(c.log(100*k - at))
			}
			if math.Abs(sum-1) > 2e-3 {
				t.Errorf("noise %g: chances at %g Pa add up to %.5f, want 1", noise, at, sum)
			}
		}
		r := rand.New(rand.NewPCG(2, 3))
		var samples []float64
		for range 2000 {
			samples = append(samples, 100*math.Round((30+noise*r.NormFloat64())/100))
		}
		got := levelOf(samples, c)
		if math.Abs(got.mean-30) > 4*got.sd+0.3 {
			t.Errorf("noise %g: level got %.2f ± %.2f Pa, want 30", noise, got.mean, got.sd)
		}
	}
}

// A flat prior of the flow tilts the volume's: with total and rig leak over
// volume known, q = V (total - rho); averaged over the rig leak the volume's
// density is its prior times V, so its mean is E[V²]/E[V], the formula worked
// out for a lognormal in the test.
func TestVolumeIsTiltedByAFlatFlow(t *testing.T) {
	truth, g, tr := exactly(t, 100)
	g.Volume.Spread, g.Port.Volume.Spread = 0, 0
	g.Port.Volume = unit.About(90e-6, 0.2*1.96*90e-6)
	g.Volume = unit.About(1e-12, 0)
	g.RigLeak = unit.About(0.8*cm3min, 0.15*1.96*cm3min)
	rec, err := recordingOf(truth, tr, 2)
	if err != nil {
		t.Fatal(err)
	}
	b, err := newBelief(&g, rec, 2, true)
	if err != nil {
		t.Fatal(err)
	}
	var s0, s1 float64
	mid := b.rigMean / b.volume
	for i := range 4000 {
		rho := mid * 4 * float64(i) / 4000
		at := (rho*b.volume - b.rigMean) / b.rigSD
		prior := math.Exp(-at * at / 2) // the rig leak's at the median volume
		for _, p := range b.points {
			w := prior * p.weight * b.tilt(p.volume, rho)
			s0 += w
			s1 += w * p.volume
		}
	}
	// lognormal, median 90 cm³, sd of the log 0.2: E[V²]/E[V] = 90 exp(1.5·0.04)
	if got, want := s1/s0, 90e-6*math.Exp(1.5*0.04); math.Abs(got/want-1) > 0.002 {
		t.Errorf("mean volume got %.4g m³, want %.4g", got, want)
	}
}

// The priors of docs/model.md, 4.5, at their quantiles.
func TestYardstickPriors(t *testing.T) {
	truth, g, tr := exactly(t, 100)
	g.Gauge.Response.Known = false
	rec, err := recordingOf(truth, tr, 2)
	if err != nil {
		t.Fatal(err)
	}
	b, err := newBelief(&g, rec, 2, true)
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, coordinates)
	x[atTotal] = math.Log(100 * cm3min / 150e-6)
	at := func(k int, z float64) figures {
		y := append([]float64(nil), x...)
		y[k] = z
		var f figures
		if !b.figures(y, &f) {
			t.Fatalf("coordinate %d at %g: not possible", k, z)
		}
		return f
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"tau low", at(atTau, -z95).tau, 0.05},
		{"tau high", at(atTau, z95).tau, 2},
		// half: none; two thirds of the half-normal, the chance within one sd
		{"vapour", at(atVapour, normalQuantile(0.5+0.6826894921/2)).vapour, 100},
		{"conduction, three quarters", at(atMix, normalQuantile(0.75)).mix, 0.5},
		{"lag low", at(atLag, -9).lag, 0.02},
		{"lag middle", at(atLag, 0).lag, 0.1},
		{"share at a sixth", at(atShare, normalQuantile(1.0/6)).share, 0.0025 / 1.005},
		{"share middle", at(atShare, 0).share, 0.5},
		{"share high", at(atShare, 9).share, 1},
		{"vapour's time constant, middle", at(atTauVapour, 0).tauVapour, math.Sqrt(60)},
		{"shut-off", at(atShut, 9).late, 2 * rec.interval},
		{"load, three quarters", at(atLoad, normalQuantile(0.75)).load, 0.25},
		{"load, most", at(atLoad, 9).load, 0.5},
		// pressure times area, by hand: 50 kPa on 5.7256 cm² of head, spring and weight
		{"force on the valve", at(atLoad, 0).press.of(50e3), 28.627763 + 250 + 0.6},
	} {
		if math.Abs(c.got/c.want-1) > 1e-6 {
			t.Errorf("%s: got %.8g, want %.8g", c.name, c.got, c.want)
		}
	}
	g.Port.HeadTemperature.Known = false
	if b, err = newBelief(&g, rec, 2, false); err != nil {
		t.Fatal(err)
	}
	if got, want := at(atWall, z95).wall, 1+0.6*8/293.15; math.Abs(got-want) > 1e-9 {
		t.Errorf("head not stated, 95 %%: got %.8f of the room's temperature, want %.8f", got, want)
	}
	// dry stated, but loosely: of those with any, nine tenths are half-normal of
	// 100 Pa and one of 1.5 kPa
	for _, a := range []float64{10, 100, 240, 400, 1500, 4000} {
		under := 0.9*math.Erf(a/(100*math.Sqrt2)) + 0.1*math.Erf(a/(1500*math.Sqrt2))
		if got := b.vapour(normalQuantile((1 + under) / 2)); math.Abs(got-a) > 1e-3*a {
			t.Errorf("vapour at the chance of under %g Pa: got %g", a, got)
		}
	}
	g.Port.WetWith = rig.WetNotSaid
	if b, err = newBelief(&g, rec, 2, true); err != nil {
		t.Fatal(err)
	}
	if got := b.vapour(normalQuantile(0.75)); math.Abs(got-1150) > 1e-6 {
		t.Errorf("vapour, not said to be dry, three quarters: got %g Pa, want 1150", got)
	}
	if got := b.tauVapour(0); math.Abs(got-math.Sqrt(300)) > 1e-9 {
		t.Errorf("its time constant, middle: got %g s, want the root of 300", got)
	}
	if got := at(atVapour, -0.1); got.vapour != 0 || at(atMix, -0.1).mix != 0 || at(atLoad, -0.1).load != 0 {
		t.Errorf("lower half: got vapour %g Pa, conduction %g and load %g, want none", got.vapour, at(atMix, -0.1).mix, at(atLoad, -0.1).load)
	}
}
