package app

import (
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"seatproof/head"
	"seatproof/internal/practise"
	"seatproof/internal/session"
	"seatproof/internal/source"
	"seatproof/internal/web"
	"seatproof/leak"
	"seatproof/trace"
)

// practiceKept is what a practice run needs to go on.
type practiceKept struct {
	Speed  float64         `json:"speed"`
	Faults []string        `json:"faults"`
	Seed   uint64          `json:"seed"`
	Ports  []practise.Port `json:"ports"`
	Known  float64         `json:"known"` // m³/s; 0: as usual
}

// practice is a make-believe rig in this process, with someone at it who does
// what the session says. Faster than a real one it waits for the readings, which
// take the time they take.
type practice struct {
	kept    practiceKept
	bench   *practise.Bench
	person  person
	line    badLine
	restart float64 // s between two restarts of the board; 0: none
	at      float64 // s of the session
}

// badLine is what is wrong with the line to the gauge, in the session's time.
type badLine struct {
	noise  float64 // part of the bytes that are changed
	pulled float64 // s between two pulls of the cable; 0: never
	r      *rand.Rand
}

const (
	cableAway  = 2.0 // s
	bootsFor   = 0.6 // s that a board says nothing after a restart
	lineLength = 20  // bytes of a line
)

// setPractice makes the rig and what the plan says of it.
func (r *liveRun) setPractice(p web.LivePlan, plan *session.Plan) error {
	h := fnv.New64a()
	h.Write([]byte(r.id))
	k := practiceKept{Speed: p.Practise.Speed, Faults: slices.Clone(p.Practise.Faults), Seed: h.Sum64()}
	k.Ports = practise.HeadOf(&p.Job, k.Seed)
	switch {
	case len(plan.Steps) > 0: // its known leaks are in the steps
	case plan.Known == nil:
		plan.Known = &leak.Interval{Median: practise.KnownUsual, Low: 0.95 * practise.KnownUsual, High: 1.05 * practise.KnownUsual}
	default:
		k.Known = plan.Known.Median
	}
	var fields []web.FieldFault
	for i, text := range k.Faults {
		f, err := practiceFault(&p.Job, text)
		if err != nil {
			fields = append(fields, web.FieldFault{Field: fmt.Sprintf("practise.faults.%d", i), What: sentence(err.Error())})
			continue
		}
		k.Faults[i] = f.String() // names become identities
	}
	if len(fields) > 0 {
		return &web.Fault{What: fields[0].What, Fields: fields}
	}
	r.kept.Practise = &k
	plan.Sources = []session.SourcePlan{{Name: "practice gauge", Reads: trace.Vacuum, Step: practise.Stated().Gauge.Resolution}}
	if err := r.makePractice(k); err != nil {
		return err
	}
	r.pretend.person.steps = plan.Steps
	return nil
}

// practiceFault reads a fault, and finds the port or the valve it names.
func practiceFault(j *head.Job, text string) (practise.Fault, error) {
	f, err := practise.ParseFault(text)
	switch {
	case err != nil || f.Port == "":
	case f.Name == practise.LeakingValve:
		f.Port, err = valveNamed(j, f.Port)
	default:
		f.Port, err = portNamed(j, f.Port)
	}
	return f, err
}

func (r *liveRun) makePractice(k practiceKept) error {
	set := practise.Setup{Ports: k.Ports, KnownLeak: k.Known, Seed: k.Seed}
	p := &practice{kept: k, line: badLine{r: rand.New(rand.NewPCG(k.Seed, 0x11e))}}
	for _, text := range k.Faults {
		f, err := practise.ParseFault(text)
		if err != nil {
			return err
		}
		switch f.Name {
		case practise.NoisyLine:
			p.line.noise = f.Strength
		case practise.UnpluggedCable:
			p.line.pulled = f.Strength
		case practise.BoardRestarts:
			p.restart = f.Strength
		}
		set.Faults = append(set.Faults, f)
	}
	b, err := practise.New(set)
	if err != nil {
		return err
	}
	p.bench, p.person = b, newPerson(b, k.Seed)
	r.pretend = p
	p.person.steps = r.is.Plan.Steps
	r.clock.Store(math.Float64bits(r.base))
	p.at = r.base
	return nil
}

// resumePractice puts the make-believe rig up again; the plate is off.
func (r *liveRun) resumePractice(session.State) error { return r.makePractice(*r.kept.Practise) }

// run drives the rig until the run ends.
func (p *practice) run(r *liveRun) {
	const turn = 5 * time.Millisecond
	tick := time.NewTicker(turn)
	defer tick.Stop()
	last := time.Now()
	due := 0.0 // s of the session that have not been made yet
	for {
		select {
		case <-r.ctx.Done():
			return
		case now := <-tick.C:
			due += math.Min(now.Sub(last).Seconds(), 0.25) * p.kept.Speed
			last = now
		}
		if p.kept.Speed > 1 && !(r.estimate.idle() && r.filer.idle()) {
			due = 0
			continue
		}
		// a tenth of a second at a time: so finely does the operator look
		for due > 0 && r.ctx.Err() == nil {
			part := math.Min(due, 0.1)
			due -= part
			if err := p.advance(r, part); err != nil {
				if !errors.Is(err, web.ErrNoRun) && r.ctx.Err() == nil {
					r.live.log.Error("the practice rig stopped", "error", err.Error())
				}
				return
			}
			if p.kept.Speed > 1 && !r.estimate.idle() {
				due = 0
			}
		}
	}
}

// advance lets the rig and the operator go on for a part of a second.
func (p *practice) advance(r *liveRun, part float64) error {
	var e session.Samples
	step := 1 / p.bench.Rate()
	end := p.at + part
	garbled := 0
	for p.at+step <= end {
		p.at += step
		v := p.bench.Shown(p.at)
		switch {
		case p.line.pulled > 0 && math.Mod(p.at, p.line.pulled+cableAway) >= p.line.pulled:
			continue
		case p.restart > 0 && math.Mod(p.at, p.restart) < bootsFor && p.at > p.restart:
			continue
		case p.line.noise > 0 && p.line.r.Float64() > math.Pow(1-p.line.noise, lineLength):
			garbled++
			continue
		}
		e.At, e.Value = append(e.At, math.Round(p.at*1e6)/1e6), append(e.Value, math.Round(v*1e3)/1e3)
	}
	r.clock.Store(math.Float64bits(p.at))
	if err := p.tell(r, garbled); err != nil {
		return err
	}
	if len(e.At) > 0 {
		if err := r.wait(r.ctx, e); err != nil {
			return err
		}
	}
	return p.act(r)
}

// tell tells what the line does.
func (p *practice) tell(r *liveRun, garbled int) error {
	note := func(c source.Code, detail string, n int) error {
		return r.wait(r.ctx, session.Notice{At: p.at, Code: c, Detail: detail, Count: n})
	}
	if garbled > 0 {
		if err := note(source.Garbage, "make-believe noise", garbled); err != nil {
			return err
		}
	}
	return nil
}

// act lets whoever is at the rig do what the session says.
func (p *practice) act(r *liveRun) error {
	n := r.shown.Load()
	if n == nil {
		return nil
	}
	return p.person.act(p.at, n.View, func(k session.Key) error { return r.key(r.ctx, k) })
}

// person is who stands at a make-believe rig: does what the session says, and
// presses its keys.
type person struct {
	bench    *practise.Bench
	operator *practise.Operator
	tests    map[string]int // of the checks
	steps    []session.CheckStep
	pumping  bool
	shutAt   float64 // s, when the operator shut off; 0: said, or not yet
}

func newPerson(b *practise.Bench, seed uint64) person {
	return person{bench: b, operator: practise.NewOperator(b, seed), tests: map[string]int{}}
}

// stepOf prompts for the step of a check that is asked for, and says whether an
// open gauge has stood there long enough.
func (p *person) stepOf(v session.View, prompt *practise.Prompt) bool {
	for i, s := range v.Steps {
		if !s.Here || i >= len(p.steps) {
			continue
		}
		prompt.Step, prompt.NoHold, prompt.Runs = s.ID, s.Hold == 0, s.Runs
		p.operator.Hold = s.Hold
		p.operator.Again = func(string, int) bool { return s.Made < s.Wanted }
		switch s.On {
		case session.Open:
			prompt.On = practise.Nothing
			return s.Made >= s.Wanted
		case session.Blanked:
			prompt.On = practise.Blank
		case session.OnAKnown:
			prompt.On = practise.KnownLeak
			if k := p.steps[i].Known; s.Known > 0 && s.Known <= len(k) {
				prompt.On = practise.KnownOf(k[s.Known-1].Flow.Median)
			}
		}
	}
	return false
}

// shutSaid is how long [s] the gauge has to show that the pump was shut off
// before the person says so.
const shutSaid = 1.0

// act is one look at what the session shows, at a time [s].
func (p *person) act(at float64, v session.View, press func(session.Key) error) error {
	prompt := practise.Prompt{On: v.Target, Enough: v.Test != nil && v.Test.Enough != ""}
	for _, f := range v.Filed {
		if f.Estimate != nil {
			prompt.Filed++
		}
	}
	if v.Stage == session.Over {
		prompt.On = practise.Nothing
	}
	p.operator.Hold, p.operator.Again = 0, nil
	switch v.Stage {
	case session.OnBlank:
		p.operator.Hold = 30
	case session.OnCheck:
		if done := p.stepOf(v, &prompt); done {
			return press(session.Key{Do: session.Next})
		}
	}
	key, err := p.operator.Step(at, prompt)
	if err != nil {
		return err
	}
	if p.pumping && !p.bench.Pumping() && !p.bench.Vented() {
		p.shutAt = at
	}
	p.pumping = p.bench.Pumping()
	if p.shutAt > 0 && at-p.shutAt > shutSaid {
		p.shutAt = 0
		if v.Test != nil && v.Test.Held == 0 {
			if err := press(session.Key{Do: session.ShutOff}); err != nil {
				return err
			}
		}
	}
	if key != practise.PressNext {
		return nil
	}
	do := session.Next
	passed := v.Stage == session.OnBlank && v.Check.Blank == session.Passed || v.Stage == session.OnKnown && v.Check.Known == session.Passed
	switch {
	case v.Stage == session.OnBlank || v.Stage == session.OnKnown:
		// one that does not pass twice is left out
		if p.tests[v.Target]++; p.tests[v.Target] >= 2 && !passed {
			do = session.Skip
		}
	case v.Next == "":
		do = session.Finish
	}
	return press(session.Key{Do: do})
}
