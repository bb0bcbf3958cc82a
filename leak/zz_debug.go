package leak

import (
	"fmt"
	"math"
)

// Debug prints the fit.
var Debug bool

func (f *fit) debug(post *posterior, p point) {
	if !Debug {
		return
	}
	for _, t := range post.parts {
		fmt.Printf("part film %v w=%.4f a=%.5f s=%.3f tau=%.4f mix=%.2f left=%.1f prior=%.2f det=%.2f\n", t.film, t.weight, t.l.at.a, t.l.at.s, math.Exp(t.l.at.logT), t.l.at.mix, t.l.left, t.prior, t.l.det)
	}
	r := make([]float64, len(f.data))
	f.residuals(&p, r)
	fmt.Printf("point %+v\nzeroSD %.2f shutSD %.4f chi(res) %.2f n %d inertia %.4f slip %v with %.1f without %.1f\n", p, f.zeroSD, f.shutSD, dot(r, r), len(r), f.inertia, f.slip, post.bestWith, post.bestWithout)
	for i := range r {
		if i < len(f.hold.bins) {
			b := f.hold.bins[i]
			fmt.Printf("%3d t=%.3f n=%.0f v=%.1f sd=%.2f r=%.2f\n", i, b.time, b.n, b.value, b.sd, r[i])
		} else {
			fmt.Printf("before v=%.1f sd=%.1f r=%.2f\n", f.data[i], 1/f.weight[i], r[i])
		}
	}
}

// DebugTruth is a true point to compare with.
var DebugTruth func() (a, s, e, tau, lag, pa, gain, bow float64)

func (f *fit) debugTruth(q point) {
	if DebugTruth == nil {
		return
	}
	p := q
	var tau, lag float64
	p.a, p.s, p.e, tau, lag, p.pa, p.gain, p.bow = DebugTruth()
	p.logT, p.logL, p.mix, p.vap, p.rig, p.zero = math.Log(tau), math.Log(lag), 0, 0, 0, 0
	r := make([]float64, len(f.data))
	best, bp := math.Inf(1), p
	for _, in := range []float64{0, .1, .2, .3, .4, .5, .6, .7, .8, .9, 1} {
		for _, sl := range []float64{.03, .06, .1, .15, .2, .25, .3} {
			for sh := -3.0; sh <= 3; sh += .25 {
				p.inert = in * f.inertia
				p.slipW = sl
				p.shut = sh * math.Min(f.shutSD, 0.02)
				if false {
					continue
				}
				for range 2 {
					f.residuals(&p, r)
					// v0 by one Gauss step
					p2 := p
					p2.v0 += 10
					r2 := make([]float64, len(r))
					f.residuals(&p2, r2)
					var g, h float64
					for i := range r {
						d := (r[i] - r2[i]) / 10
						g += d * r[i]
						h += d * d
					}
					p.v0 += g / h
				}
				f.residuals(&p, r)
				if c := dot(r, r); c < best {
					best, bp = c, p
				}
			}
		}
	}
	fmt.Printf("TRUTH chi %.1f at %+v\n", best, bp)
	f.residuals(&bp, r)
	for i := range r {
		if i < len(f.hold.bins) {
			fmt.Printf("T %3d t=%.3f r=%.2f\n", i, f.hold.bins[i].time, r[i])
		} else {
			fmt.Printf("T before r=%.2f\n", r[i])
		}
	}
}
