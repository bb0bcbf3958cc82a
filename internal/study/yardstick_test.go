package study

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Two runs that share nothing but the trace must tell the same: the width to
// 3 % and the median to a tenth of a width. [Agree] does this for many.
func TestYardstickAgreesWithItself(t *testing.T) {
	if testing.Short() {
		t.Skip("takes ten seconds; runs in the full test")
	}
	o := BruteOptions{Population: 500, Sweeps: 4, Effective: 3000, Calls: 140_000}
	a := Agree(1, 77, Family{Rate: 20}, Bins[:1], o)[0]
	if a.Err != nil {
		t.Fatal(a.Err)
	}
	t.Logf("truth %.4g cm³/min; %.4g [%.4g, %.4g] and %.4g [%.4g, %.4g]; R-hat %.4f %.4f, draws %.0f %.0f, calls %d",
		a.Truth.Flow/cm3min, a.One.Median/cm3min, a.One.Low/cm3min, a.One.High/cm3min,
		a.Two.Median/cm3min, a.Two.Low/cm3min, a.Two.High/cm3min, a.One.RHat, a.Two.RHat, a.One.Effective, a.Two.Effective, a.One.Calls)
	if d := a.WidthDiffers(); d > 0.03 {
		t.Errorf("widths differ by %.1f %%, want at most 3 %%", 100*d)
	}
	if d := a.MedianDiffers(); d > 0.1 {
		t.Errorf("medians differ by %.3f of a width, want at most 0.1", d)
	}
	if !a.One.Converged || !a.Two.Converged {
		t.Errorf("not converged: %+v, %+v", a.One, a.Two)
	}
}

// exactly draws a trace of a rig without doubts, and noise of a pascal. What
// is left unknown (tau, law) the samples tell.
func exactly(t *testing.T, flow float64) (Truth, rig.Rig, *trace.Trace) {
	t.Helper()
	g := rig.Rig{
		Volume:  unit.Exactly(60e-6),
		RigLeak: unit.Exactly(0.8 * cm3min),
		Port:    rig.Port{Volume: unit.Exactly(90e-6), WetWith: rig.WetNothing, Held: rig.HeldOwnSpring, HeadTemperature: unit.Exactly(293.15)},
		Pump:    rig.Pump{FreeFlow: unit.Exactly(15e-3 / 60), Blanked: unit.Exactly(75e3)},
		Gauge: rig.Gauge{
			Span: rig.Span{High: 100e3, Known: true}, Accuracy: unit.Exactly(1e-6), Resolution: 0.1, Response: unit.Exactly(0.05),
		},
		Air: rig.Air{Pressure: unit.Exactly(100e3), Temperature: unit.Exactly(293.15)},
	}
	truth := Truth{
		Flow: flow * cm3min, Share: 0, Volume: 150e-6, Tau: 0.3, Lag: 0.05, Pressure: 100e3, Noise: 1, Step: 0.1,
		Rate: 20, RigLeak: 0.8 * cm3min, Hold: 25, Wall: 293.15, Air: 293.15, Contact: 1.2e-3,
	}
	tr, err := truth.simulate(rand.New(rand.NewPCG(5, 6)), &g, Family{})
	if err != nil {
		t.Fatal(err)
	}
	return truth, g, tr
}

// With everything stated and hardly any noise the truth comes back, closely.
func TestYardstickFindsTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("takes five seconds; runs in the full test")
	}
	truth, g, tr := exactly(t, 150)
	y, err := Brute(truth, g, tr, BruteOptions{Seed: 3, Population: 500, Sweeps: 4, Effective: 400, Calls: 150_000})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("truth %.3f cm³/min, got %.3f [%.3f, %.3f], share %.4f [%.4f, %.4f], tau %.3f s; R-hat %.3f, draws %.0f, calls %d, stages %d, taken %.2f, noise %.2f Pa, chi² %.2f",
		truth.Flow/cm3min, y.Median/cm3min, y.Low/cm3min, y.High/cm3min, y.Share.Median, y.Share.Low, y.Share.High, y.Tau,
		y.RHat, y.Effective, y.Calls, y.Stages, y.Taken, y.Noise, y.ChiSquare)
	if d := y.Median/truth.Flow - 1; math.Abs(d) > 0.002 {
		t.Errorf("median off by %.3f %%, want at most 0.2 %%", 100*d)
	}
	if w := (y.High - y.Low) / truth.Flow; w > 0.01 {
		t.Errorf("width got %.2f %% of the truth, want at most 1 %%", 100*w)
	}
	// a little air over the edges: 95 % interval, one trace
	if slack := 0.25 * (y.High - y.Low); truth.Flow < y.Low-slack || truth.Flow > y.High+slack {
		t.Errorf("interval got [%g, %g], truth %g m³/s", y.Low, y.High, truth.Flow)
	}
	if y.Share.Median > 0.03 {
		t.Errorf("share got %.3f, want near 0", y.Share.Median)
	}
	if math.Abs(y.Noise-1) > 0.15 {
		t.Errorf("noise got %.3f Pa, want near 1", y.Noise)
	}
}

// What the yardstick cannot do without is named.
func TestYardstickNeedsStatedFigures(t *testing.T) {
	truth, g, tr := exactly(t, 20)
	short := *tr
	short.Time, short.Value = tr.Time[:10], tr.Value[:10]
	late := truth
	late.ShutOff = tr.Time[tr.Len()-1] + 5
	missing := g
	missing.RigLeak = unit.Measured{}
	for _, c := range []struct {
		name  string
		truth Truth
		rig   rig.Rig
		tr    *trace.Trace
		want  string
	}{
		{"no rig leak", truth, missing, tr, "no rig leak"},
		{"ten samples", truth, g, &short, "at least 20"},
		{"shut off past the end", late, g, tr, "held samples"},
	} {
		_, err := Brute(c.truth, c.rig, c.tr, BruteOptions{Calls: 1000})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error got %v, want one with %q", c.name, err, c.want)
		}
	}
}

// A comparison that was stopped goes on: what the file holds is not computed
// again, half a line does no harm, and the estimator is asked each time.
func TestComparisonGoesOn(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pairs.csv")
	var computed atomic.Int32
	c := Comparison{
		Family: Family{Rate: 12}, Bins: [][2]float64{{200, 2000}}, File: file,
		brute: func(t Truth, _ rig.Rig, _ *trace.Trace, o BruteOptions) (Yardstick, error) {
			computed.Add(1)
			// odd figures, so that digits lost on the way show
			y := Yardstick{Median: t.Flow * math.Pi, Low: t.Flow / 3, High: t.Flow * 7, Upper: t.Flow * 6, RHat: 1.001, Effective: 1234.5, Calls: int(o.Seed % 1000), Converged: true}
			y.Share.Median, y.Share.Low, y.Share.High = 0.5, 0.1, 0.9
			return y, nil
		},
	}
	var asked atomic.Int32
	read := func(*trace.Trace, rig.Rig) (float64, float64, float64, bool) {
		asked.Add(1)
		return 3, 1, 6, true
	}
	first, err := c.Run(1, 9, read)
	if err != nil || first[0].Err != nil {
		t.Fatal(err, first[0].Err)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	half := append(text, []byte(string(text[len(text)-60:len(text)-20]))...)
	if err := os.WriteFile(file, half, 0o644); err != nil {
		t.Fatal(err)
	}
	second, err := c.Run(5, 9, read)
	if err != nil || second[4].Err != nil {
		t.Fatal(err, second[4].Err)
	}
	third, err := c.Run(5, 9, read)
	if err != nil {
		t.Fatal(err)
	}
	if asked.Load() != 11 || computed.Load() != 5 {
		t.Errorf("estimator asked %d times and %d yardsticks computed, want 11 and 5", asked.Load(), computed.Load())
	}
	for i, p := range third {
		if p.Brute != rounded(second[i].Brute) {
			t.Errorf("trace %d: got %+v from the file, want %+v", i, p.Brute, second[i].Brute)
		}
	}
	if second[0].Brute != rounded(first[0].Brute) {
		t.Errorf("trace 0 was computed again: got %+v, want %+v", second[0].Brute, first[0].Brute)
	}
	if text, err = os.ReadFile(file); err != nil || strings.Count(string(text), "\n") != 7 {
		t.Errorf("file got %q, %v, want a header, five lines and half a line", text, err)
	}
}

// rounded is a yardstick as the file keeps it: to nine digits.
func rounded(k Kept) Kept {
	for _, v := range []*float64{
		&k.Median, &k.Low, &k.High, &k.Upper, &k.ShareMedian, &k.ShareLow, &k.ShareHigh, &k.RHat, &k.Effective, &k.Seconds,
	} {
		*v = parse9(*v)
	}
	return k
}

func TestSumOfPairs(t *testing.T) {
	pair := func(median, width float64) Pair {
		return Pair{
			Bin: Bins[0], Truth: Truth{Flow: 10}, OK: true, Median: median, Low: 0, High: width,
			Brute: Kept{Median: 11, Low: 9, High: 13, Converged: true},
		}
	}
	loose, refused := pair(10, 4), pair(10, 4)
	loose.Brute.Converged = false
	refused.OK = false
	other := pair(10, 400)
	other.Bin = Bins[1]
	got := Sum([]Pair{pair(12, 4), pair(9, 6), pair(10.5, 2), loose, refused, other}, Bins[0])
	// widths 1, 1.5, 0.5; errors 2, 1, 0.5; all by hand
	if got.Pairs != 3 || got.Loose != 1 || got.Refused != 1 || got.BruteHeld != 3 || got.Width != 1 || got.Error != 1 {
		t.Errorf("got %+v, want 3 pairs, 1 loose, 1 refused, median ratios 1 and 1", got)
	}
	if got := Sum([]Pair{pair(12, 4), other}, [2]float64{}); got.Pairs != 2 {
		t.Errorf("all bins: got %d pairs, want 2", got.Pairs)
	}
}
