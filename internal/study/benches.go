package study

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// Bench is one of two rigs that people have.
type Bench string

// The benches of docs/accuracy.md.
const (
	// HomeBench: a needle read to a quarter of an inch of mercury at the
	// shut-off and 5, 10 and 15 s after it, EN 837-1 class 1.6, a watch, a port
	// volume guessed to 30 %, the air from the altitude alone.
	HomeBench Bench = "home"
	// ShopBench: a digital gauge, 0.5 % of span, at 50 samples a second, steps
	// and noise of 50 Pa, a hold of 30 s, the volume known to 2 %.
	ShopBench Bench = "shop"
)

// quarterInch is a quarter of an inch of mercury [Pa] (NIST SP 811).
const quarterInch = 3386.389 / 4

// Port is one port of known leak, tested some times and judged.
type Port struct {
	Level   float64 // m³/s, the port's own
	Next    float64 // m³/s, of one more test
	Reading *leak.Reading
	Verdict limit.Verdict // "" where refused
	Err     error
}

// RunPorts tests n ports on a bench, each so many times, and judges them by a
// limit [m³/s]. The level of a port lies a third to three times the limit away
// at least: between a twentieth and a third, or three and twenty times. Port i
// depends on the seed and i alone.
func RunPorts(b Bench, n, tests int, limit float64, seed uint64) []Port {
	out := make([]Port, n)
	var wg sync.WaitGroup
	next := make(chan int)
	for range runtime.NumCPU() {
		wg.Go(func() {
			for i := range next {
				out[i] = onePort(rand.New(rand.NewPCG(seed, uint64(i))), b, tests, limit)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	return out
}

func onePort(r *rand.Rand, b Bench, tests int, limitFlow float64) (p Port) {
	p.Level = limitFlow / 3 * math.Pow(3.0/20, r.Float64())
	if r.IntN(2) == 0 {
		p.Level = limitFlow * 3 * math.Pow(20.0/3, r.Float64())
	}
	// between tests: median 0.3, 95 % 0.12 to 0.8, the prior of docs/model.md §4.12
	sigma := 0.3 * math.Exp(0.5*r.NormFloat64())
	flow := func() float64 { return p.Level * math.Exp(sigma*r.NormFloat64()) }
	t, g, _, err := Draw(r, Family{Low: p.Level / cm3min, High: p.Level / cm3min})
	if err != nil {
		p.Err = err
		return p
	}
	t.bench(r, b, &g)
	var all []leak.Test
	for range tests {
		one := t
		one.Flow = flow()
		tr, err := one.simulate(r, &g, Family{})
		if err != nil {
			p.Err = err
			return p
		}
		if b == HomeBench {
			tr = byEye(r, tr, one.ShutOff)
		}
		all = append(all, leak.Test{Reading: leak.Read(tr, g, leak.Options{})})
	}
	p.Next = flow()
	p.Reading = leak.Together(all, nil)
	if p.Reading.Refusal == nil && p.Reading.Leak != nil {
		p.Verdict = limit.Judge(p.Reading.ChanceOver(limitFlow), false)
		if p.Reading.UpperLimitOnly && p.Verdict == limit.Leaks {
			p.Verdict = limit.CantTellYet
		}
	}
	return p
}

// bench makes a drawn test one of a bench.
func (t *Truth) bench(r *rand.Rand, b Bench, g *rig.Rig) {
	rigPart, port := 60e-6, (70+60*r.Float64())*1e-6
	stated, accuracy := 0.3, 1.13*0.016
	t.Noise, t.Step, t.Rate, t.Hold = 0, 0, 50, 16.5
	g.Gauge.Kind, g.Gauge.Resolution, g.Gauge.Response = rig.GaugeNeedle, 0, unit.Measured{}
	g.Gauge.Accuracy, g.Gauge.Class, g.Gauge.Division = unit.Measured{}, 1.6, quarterInch
	g.Air.Altitude, g.Air.Pressure = unit.Exactly(300), unit.Measured{}
	t.Pressure = 97.77e3 + 2e3/1.96*r.NormFloat64() // ISO 2533, 300 m, and the weather
	if b == ShopBench {
		stated, accuracy = 0.02, 0.005
		t.Noise, t.Step, t.Rate, t.Hold = 50, 50, 50, 30
		g.Gauge = rig.Gauge{Kind: rig.GaugeDigital, Span: g.Gauge.Span, Accuracy: unit.Exactly(accuracy), Resolution: 50}
		g.Air = rig.Air{Pressure: unit.About(t.Pressure, 100), Temperature: g.Air.Temperature}
	}
	t.Gain, t.Bow = accuracy/1.96*r.NormFloat64(), accuracy/3.92*r.NormFloat64()
	if b == HomeBench {
		t.Zero = quarterInch / 4 * r.NormFloat64()
	}
	// all of the doubt is put on the port's part
	doubt := stated * port
	if b == ShopBench {
		doubt = stated * (port + rigPart)
	}
	g.Volume, g.Port.Volume = unit.Exactly(rigPart), unit.About(port, doubt)
	t.Volume = rigPart + port*math.Exp(doubt/port/1.96*r.NormFloat64())
}

// byEye turns a trace into readings of a needle and a watch: at the shut-off and
// 5, 10 and 15 s after it, each to a quarter of an inch, the eye's own error a
// fifth of that, the watch's a quarter of a second.
func byEye(r *rand.Rand, tr *trace.Trace, shutOff float64) *trace.Trace {
	out := &trace.Trace{Kind: trace.Vacuum}
	for _, after := range []float64{0, 5, 10, 15} {
		at := shutOff + after
		if after > 0 {
			at += 0.25 * r.NormFloat64()
		}
		i := 0
		for i < tr.Len()-1 && tr.Time[i+1] <= at {
			i++
		}
		v := math.Round((tr.Value[i]+0.2*quarterInch*r.NormFloat64())/quarterInch) * quarterInch
		out.Hand = append(out.Hand, trace.HandReading{Time: after, Value: v})
		if v <= 0 {
			break // it is down: nothing more to read
		}
	}
	return out
}
