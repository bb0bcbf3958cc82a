package check

import (
	"fmt"
	"math"
	"time"

	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// Sure is the chance that a check must have to pass, or to fail.
const Sure = 0.95

// RigLeakPart is the part of the smallest limit that a rig may leak itself
// (common practice, no source).
const RigLeakPart = 0.1

// OnBlank returns the rig as it stands on a blank: no port, and a leak of its own
// that is not taken off but asked for.
func OnBlank(r rig.Rig) rig.Rig {
	r.RigLeak = unit.Exactly(0)
	return OnKnownLeakOf(r)
}

// OnKnownLeakOf returns the rig as it stands on a known leak: no port.
func OnKnownLeakOf(r rig.Rig) rig.Rig {
	r.Port = rig.Port{Volume: unit.Exactly(0), Held: rig.HeldOwnSpring, WetWith: rig.WetNothing, HeadTemperature: r.Air.Temperature}
	return r
}

// JudgeBlank says whether a blank holds, by the chance that the rig leaks more
// than a tenth of the smallest limit. A reading that is an upper limit only can't
// fail it.
func JudgeBlank(over float64, upperOnly bool) Verdict {
	switch {
	case 1-over >= Sure:
		return Passed
	case over >= Sure && !upperOnly:
		return Failed
	default:
		return Unsure
	}
}

// Known-leak outcomes, beside passed.
type KnownOutcome string

// The outcomes.
const (
	KnownRight    KnownOutcome = "right"     // passed
	KnownNotAbove KnownOutcome = "not-above" // no more than the blank: it was not called leaking
	KnownLow      KnownOutcome = "low"
	KnownHigh     KnownOutcome = "high"
)

// JudgeKnown says whether a known leak was read as what it is: its interval meets
// that of its known flow, and lies above that of the blank (nil: none was read).
func JudgeKnown(read, known leak.Interval, blank *leak.Interval) KnownOutcome {
	switch {
	case read.Low <= 0 || blank != nil && read.Low <= blank.High:
		return KnownNotAbove
	case read.High < known.Low:
		return KnownLow
	case read.Low > known.High:
		return KnownHigh
	default:
		return KnownRight
	}
}

// measuredOf takes an interval as a figure with its ±, its wider side counting.
// "Less than" is half of a normal figure about 0.
func measuredOf(i leak.Interval, upperOnly bool) unit.Measured {
	if upperOnly {
		return unit.About(0, i.High)
	}
	return unit.About(i.Median, math.Max(i.High-i.Median, i.Median-i.Low))
}

// AnswerOf returns the leak of a reading, or why it has none.
func AnswerOf(what string, r *leak.Reading) (leak.Interval, error) {
	switch {
	case r == nil:
		return leak.Interval{}, fmt.Errorf("%s: no reading", what)
	case r.Refusal != nil:
		return leak.Interval{}, &RefusedError{What: what, Refusal: *r.Refusal}
	case r.Leak == nil:
		return leak.Interval{}, fmt.Errorf("%s: neither a volume nor a pump is known, so only its rate of fall: state the rig's volume, or check it first", what)
	default:
		return *r.Leak, nil
	}
}

// RefusedError says that a trace can carry no answer; its words are package
// report's.
type RefusedError struct {
	What    string
	Refusal leak.Refusal
}

func (e *RefusedError) Error() string {
	return fmt.Sprintf("%s: its trace can carry no answer (%s)", e.What, e.Refusal.Code)
}

// RigLeak checks that a blank holds: reading is of a trace taken on [OnBlank]. It
// passes if the rig's own leak is below a tenth of the smallest limit [m³/s, at 50
// kPa; 0: no limit, so that the figure is all there is], surely. The pump's state
// after the shut-off is kept with it: a valve that seeps counts with the pump
// stopped.
func RigLeak(at time.Time, reading *leak.Reading, limit float64, pump rig.PumpState) (Result, error) {
	i, err := AnswerOf("rig leak", reading)
	if err != nil {
		return Result{}, err
	}
	r := Result{Kind: KindRigLeak, Method: ByHold, At: at, Value: measuredOf(i, reading.UpperLimitOnly), Dim: unit.FlowDim, Verdict: Found, Pump: pump}
	is := say("On a blank the rig leaks {} at 50 kPa.", of(r.Value, r.Dim))
	if reading.UpperLimitOnly {
		is = say("On a blank the rig leaks less than {} at 50 kPa.", exactly(i.High, r.Dim))
	}
	r.Evidence = []Sentence{is}
	if limit > 0 {
		r.Verdict = JudgeBlank(reading.ChanceOver(RigLeakPart*limit), reading.UpperLimitOnly)
		r.Evidence = append(r.Evidence, say("A tenth of the smallest limit is {}.", exactly(RigLeakPart*limit, r.Dim)))
	}
	switch r.Verdict {
	case Failed:
		r.Do = "Find it: grease the plate's pad, then pinch the hose before each fitting in turn and hold again. What stops the fall is past the leak."
	case Unsure:
		r.Do = "Hold the blank longer: four times the time makes its figure about twice as sure, until the gauge's own drift shows."
	case Found:
		r.Evidence = append(r.Evidence, say("No limit is stated to hold it to: it is taken off each reading with its doubt."))
	}
	return r, nil
}

// KnownLeak checks that a known leak is called what it is: reading is of a trace
// taken on [OnKnownLeakOf], known its flow [m³/s at 50 kPa], blank the rig's own
// leak as read, nil if it was not. The value is what was read.
func KnownLeak(at time.Time, reading *leak.Reading, known leak.Interval, blank *leak.Interval) (Result, error) {
	i, err := AnswerOf("known leak", reading)
	if err != nil {
		return Result{}, err
	}
	r := Result{Kind: KindKnown, Method: ByHold, At: at, Value: measuredOf(i, reading.UpperLimitOnly), Dim: unit.FlowDim, Verdict: Failed}
	low, high := exactly(known.Low, r.Dim), exactly(known.High, r.Dim)
	r.Evidence = []Sentence{say("Read as {} at 50 kPa; it is {} to {}.", of(r.Value, r.Dim), low, high)}
	switch JudgeKnown(i, known, blank) {
	case KnownRight:
		r.Verdict = Passed
	case KnownNotAbove:
		r.Evidence = append(r.Evidence, say("That is no more than the blank may leak: it was not called leaking."))
		r.Do = "Look whether the known leak is open, and hold again. Until it is called leaking no port's holding means anything."
	case KnownLow:
		r.Do = "The volume stated is too small, or the gauge reads too little of a change, or the leak is partly blocked: check the volume next."
	case KnownHigh:
		r.Do = "The volume stated is too large, or a fitting weeps that the blank did not show: check the volume next."
	}
	if known.High > 3*known.Low {
		r.Evidence = append(r.Evidence, say("This known leak is known only to threefold, so passing says little: have it characterised on a rig of known volume."))
	}
	return r, nil
}

// ShutOffSeep returns what the shut-off valve lets through [m³/s at 50 kPa]: the
// leak of a blank with the pump stopped and its side open to the room, less that
// with the pump running on, which leaves nothing to seep back. With a limit it
// passes if that is surely below a tenth of it.
func ShutOffSeep(at time.Time, stopped, running leak.Interval, limit float64) (Result, error) {
	a, b := measuredOf(stopped, !(stopped.Low > 0)), measuredOf(running, !(running.Low > 0))
	if err := finite("shut-off valve", a, b); err != nil {
		return Result{}, err
	}
	v := unit.About(a.Value-b.Value, math.Hypot(a.Spread, b.Spread))
	r := Result{Kind: KindShutOff, At: at, Value: v, Dim: unit.FlowDim, Verdict: Found}
	r.Evidence = []Sentence{say("With the pump stopped the blank leaks {}, with it running {}: the valve lets {} through.", of(a, r.Dim), of(b, r.Dim), of(v, r.Dim))}
	switch {
	case v.Value-v.Spread > 0:
		r.Verdict = Failed
		if limit > 0 {
			r.Verdict = beyond(v.Value, v.SD(), RigLeakPart*limit)
		}
		r.Evidence = append(r.Evidence, say("It surely seeps."))
		r.Do = "Let the pump run on after the shut-off until the valve is mended, or count its seep with the rig's leak."
	case limit > 0:
		r.Verdict = beyond(v.Value, v.SD(), RigLeakPart*limit)
	}
	return r, nil
}

const (
	dryPulls    = 5    // that the check asks for
	holdsRepeat = 0.02 // sd to which holds of one leak repeat at best (a guess)
	wetFall     = 0.1  // of the leak, from the first pull to the last, that is worth a word (common practice, no source)
)

// Dryness checks that vented pulls, in the order in which they were made, give the
// same leak: a leak stays, vapour falls from pull to pull. Only the pulls' scatter,
// 2 % at least, counts, since what is wrong with the rig is the same in each. The value is the
// fall of the leak from the first pull to the last, as a part of their mean; it
// fails if a straight line through them surely falls, by more than a tenth.
func Dryness(at time.Time, pulls []leak.Interval) (Result, error) {
	n := len(pulls)
	if n < 2 {
		return Result{}, fmt.Errorf("dryness: %d pulls: it takes five, vented between", n)
	}
	x, q := make([]float64, n), make([]float64, n)
	for i, p := range pulls {
		if !(p.Median >= 0) || math.IsInf(p.High, 0) {
			return Result{}, fmt.Errorf("dryness: pull %d has no leak", i+1)
		}
		x[i], q[i] = float64(i), p.Median
	}
	mean, _ := meanOf(q)
	r := Result{Kind: KindDry, At: at, Dim: unit.RatioDim, Verdict: Unsure}
	if !(mean > 0) {
		r.Verdict, r.Value = Passed, unit.Exactly(0)
		r.Evidence = []Sentence{say(fmt.Sprintf("%d pulls, and none fell.", n))}
		return r, nil
	}
	f, err := FitLine(x, q, 0, holdsRepeat*mean)
	if err != nil {
		return r, err
	}
	fall := -f.Slope * float64(n-1) / mean
	spread := math.Inf(1)
	if n > 2 {
		spread = factor(n-2) * f.SlopeSD * float64(n-1) / mean
	}
	r.Value = unit.About(fall, math.Min(spread, 10))
	first, last := exactly(q[0], unit.FlowDim), exactly(q[n-1], unit.FlowDim)
	seen := say(fmt.Sprintf("From {} at the first pull to {} at pull %d.", n), first, last)
	switch {
	case fall-spread > 0 && fall > wetFall:
		r.Verdict = Failed
		r.Evidence = []Sentence{say("The leak falls from pull to pull by {} in all: that is moisture, a leak stays.", of(r.Value, r.Dim)), seen}
		r.Do = "Dry the port, with clean dry air or time, then vent and pull five times again. A long pull moves no gas: venting does."
	case fall+spread < 2*wetFall && n >= 3:
		r.Verdict = Passed
		r.Evidence = []Sentence{say("The pulls agree: a fall of {}.", of(r.Value, r.Dim)), seen}
	default:
		r.Evidence = []Sentence{say("The pulls scatter too much to tell: a fall of {}.", of(r.Value, r.Dim)), seen}
		r.Do = "Vent and pull again, five times in all, each held as long."
	}
	if n < dryPulls {
		r.Evidence = append(r.Evidence, say(fmt.Sprintf("%d pulls of the five that the check asks for.", n)))
	}
	return r, nil
}

// AsRead returns the rig whose gauge is taken at its word: for readings that are
// kept as the gauge shows them, such as the blanked reading, which package leak
// corrects by the gauge's line of the day.
func AsRead(r rig.Rig) rig.Rig {
	r.Gauge.Line = nil
	return r
}
