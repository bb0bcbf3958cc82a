package session

import "seatproof/check"

// The check that a run begins with: a blank must hold, and a known leak must be
// called leaking. The rules are package check's.

// judge takes the reading of a whole trace of a check.
func (m *machine) judge(f *Filed) {
	e := f.Estimate
	if m.plan.step(f.Port) >= 0 {
		return // of a check's step; whoever drives the run says what it comes to
	}
	switch f.Port {
	case string(OnBlank):
		m.judgeBlank(f.Test, e)
	case string(OnKnown):
		m.judgeKnown(f.Test, e)
	}
}

// judgeBlank says whether the rig's own leak is below a tenth of the smallest
// limit with a chance of 95 %.
func (m *machine) judgeBlank(number int, e *Estimate) {
	c := &m.check
	c.BlankTest = number
	say := Say{Port: string(OnBlank), Test: number}
	if e.Leak == nil {
		say.Code, say.Detail = SayBlankUnsure, string(e.Refusal)
		if c.Blank != NoMeans {
			c.Blank, c.RigLeak = Unsure, nil
		}
		m.say(say)
		return
	}
	leak := *e.Leak
	c.RigLeak = &leak
	say.Figures = map[string]float64{"low": e.Leak.Low, "high": e.Leak.High}
	if c.Blank == NoMeans { // no limit to hold it to: the figure is all there is
		say.Code = SayBlankUnsure
		m.say(say)
		return
	}
	c.BlankChance = e.Over
	say.Figures["chance"], say.Figures["limit"] = e.Over, e.Limit
	switch check.JudgeBlank(e.Over, e.UpperOnly) {
	case check.Passed:
		c.Blank, say.Code = Passed, SayBlankHolds
	case check.Failed:
		c.Blank, say.Code = Failed, SayBlankLeaks
	default:
		c.Blank, say.Code = Unsure, SayBlankUnsure
	}
	m.say(say)
}

// judgeKnown says whether a known leak was read as what it is: its interval
// meets that of its known flow, and lies above that of the blank.
func (m *machine) judgeKnown(number int, e *Estimate) {
	c := &m.check
	c.KnownTest = number
	say := Say{Port: string(OnKnown), Test: number}
	if e.Leak == nil {
		c.Known, say.Code, say.Detail = Unsure, SayKnownUnsure, string(e.Refusal)
		m.say(say)
		return
	}
	leak := *e.Leak
	c.KnownLeak = &leak
	k := m.plan.Known
	say.Figures = map[string]float64{"low": leak.Low, "high": leak.High, "known_low": k.Low, "known_high": k.High}
	c.Known = Failed
	switch check.JudgeKnown(leak, *k, c.RigLeak) {
	case check.KnownNotAbove:
		say.Code = SayKnownNotAbove
	case check.KnownLow:
		say.Code = SayKnownLow
	case check.KnownHigh:
		say.Code = SayKnownHigh
	default:
		c.Known, say.Code = Passed, SayKnownRight
	}
	m.say(say)
}

// dealt says whether a check has been passed or left out on purpose.
func (o Outcome) dealt() bool { return o == Passed || o == Skipped || o == NoMeans }

// onward goes on from a check to the next stage.
func (m *machine) onward() {
	switch m.stage {
	case OnBlank:
		m.stage = OnKnown
		if m.plan.Known == nil {
			m.check.Known = NoMeans
			m.say(Say{Code: SayNoKnownLeak})
			m.onward()
			return
		}
		m.say(Say{Code: SayPutOn, Port: string(OnKnown)})
	case OnKnown:
		if len(m.plan.Ports) == 0 {
			m.finish()
			return
		}
		m.stage, m.at = OnPorts, 0
		m.say(Say{Code: SayPutOn, Port: m.target()})
	}
}
