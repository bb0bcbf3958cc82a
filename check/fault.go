package check

import (
	"cmp"
	"slices"

	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// FaultCode names a fault of a rig.
type FaultCode string

// The faults.
const (
	FaultOffset   FaultCode = "gauge-offset"
	FaultSticky   FaultCode = "sticky-needle"
	FaultLagging  FaultCode = "lagging-gauge"
	FaultDrift    FaultCode = "warm-up-drift"
	FaultValves   FaultCode = "pump-valve-tired"
	FaultPump     FaultCode = "diaphragm-leak"
	FaultHose     FaultCode = "blocked-hose"
	FaultFitting  FaultCode = "leaking-fitting"
	FaultShutOff  FaultCode = "shut-off-passing"
	FaultMoisture FaultCode = "moisture"
	FaultPad      FaultCode = "pad"
)

// FaultCodes are all faults.
var FaultCodes = []FaultCode{FaultOffset, FaultSticky, FaultLagging, FaultDrift, FaultValves, FaultPump, FaultHose, FaultFitting, FaultShutOff, FaultMoisture, FaultPad}

// On says what the plate was on.
type On string

// What it may be on.
const (
	OnABlank     On = "blank"
	OnAKnownLeak On = "known leak"
	OnAPort      On = "port"
)

// Pulled is one recording of a day: vented, pulled, held.
type Pulled struct {
	On     On
	Name   string        // of the port or the known leak; recordings of one name are repeats
	At     float64       // s since the first of the day
	Trace  *trace.Trace  // as recorded, in Pa of vacuum or absolute
	Volume unit.Measured // m³, the port's part; of a blank and a known leak 0
	Pump   rig.PumpState // after the shut-off; not said: as the rig says
}

// Day is a day of a rig: what was recorded on it, and what it did when it was
// sound.
type Day struct {
	Rig    rig.Rig
	Pulls  []Pulled // in order of time
	Before *Memory  // from [Remember]; nil: the rig's own figures stand in, as far as they go
}

// Fault is a likely fault of a rig with its evidence.
type Fault struct {
	Code     FaultCode  `json:"code"`
	Name     string     `json:"name"` // as told: "pump valve tired"
	Evidence []Sentence `json:"evidence"`
	Do       string     `json:"do"`
	Strength float64    `json:"strength"` // the telling figure over what it takes to be told, >= 1
}

// FindFault names what is likely wrong with a rig by its day's recordings, the
// likeliest first, none where nothing stands out. One cause is told once: what a
// gauge that lags or sticks makes of the pump is not told of the pump as well.
//
// Each rule is a threshold on one figure that the fault moves and a sound day
// does not, set so that fewer than 2 % of sound days are called (docs/accuracy.md
// has the confusion table). Day is not changed.
func FindFault(day Day) []Fault {
	s := sumUp(takeApart(day))
	before := day.Before
	if before == nil {
		before = stated(day.Rig)
	}
	var found []Fault
	for _, rule := range faultRules {
		strength, evidence := rule.find(&s, before, day.Rig)
		if !(strength >= 1) { // nor one that is not a number
			continue
		}
		if slices.ContainsFunc(found, func(f Fault) bool { return slices.Contains(rule.after, f.Code) }) {
			continue
		}
		w := faultWords[rule.code]
		found = append(found, Fault{Code: rule.code, Name: w.Name, Evidence: evidence, Do: w.Do, Strength: strength})
	}
	slices.SortStableFunc(found, func(a, b Fault) int { return cmp.Compare(b.Strength, a.Strength) })
	return found
}

// FaultWords is how a fault is told.
type FaultWords struct {
	Name string // in words
	Seen string // what a person sees
	Do   string // what to do about it
}

// WordsOf returns the words of a fault.
func WordsOf(c FaultCode) FaultWords { return faultWords[c] }

var faultWords = map[FaultCode]FaultWords{
	FaultOffset: {"gauge offset", "Vented, the gauge does not show nothing, and by the same amount all day.",
		"Set the gauge to zero while vented, or note what it shows then as its zero; check it at a second point as well, since a bent needle is wrong all over."},
	FaultSticky: {"sticky needle", "In a hold the gauge stands still, then jumps.",
		"Tap the gauge gently before each reading, and see whether its pipe pinches it; a needle that goes on sticking is for the bin."},
	FaultLagging: {"lagging gauge", "Vented, the gauge takes its time to come back, and it follows every pull late.",
		"Look for oil or dirt in the gauge's own passage and for a filter set too fine on a sensor; wait until it stands before reading."},
	FaultDrift: {"warm-up drift", "What the gauge shows when vented moves through the day, always the same way.",
		"Switch a sensor on half an hour before the tests, keep it off the pump, and take the zero before every pull."},
	FaultValves: {"pump valve tired", "The blanked reading has fallen, and the pump still pulls down as fast as it did.",
		"Clean the pump's valve flaps or fit new ones, then take the blanked reading again; until then today's reading is the one that counts."},
	FaultPump: {"diaphragm leak", "The pump pulls down slower than it did, from the first moment on.",
		"Look for a split or loose diaphragm, low supply voltage and a blocked exhaust; take the pump's curve again afterwards."},
	FaultHose: {"blocked hose", "The pull is slow where the flow is greatest and less so near its end; a gauge at the pump gets there at once, the port does not.",
		"Blow the hose and the trap through, straighten a kink, look behind the filter."},
	FaultFitting: {"leaking fitting", "The rig leaks more than it did with a blank on it, and every port seems to leak by as much more.",
		"Wet joints and pad with soapy water under pressure or press each in turn during a hold; mend it before a valve is blamed. If a blank holds while the pump runs on, look at the shut-off valve."},
	FaultShutOff: {"shut-off valve passing", "A blank falls with the pump stopped and holds with it running.",
		"Clean or renew the shut-off valve, or let the pump run on through the hold."},
	FaultMoisture: {"moisture in the port", "Ports fall fast at first, then less and less, and less again at the next pull; the blank does not.",
		"Dry port and seat, vent and pull five times, and test again: a leak stays, vapour goes."},
	FaultPad: {"pad giving way", "Blank and ports alike fall fast at first, then less and less, at every pull.",
		"Fit a firmer pad or let the vacuum stand half a minute before the hold; a pad that stays flat afterwards is worn out."},
}
