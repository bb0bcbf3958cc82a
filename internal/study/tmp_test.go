package study

import (
	"fmt"
	"os"
	"seatproof/leak"
	"seatproof/rig"
	"testing"
)

func TestTmpClean(t *testing.T) {
	if os.Getenv("TMPRUN") != "clean" {
		t.Skip()
	}
	for _, b := range Bins {
		f := Family{Low: b[0], High: b[1]}
		out := Run(f, 400, 2026)
		c := map[leak.WarningCode]int{}
		for i, o := range out {
			for _, w := range o.Reading.Warnings {
				c[w.Code]++
				if w.Code == leak.HoldBreaks || w.Code == leak.Drift {
					fmt.Printf("%v #%d q=%.3g rate=%.0f noise=%.0f step=%.0f hold=%.0f off=%.2f zero=%.0f leak=%.3g-%.3g %+v ph=%+v\n", b, i, o.Truth.Flow/cm3min, o.Truth.Rate, o.Truth.Noise, o.Truth.Step, o.Truth.Hold, o.Truth.ShutOff, o.Truth.Zero, o.Reading.Leak.Low/cm3min, o.Reading.Leak.High/cm3min, w, o.Reading.Phases)
				}
			}
		}
		fmt.Println(b, c)
	}
}
func TestTmpWet(t *testing.T) {
	if os.Getenv("TMPRUN") != "wet" {
		t.Skip()
	}
	for _, p := range rig.PracticeTable() {
		if _, ok := wetWith[p.Name]; !ok {
			continue
		}
		for _, x := range p.Strengths() {
			f := Family{Low: 2, High: 2000, Practice: &p, Strength: x}
			out := Run(f, 90, 7)
			type k struct{ n, in, w, e int }
			m := map[rig.Liquid]*k{}
			for _, o := range out {
				l := o.Wet
				if m[l] == nil {
					m[l] = &k{}
				}
				if o.Reading.Leak == nil {
					continue
				}
				m[l].n++
				in := o.Truth.Flow <= o.Reading.Leak.High && (o.Truth.Flow >= o.Reading.Leak.Low || o.Reading.UpperLimitOnly)
				w := false
				for _, q := range o.Reading.Warnings {
					w = w || q.Code == leak.FallStops || q.Code == leak.Slowing
				}
				if in {
					m[l].in++
				}
				if w {
					m[l].w++
				}
				if in || w {
					m[l].e++
				}
			}
			fmt.Print(p.Name, " ", x)
			for l, v := range m {
				fmt.Printf("  [%q %d in %d warned %d either %d]", l, v.n, v.in, v.w, v.e)
			}
			fmt.Println()
		}
	}
}
func TestTmpWet2(t *testing.T) {
	if os.Getenv("TMPRUN") != "wet2" {
		t.Skip()
	}
	for _, p := range rig.PracticeTable() {
		if p.Name != os.Getenv("P") {
			continue
		}
		for _, x := range p.Strengths() {
			f := Family{Low: 2, High: 2000, Practice: &p, Strength: x}
			out := Run(f, 90, 7)
			for i, o := range out {
				if o.Reading.Leak == nil || o.Wet != wetWith[p.Name] {
					continue
				}
				in := o.Truth.Flow <= o.Reading.Leak.High && (o.Truth.Flow >= o.Reading.Leak.Low || o.Reading.UpperLimitOnly)
				if !in {
					fmt.Printf("%.4g #%d q=%.4g s=%.2f got %.4g (%.4g-%.4g) hold %.0f V=%.0f T=%.0f src=%s share=%+v", x, i, o.Truth.Flow/cm3min, o.Truth.Share, o.Reading.Leak.Median/cm3min, o.Reading.Leak.Low/cm3min, o.Reading.Leak.High/cm3min, o.Truth.Hold, o.Truth.Volume*1e6, o.Truth.Air, o.Reading.Source, *o.Reading.Share)
					for _, w := range o.Reading.Warnings {
						fmt.Print(" ", w.Code, " ", w.Figure)
					}
					fmt.Println()
				}
			}
		}
	}
}
func TestTmpPr(t *testing.T) {
	if os.Getenv("TMPRUN") != "pr" {
		t.Skip()
	}
	for _, p := range rig.PracticeTable() {
		if p.Name != os.Getenv("P") {
			continue
		}
		for _, x := range p.Strengths() {
			f := Family{Low: 2, High: 2000, Practice: &p, Strength: x}
			out := Run(f, 90, 7)
			n := 0
			for i, o := range out {
				if o.Reading.Leak == nil {
					fmt.Println(x, i, o.Reading.Refusal, o.Truth.Flow/cm3min)
					continue
				}
				in := o.Truth.Flow <= o.Reading.Leak.High && (o.Truth.Flow >= o.Reading.Leak.Low || o.Reading.UpperLimitOnly)
				if in {
					n++
					continue
				}
				fmt.Printf("%.4g #%d q=%.4g s=%.2f got %.4g (%.4g-%.4g) hold %.0f V=%.0f deep=%.0f rate %.0f step %.0f noise %.0f src=%s ", x, i, o.Truth.Flow/cm3min, o.Truth.Share, o.Reading.Leak.Median/cm3min, o.Reading.Leak.Low/cm3min, o.Reading.Leak.High/cm3min, o.Truth.Hold, o.Truth.Volume*1e6, o.Reading.Steady.Vacuum.Median, o.Truth.Rate, o.Truth.Step, o.Truth.Noise, o.Reading.Source)
				for _, w := range o.Reading.Warnings {
					fmt.Print(" ", w.Code, " ", w.Figure)
				}
				fmt.Println()
			}
			fmt.Println(x, n, "of", len(out))
		}
	}
}
