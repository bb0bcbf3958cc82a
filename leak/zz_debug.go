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
