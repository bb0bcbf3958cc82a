package practise

import (
	"math/rand/v2"
)

// Prompt is what the operator is told: where a session stands.
type Prompt struct {
	On     string // what is to be tested: a port, Blank, a known leak; Nothing: the run is over
	Step   string // of a check: which step it is for; the same thing under the plate may serve several
	NoHold bool   // it is vented from the steady reading
	Runs   bool   // the pump is to run on behind the shut valve
	Enough bool   // the hold has told enough
	Filed  int    // tests filed so far
}

// Press is a key that the operator presses.
type Press string

// The keys of a session that an operator presses.
const (
	NoPress   Press = ""
	PressNext Press = "next"
)

// Operator is a person at the bench who does as told: puts the plate down,
// switches the pump on, shuts it off, keeps the hands off, vents, and goes on.
// Some ports are tested again before going on.
type Operator struct {
	Bench *Bench
	Again func(on string, test int) bool // whether to test once more; nil: every third port once
	Hold  float64                        // s, when nobody says that it is enough; 0: 20

	r     *rand.Rand
	doing doing
	until float64 // s
	on    string
	step  string
	test  int // tests of this port so far
	ports int // ports begun
	filed int
}

// patience is how long [s] the operator waits for a result before testing once
// more.
const patience = 20

type doing int

const (
	idle doing = iota
	placing
	pulling
	holding
	venting
	waiting // for the result to be filed
)

// NewOperator returns an operator at a bench.
func NewOperator(b *Bench, seed uint64) *Operator {
	return &Operator{Bench: b, r: rand.New(rand.NewPCG(seed, 0x0b3))}
}

// Step lets the operator act at time t [s] on a prompt; times only grow, in
// steps of 0.1 s and less. It returns the key pressed.
func (o *Operator) Step(t float64, p Prompt) (Press, error) {
	if t < o.until && !(o.doing == holding && p.Enough) {
		return NoPress, nil
	}
	wait := func(d doing, least, most float64) {
		o.doing, o.until = d, t+least+(most-least)*o.r.Float64()
	}
	switch o.doing {
	case idle:
		if p.On == Nothing {
			return NoPress, nil
		}
		if p.On != o.on || p.Step != o.step {
			o.on, o.step, o.test = p.On, p.Step, 0
			if p.On != Blank && !isKnown(p.On) {
				o.ports++
			}
		}
		o.filed = p.Filed
		if err := o.Bench.Put(t, p.On); err != nil {
			return NoPress, err
		}
		wait(placing, 1.5, 3)
	case placing:
		wait(pulling, 4, 6)
		return NoPress, o.Bench.Pump(t)
	case pulling:
		if p.NoHold {
			wait(venting, 2, 2.5)
			return NoPress, o.Bench.Vent(t)
		}
		hold := o.Hold
		if hold == 0 {
			hold = 20
		}
		wait(holding, hold, hold)
		o.Bench.KeepRunning(p.Runs)
		return NoPress, o.Bench.ShutOff(t)
	case holding:
		wait(venting, 2, 2.5)
		return NoPress, o.Bench.Vent(t)
	case venting:
		o.test++
		wait(waiting, 0.5, 1)
	case waiting:
		if p.Filed == o.filed {
			if t > o.until+patience { // the gauge was away, say: nothing came of it
				o.doing = idle
				o.test--
			}
			return NoPress, nil // it is being read
		}
		o.filed = p.Filed
		again := o.ports%3 == 0 && o.test == 1 && o.on != Blank && !isKnown(o.on)
		if o.Again != nil {
			again = o.Again(o.on, o.test)
		}
		wait(idle, 0.3, 0.6)
		if !again {
			return PressNext, nil
		}
	}
	return NoPress, nil
}
