package report

import (
	"fmt"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
)

// Message is what a person is told: what is, and what to do about it. Both are
// whole sentences.
type Message struct{ What, Do string }

// String joins the two.
func (m Message) String() string {
	if m.Do == "" {
		return m.What
	}
	return m.What + " " + m.Do
}

// Of which figures of a Warning or Refusal a message makes use is said beside
// its entry. A figure left at zero is left out of the sentence.

// warnings is the catalogue of warnings.
var warnings = map[leak.WarningCode]func(Style, leak.Warning) Message{
	// Count rows, Line the first.
	leak.RowsDropped: func(_ Style, w leak.Warning) Message {
		return Message{
			fmt.Sprintf("%s could not be used and %s left out%s.", count(w.Count, "row"), wasWere(w.Count), from(w.Line, ", the first at line %d")),
			"Look at that line; if the logger wrote it so, nothing need be done.",
		}
	},
	// Count spikes.
	leak.Spikes: func(_ Style, w leak.Warning) Message {
		return Message{
			fmt.Sprintf("%s stood far from %s neighbours and %s given no weight.", count(w.Count, "sample"), itsTheir(w.Count), wasWere(w.Count)),
			"If there are many, look at the sensor's plug and cable.",
		}
	},
	// Count gaps, Figure the longest [s].
	leak.Gaps: func(_ Style, w leak.Warning) Message {
		return Message{
			fmt.Sprintf("The recording pauses %s%s.", times(w.Count), lasting(w.Figure, ", the longest for %s")),
			"What happened in a pause is not known; record again if one falls in the hold.",
		}
	},
	// Figure is the scatter of the sampling interval over its median.
	leak.Jitter: func(_ Style, w leak.Warning) Message {
		return Message{
			"The samples come at uneven times" + percent(w.Figure, ", by %s of the interval") + ".",
			"The times in the file were used as they stand; if the logger guesses them, have it write its own clock.",
		}
	},
	// Figure is the hold's leak at 50 kPa, Other the steady reading's [m³/s].
	leak.ReadingsDiffer: func(s Style, w leak.Warning) Message {
		what := "The hold and the steady reading disagree by more than their intervals"
		if w.Figure > 0 || w.Other > 0 {
			what += fmt.Sprintf(": %s against %s cm³/min", s.flow(w.Figure), s.flow(w.Other))
		}
		if w.Figure > 0 && w.Other > 100*w.Figure {
			return Message{
				what + ": so far apart that a unit looks wrong, the file's or the rig file's.",
				"Check the unit in the header (kPa or mbar?), and the pump's figures; then the blanked reading and the volume.",
			}
		}
		return Message{
			what + ".",
			"Take the blanked reading again (a tired pump), and check the volume and that the hose is not pinched.",
		}
	},
	// Figure is the deepest vacuum of the hold [Pa].
	leak.Extrapolated: func(s Style, w leak.Warning) Message {
		what := "The hold never was as deep as 50 kPa"
		if w.Figure > 0 {
			what += ", at most " + s.vacuum(w.Figure)
		}
		return Message{
			what + ", so the leak at 50 kPa is carried there by both laws of flow.",
			"Pull deeper if the pump can.",
		}
	},
	// Figure is the reduced chi squared.
	leak.LawMisfit: func(_ Style, w leak.Warning) Message {
		what := "No leak law fits the hold well"
		if w.Figure > 0 {
			what += ", reduced chi² " + Figure(w.Figure, 2)
		}
		return Message{
			what + "; the interval was widened for it, and no way of flowing is named.",
			"Something moved or was knocked during the hold, or much of a liquid is drying off in the port: dry it and test again, hands off.",
		}
	},
	// Figure is the part of the fall that stops [Pa], its 5 % quantile.
	leak.FallStops: func(s Style, w leak.Warning) Message {
		what := "Part of the fall dies away"
		if w.Figure > 0 {
			what += ", at least " + s.lost(w.Figure)
		}
		return Message{
			what + ", as vapour of a liquid in the port does; no way of flowing is named.",
			"Dry the port, then vent and pull five times: a leak stays, vapour falls from pull to pull.",
		}
	},
	// Figure is when it broke, since the shut-off [s], Other what was lost until
	// then [Pa], Count 1 where the figure is of the fall before.
	leak.HoldBreaks: func(s Style, w leak.Warning) Message {
		what := "The hold broke" + lasting(w.Figure, " after %s")
		if w.Figure > 0 {
			what += ", having lost " + s.lost(w.Other) + " until then"
		}
		which := "after that"
		if w.Count > 0 {
			which = "before that, too little was left to read: the port may leak more"
		}
		return Message{
			what + ": a leak's fall only slackens, so the pump was shut off only then, oil that had closed a gap let go, or a needle had stuck. The figure is of the fall " + which + ".",
			"Wipe seat, stem and guide dry and test again; tap a needle gauge first.",
		}
	},
	// Figure is the part of the fall that dies away [Pa].
	leak.Slowing: func(_ Style, _ leak.Warning) Message {
		return Message{
			"The fall slows by more than a leak's does. In a port that is surely dry a pad that creeps does that, or a hose that gives under vacuum.",
			"If drying changes nothing: hold a blank for as long, after the same pull; what falls there is the rig's. Then take a firmer pad, a shorter or stiffer hose, or pull longer before the shut-off.",
		}
	},
	// Figure is how fast something moved [Pa/s], Other the leak it would pass
	// for [m³/s].
	leak.Drift: func(s Style, w leak.Warning) Message {
		what := "Something drifted while the port was tested"
		if w.Other > 0 {
			what += ", as fast as a leak of " + s.flow(w.Other) + " cm³/min would look"
		}
		return Message{
			what + ": the head's temperature, the gauge's zero, or the room's air pressure (a door).",
			"Let the head come to the room's temperature, shut the door, give the gauge time to warm up, then blank the rig and test again.",
		}
	},
	leak.WetPort: func(Style, leak.Warning) Message {
		return Message{
			"The port was wet: its vapour falls like a leak and goes through the pump's motor, so the figure may be far too large.",
			"Dry it, vent and pull until five pulls give the same. Never pump a port that is wet with fuel or solvent.",
		}
	},
	leak.Oiled: func(Style, leak.Warning) Message {
		return Message{
			"The seats were oiled: a film closes a gap of 2 µm for some 3 s and a guide's of 15 µm for some 44 s, so a port that held like this may still leak.",
			"Wipe seat, stem and guide dry and test again before it counts.",
		}
	},
	// Figure is the wall time constant [s].
	leak.FastHold: func(_ Style, w leak.Warning) Message {
		return Message{
			"The leak is so large that the hold was over before the air had taken the walls' temperature" + lasting(w.Figure, ", which takes about %s") + ".",
			"Set the steady reading beside it, or add a known volume to the rig.",
		}
	},
	// Count is 1 where it was said that nothing held them, 0 where nobody said.
	leak.BareValves: func(_ Style, w leak.Warning) Message {
		what := "What held the valves was not said"
		if w.Count > 0 {
			what = "Nothing but the vacuum held the valves"
		}
		return Message{
			what + "; the vacuum presses a valve harder the deeper it is, so no way of flowing is named.",
			"Say what held them (held = own-spring, light-spring or thumb), and compare only ports held the same way.",
		}
	},
	leak.NeverShutOff: func(Style, leak.Warning) Message {
		return Message{
			"The port was never shut off from the pump, so the steady reading alone answers.",
			"Close the shut-off valve once the vacuum is steady, and record 15 s or more.",
		}
	},
	leak.StillRising: func(Style, leak.Warning) Message {
		return Message{
			"The vacuum was still rising when the pull ended: the pump moved the port's own air as well, so the leak is less than this, how much less is not known.",
			"Pull until the vacuum stands still, then shut the valve.",
		}
	},
	// Figure is half the width of the interval [m³/s].
	leak.SteadyAlone: func(s Style, w leak.Warning) Message {
		what := "Only the steady reading speaks here, and it is blunt"
		if w.Figure > 0 {
			what += ", ±" + s.flow(w.Figure) + " cm³/min"
		}
		if w.Count > 0 { // a hold was there, its volume was not
			return Message{what + ": the hold, with a volume, is 20 to 80 times finer.", "Give the rig's volume and the port's."}
		}
		return Message{
			what + ": a hold of 15 s is 20 to 80 times finer.",
			"Hold the port for 15 s or more, and give the rig's volume and the port's.",
		}
	},
	leak.NoVolume: func(Style, leak.Warning) Message {
		return Message{
			"Neither a volume nor a pump is known, so only the rate of fall can be given; it ranks like ports, no more.",
			"Give the rig's volume and the port's (a guess from valve sizes at ±30 % will do), or the pump's free flow and blanked reading.",
		}
	},
	// Name is the file, Refusal why; nil where it only carries a rate of fall.
	leak.RepeatRefused: func(s Style, w leak.Warning) Message {
		if w.Refusal == nil {
			return Message{
				nameOr(w.Name, "A test") + " is left out: it carries a rate of fall and no leak rate.",
				"Give the rig's volume and the port's, and read it again.",
			}
		}
		m := RefusalMessage(s, *w.Refusal)
		return Message{nameOr(w.Name, "A test") + " is refused and left out: " + m.What, m.Do}
	},
	// Name is the file, Figure its leak, Others the interval of the others, Count
	// how many tests there are; of two tests both names and Other the second leak.
	leak.OddRepeat: func(s Style, w leak.Warning) Message {
		do := "Put the plate down again, look for what was different (plate, valve, hose, gauge), and test once more."
		if w.Count == 2 {
			return Message{
				nameOr(w.Name, "Two tests") + ": these differ by more than two tests of one port usually do, " + s.flow(w.Figure) + " and " + s.flow(w.Other) + " cm³/min. Both stay in the figure, which is wider for it.",
				do,
			}
		}
		what := nameOr(w.Name, "One test") + " lies far off the others"
		if w.Figure > 0 && w.Others.High > 0 {
			what += ": " + s.flow(w.Figure) + " cm³/min against " + s.between(w.Others, cm3min)
		}
		return Message{what + ". It stays in the figure, which is wider for it.", do}
	},
	// Name is the files: one was taken with another step or kind than the first.
	leak.UnlikeGauges: func(_ Style, w leak.Warning) Message {
		return Message{
			nameOr(w.Name, "Two tests") + ": these were taken with gauges of another step or kind (vacuum, absolute), so their common errors are not the same.",
			"Compare tests of one port with one gauge; say which in a line \"# gauge: ...\" of each file.",
		}
	},
}

// ofSeveral are the warnings that are about several tests and name them in
// their own words.
var ofSeveral = map[leak.WarningCode]bool{leak.RepeatRefused: true, leak.OddRepeat: true, leak.UnlikeGauges: true}

func nameOr(name, other string) string {
	if name == "" {
		return other
	}
	return name
}

// refusals is the catalogue of refusals.
var refusals = map[leak.RefusalCode]func(Style, leak.Refusal) Message{
	// Figure is the deepest vacuum seen [Pa].
	leak.NoPull: func(s Style, r leak.Refusal) Message {
		what := "The port was never pulled down: the gauge stayed at the room's pressure"
		if r.Figure > 0 {
			what += ", within " + s.lost(r.Figure)
		}
		return Message{
			what + ".",
			"Check that the pump runs, the shut-off valve is open, the hose is on at both ends and the plate lies flat on its pad. The plate goes on the port side, where the vacuum pulls the valves shut; on the chamber side it pulls them off their seats.",
		}
	},
	// Figure is the deepest vacuum seen [Pa].
	leak.NoVacuum: func(s Style, r leak.Refusal) Message {
		what := "The pump pulled, but the vacuum stayed under " + s.lost(5e3)
		if r.Figure > 0 {
			what += fmt.Sprintf(": %s at most", s.lost(r.Figure))
		}
		return Message{
			what + ".",
			"Put the rig on a blank first. If that holds, look for a valve not on its seat, a hole of the port left open (injector, vacuum tapping), or the plate on the chamber side, where the vacuum pulls the valves off their seats.",
		}
	},
	// Figure is the vented reading [Pa], Other 5 % of the gauge's span [Pa].
	leak.GaugeZero: func(s Style, r leak.Refusal) Message {
		what := "Open to the room, the gauge does not read zero"
		if r.Figure != 0 {
			what = fmt.Sprintf("Open to the room, the gauge reads %s", s.lost(r.Figure))
		}
		return Message{
			what + ", beyond 5 % of its span" + within5(s, r.Other) + ".",
			"Vent the rig and set the gauge's zero. If it can't be set, or moves again, use another gauge: the whole scale is in doubt.",
		}
	},
	leak.NoZero: func(Style, leak.Refusal) Message {
		return Message{
			"The recording is nowhere open to the room, and the rig file gives no zero, so what the gauge calls zero is not known.",
			"Record 2 s with the port open before the pull, or give [gauge] zero in the rig file.",
		}
	},
	// Figure is the reading it stuck at [Pa], At when [s], Other for how long [s].
	leak.GaugeStuck: func(s Style, r leak.Refusal) Message {
		what := "The gauge stood still"
		if r.Figure != 0 {
			what += " at " + s.vacuum(r.Figure)
		}
		if r.Other > 0 {
			what += " for " + seconds(r.Other)
		}
		return Message{
			what + " where it should have moved: it is stuck, its own valve is shut, or the logger repeats an old value.",
			"Tap the gauge, look at its valve and plug, test again.",
		}
	},
	// Line of the file, Figure by how much [s].
	leak.ClockBack: func(_ Style, r leak.Refusal) Message {
		what := from(r.Line, "At line %d the") + " clock steps back"
		if r.Line == 0 {
			what = "The clock steps back"
		}
		return Message{
			what + lasting(r.Figure, " by %s") + " and stays back: two recordings in one file, or the logger's clock was set.",
			"Cut the file at that line and read the parts one by one.",
		}
	},
	// Figure is the length of the hold [s], Other the samples in it.
	leak.HoldTooShort: func(_ Style, r leak.Refusal) Message {
		what := "The hold is too short to carry a leak rate"
		if r.Figure > 0 {
			what += ": " + seconds(r.Figure)
			if r.Other > 0 {
				what += fmt.Sprintf(" with %s", count(int(r.Other), "sample"))
			}
		}
		return Message{
			what + ".",
			"Leave the port shut for 15 s or more after the pump is shut off; 30 s for a small leak.",
		}
	},
	// Figure is the vacuum [Pa], Other the room's air pressure [Pa].
	leak.TooDeep: func(s Style, r leak.Refusal) Message {
		what := "The vacuum is deeper than the room's air pressure allows"
		if r.Figure > 0 && r.Other > 0 {
			what = fmt.Sprintf("A vacuum of %s is deeper than the room's air pressure, %s", s.vacuum(r.Figure), s.vacuum(r.Other))
		}
		return Message{
			what + ".",
			"Check the unit in the column's name, whether the column is absolute pressure, and [air] pressure in the rig file: as it is here, not reduced to sea level.",
		}
	},
	// Figure is how many there are.
	leak.TooFewSamples: func(_ Style, r leak.Refusal) Message {
		what := "There are too few samples to read a hold from"
		if r.Figure > 0 {
			what = fmt.Sprintf("There %s only %s to read a hold from", isAre(int(r.Figure)), count(int(r.Figure), "sample"))
		}
		return Message{
			what + ".",
			"A logged hold needs 8 or more: log faster, or hold longer. Readings by eye need 2.",
		}
	},
	leak.NoHold: func(Style, leak.Refusal) Message {
		return Message{
			"The port was never shut off from the pump, so nothing was held, and no pump is known that could make a steady reading speak.",
			"Close the shut-off valve once the vacuum is steady, and record 15 s or more. Or give [pump] free_flow and blanked in the rig file.",
		}
	},
}

// WarningMessage returns the words for a warning.
func WarningMessage(s Style, w leak.Warning) Message {
	if say, ok := warnings[w.Code]; ok {
		m := say(s, w)
		if w.Name != "" && !ofSeveral[w.Code] { // true of some tests only
			m.What = "Of " + w.Name + ": " + m.What
		}
		return m
	}
	return Message{What: fmt.Sprintf("Warning %q.", w.Code)}
}

// RefusalMessage returns the words for a refusal.
func RefusalMessage(s Style, r leak.Refusal) Message {
	if say, ok := refusals[r.Code]; ok {
		return say(s, r)
	}
	return Message{What: fmt.Sprintf("Refused: %q.", r.Code)}
}

// VerdictWords returns a verdict as it stands on screens.
func VerdictWords(v limit.Verdict) string {
	switch v {
	case limit.Holds:
		return "holds"
	case limit.Leaks:
		return "leaks"
	case limit.CantTellYet:
		return "can't tell yet"
	default:
		return "no verdict"
	}
}

// KindWords returns the way of flowing in words.
func KindWords(k leak.Kind) string {
	switch k {
	case leak.KindOpening:
		return "an opening: flows like a nozzle"
	case leak.KindSeep:
		return "a seep: flows as through a thin slot"
	case leak.KindMixed:
		return "an opening and a seep, or one wide gap"
	case leak.KindUnresolved:
		return "unresolved: this trace can't tell an opening from a seep"
	default:
		return ""
	}
}

// HeldWords says what held the valves.
func HeldWords(h rig.Held) string {
	switch h {
	case rig.HeldNothing:
		return "the vacuum alone"
	case rig.HeldThumb:
		return "a thumb"
	case rig.HeldLightSpring:
		return "a light spring"
	case rig.HeldOwnSpring:
		return "their own springs"
	default:
		return "not said"
	}
}

// within5 says how much 5 % of the span is.
func within5(s Style, limit float64) string {
	if !(limit > 0) {
		return ""
	}
	return ", " + s.lost(limit)
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func itsTheir(n int) string {
	if n == 1 {
		return "its"
	}
	return "their"
}

// from fills a line number in, or returns nothing when there is none.
func from(line int, format string) string {
	if line <= 0 {
		return ""
	}
	return fmt.Sprintf(format, line)
}

// lasting fills a time in, or returns nothing when there is none.
func lasting(t float64, format string) string {
	if !(t > 0) {
		return ""
	}
	return fmt.Sprintf(format, seconds(t))
}

// percent fills a fraction in as per cent, or returns nothing.
func percent(x float64, format string) string {
	if !(x > 0) {
		return ""
	}
	return fmt.Sprintf(format, Figure(100*x, 2)+" %")
}
