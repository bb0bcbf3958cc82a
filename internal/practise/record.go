package practise

import "seatproof/trace"

// Record makes one test and returns it as the gauge recorded it: 4 s vented, a
// pull and a hold of so long [s] (a hold of 0: vented from the steady reading),
// and 2 s vented again. It begins at time t [s] and returns when it ended.
func (b *Bench) Record(t float64, on string, pull, hold float64) (*trace.Trace, float64, error) {
	tr := &trace.Trace{Kind: trace.Vacuum, Step: b.shown.Step}
	if err := b.Put(t, on); err != nil {
		return nil, t, err
	}
	begun, k := t, 0
	watch := func(long float64) {
		for t += long; ; k++ {
			at := float64(k) / b.set.Rate
			if begun+at >= t {
				return
			}
			tr.Time, tr.Value = append(tr.Time, at), append(tr.Value, b.Shown(begun+at))
		}
	}
	watch(4)
	if err := b.Pump(t); err != nil {
		return nil, t, err
	}
	watch(pull)
	if hold > 0 {
		if err := b.ShutOff(t); err != nil {
			return nil, t, err
		}
		watch(hold)
	}
	if err := b.Vent(t); err != nil {
		return nil, t, err
	}
	watch(2)
	tr.Header = trace.Header{Rig: "practice rig", Port: on, Gauge: "practice gauge"}
	return tr, t, nil
}
