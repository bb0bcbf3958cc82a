package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

var probeHook func(s *sampler, ps []*particle, stage string)

func TestProbeShape(t *testing.T) {
	if os.Getenv("SHAPE") == "" {
		t.Skip()
	}
	r := rand.New(rand.NewPCG(77, uint64(1)))
	tr, g, x, _ := Draw(r, Family{Low: 20, High: 200})
	fmt.Printf("%+v\n", tr)
	debugSamples = func(pts [][]float64, rests [][]float64) {
		names := []string{"total", "start", "rig", "share", "edge", "tau", "mix", "vap", "tauV", "gain", "bow", "zero", "pa", "wall", "shut", "slip", "inertia", "lag"}
		mx, cx := moments(pts)
		mr, cr := moments(rests)
		for k := range mx {
			var s3, s4 float64
			for _, p := range rests {
				u := (p[k] - mr[k]) / math.Sqrt(cr[k][k])
				s3 += u * u * u / float64(len(rests))
				s4 += u * u * u * u / float64(len(rests))
			}
			if k == 0 || k == 3 || k == 10 || k == 5 {
			} else {
				continue
			}
			if true {
				continue
			}
			fmt.Printf("%8s x %8.3f sd %.4f | rest sd %.5f skew %.2f kurt %.2f\n", names[k], mx[k], math.Sqrt(cx[k][k]), math.Sqrt(cr[k][k]), s3, s4)
		}
	}
	y, err := Brute(tr, g, x, BruteOptions{Seed: 1, Calls: 600000})
	fmt.Printf("%+v %v\n", y, err)
	nm := []string{"total", "start", "rig", "share", "edge", "tau", "mix", "vap", "tauV", "gain", "bow", "zero", "pa", "wall", "shut", "slip", "inertia", "lag"}
	for k := range debugX[0][0] {
		cc := make([][]float64, chains)
		m, v, n, sk := 0.0, 0.0, 0.0, 0.0
		for c := range cc {
			for _, x := range debugX[c] {
				cc[c] = append(cc[c], x[k])
				m += x[k]
				v += x[k] * x[k]
				n++
			}
		}
		m /= n
		sd := math.Sqrt(v/n - m*m)
		mx, mn := math.Inf(-1), math.Inf(1)
		for c := range cc {
			for _, x := range cc[c] {
				sk += math.Pow((x-m)/sd, 3) / n
				mx = max(mx, x)
				mn = min(mn, x)
			}
		}
		fmt.Printf("%8s mean %.3f sd %.4f skew %.2f range %.2f %.2f R %.4f ess %.0f\n", nm[k], m, sd, sk, mn, mx, splitRHat(cc), effectiveSize(cc))
	}
}
