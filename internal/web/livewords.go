package web

import (
	"fmt"
	"strconv"
	"strings"

	"seatproof/internal/report"
	"seatproof/internal/session"
)

// LiveSaid is a sentence of a session: as it is shown, as it is said, and the
// beep where there is no voice.
type LiveSaid struct {
	Code  string `json:"code"`
	Words string `json:"words"`
	Speak string `json:"speak"`
	Tone  string `json:"tone"`
}

// spokenTargets are what is called out for what is no port.
var spokenTargets = map[string]string{string(session.OnBlank): "blank", string(session.OnKnown): "known leak"}

func (r *LiveRun) spoken(target string) string {
	c := r.step(target)
	if s := spokenTargets[target]; s != "" && c == nil {
		return s
	}
	if c != nil {
		return spokenTargets[map[session.Place]string{session.Blanked: string(session.OnBlank), session.OnAKnown: string(session.OnKnown)}[c.On]]
	}
	return r.name(target)
}

// of names a target at the head of a sentence: "Cylinder 3 intake".
func (r *LiveRun) of(target string) string {
	if r.step(target) == nil && (target == string(session.OnBlank) || target == string(session.OnKnown)) {
		return upper(spokenTargets[target])
	}
	return upper(r.name(target))
}

// sayer puts one code into words.
type sayer func(r *LiveRun, s session.Say, st report.Style) LiveSaid

func saying(words, speak, tone string) LiveSaid {
	return LiveSaid{Words: words, Speak: speak, Tone: tone}
}

// step returns a step of a check by its identity; nil: there is none.
func (r *LiveRun) step(id string) *session.CheckStep {
	for i := range r.Plan.Steps {
		if r.Plan.Steps[i].ID == id {
			return &r.Plan.Steps[i]
		}
	}
	return nil
}

// putOnStep says what is put on for a step; known is which of its known leaks,
// from 1.
func (r *LiveRun) putOnStep(c *session.CheckStep, known int) string {
	what := "a blank under the plate, then pump on"
	switch {
	case c.On == session.Open:
		return "pump off, gauge open to the room; leave it alone"
	case c.On == session.OnAKnown && known > 0 && known <= len(c.Known):
		what = c.Known[known-1].Name + " on the plate, then pump on"
	}
	if c.Runs {
		what += "; shut the valve and leave the pump running"
	}
	return what
}

func cm3(s session.Say, name string) string { return report.Figure(s.Figures[name]*6e7, 2) }

// sayings are the words of every code of package session, in one place.
var sayings = map[session.SayCode]sayer{
	session.SayPutOn: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		what, speak := "plate on, then pump on", r.spoken(s.Port)
		if c := r.step(s.Port); c != nil {
			what = r.putOnStep(c, s.Test)
		}
		switch {
		case r.step(s.Port) != nil:
		case s.Port == string(session.OnBlank):
			what = "under the plate, then pump on"
		case s.Port == string(session.OnKnown):
			what = "on the plate, then pump on"
		case s.Detail == string(session.Again):
			what = "once more"
		}
		if s.Detail == string(session.Again) {
			speak = "again, " + speak
		}
		return saying(r.of(s.Port)+": "+what+".", speak, "pump")
	},
	session.SayPulling: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(r.of(s.Port)+": pulling.", "", "")
	},
	session.SayShutOffNow: func(r *LiveRun, s session.Say, st report.Style) LiveSaid {
		return saying(r.of(s.Port)+": steady at "+st.Vacuum(s.Figures["vacuum"])+". Shut off.", "shut", "shut")
	},
	session.SayVentNow: func(r *LiveRun, s session.Say, st report.Style) LiveSaid {
		return saying(r.of(s.Port)+": steady at "+st.Vacuum(s.Figures["vacuum"])+". That is all; open the valve.", "that will do", "5")
	},
	session.SayStepDone: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		if s.To == "" {
			return saying(r.of(s.Port)+": that is all it needs, and the last step.", "", "")
		}
		return saying(r.of(s.Port)+": that is all it needs. Next: "+r.name(s.To)+".", "", "")
	},
	session.SayThatWillDo: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		why := map[session.Reason]string{
			session.Decided: "The answer stands", session.RepeatOnly: "Only another test tells more",
			session.NoSharper: "More time tells no more", session.TimeIsUp: "Time is up",
		}[session.Reason(s.Detail)]
		return saying(r.of(s.Port)+": that will do. "+either(why, "It has told enough")+"; open the valve.", "that will do", "5")
	},
	session.SayFiled: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(fmt.Sprintf("%s: test %d filed, being read.", r.of(s.Port), s.Test), "", "")
	},
	session.SayRefiled: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(fmt.Sprintf("%s: test %d is filed here now.", r.of(s.To), s.Test), r.spoken(s.To), "")
	},
	session.SayNothingPulled: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(r.of(s.Port)+": nothing was pulled, so nothing is filed.", "again, "+r.spoken(s.Port), "")
	},
	session.SayCheckFirst: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(r.of(s.Port)+" first: test it, or skip it.", r.spoken(s.Port), "")
	},
	session.SaySkipped: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(r.of(s.Port)+": skipped.", "", "")
	},
	session.SayNoKnownLeak: func(*LiveRun, session.Say, report.Style) LiveSaid {
		return saying("Known leak: none was given, so it is left out.", "", "")
	},
	session.SayBlankHolds: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying("Blank: it holds, the rig leaks at most "+cm3(s, "high")+" cm³/min.", "blank, holds", "")
	},
	session.SayBlankLeaks: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying("Blank: the rig leaks "+cm3(s, "low")+" to "+cm3(s, "high")+" cm³/min, too much. See to hose and pad.", "blank, leaks", "")
	},
	session.SayBlankUnsure: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		if s.Detail != "" {
			return saying("Blank: no reading came of it. Again, or skip it.", "blank, no reading", "")
		}
		return saying("Blank: "+cm3(s, "low")+" to "+cm3(s, "high")+" cm³/min, which leaves it open. Again, or skip it.", "blank, can't tell yet", "")
	},
	session.SayKnownRight: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying("Known leak: read right, "+cm3(s, "low")+" to "+cm3(s, "high")+" cm³/min.", "known leak, leaks", "")
	},
	session.SayKnownLow: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying("Known leak: read too low, "+cm3(s, "low")+" to "+cm3(s, "high")+" cm³/min. Is it clean? Is the volume right?", "known leak, again", "")
	},
	session.SayKnownHigh: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying("Known leak: read too high, "+cm3(s, "low")+" to "+cm3(s, "high")+" cm³/min. Is the volume right?", "known leak, again", "")
	},
	session.SayKnownNotAbove: func(*LiveRun, session.Say, report.Style) LiveSaid {
		return saying("Known leak: it can't be told from the blank. Is it open?", "known leak, again", "")
	},
	session.SayKnownUnsure: func(*LiveRun, session.Say, report.Style) LiveSaid {
		return saying("Known leak: no reading came of it. Again, or skip it.", "known leak, no reading", "")
	},
	session.SayLastPort: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(r.of(s.Port)+" is the last port.", "", "")
	},
	session.SayDone: func(*LiveRun, session.Say, report.Style) LiveSaid { return saying("The session is ended.", "", "") },
	session.SayNoSuchPort: func(*LiveRun, session.Say, report.Style) LiveSaid {
		return saying("There is nothing of that name to go to.", "", "")
	},
	session.SayNoSuchTest: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying("There is no such test to file under "+r.name(s.Port)+".", "", "")
	},
	session.SayNotNow: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		what := map[string]string{string(session.ShutOff): "There is no pull to shut off.", string(session.Skip): "There is no check to skip."}[s.Detail]
		return saying(either(what, "That can't be done now."), "", "")
	},
	session.SayTrouble: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		w := session.TroubleWords(s.Detail)
		if n := s.Figures["count"]; n > 1 {
			w += ", " + strconv.Itoa(int(n)) + " times"
		}
		return saying(upper(either(s.Source, "gauge"))+": "+w+".", "", "")
	},
	session.SayStale: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(upper(either(s.Source, "gauge"))+": nothing new comes from it. See to its cable.", "no reading", "")
	},
	session.SayBack: func(_ *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(upper(either(s.Source, "gauge"))+": it is there again.", "", "")
	},
	session.SayResumed: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		w := "The session goes on after " + strconv.Itoa(int(s.Figures["away"]+0.5)) + " s away, at " + strings.ToLower(r.name(s.Port)) + "."
		if s.Figures["away"] <= 0 {
			w = "The session goes on, at " + r.name(s.Port) + "."
		}
		return saying(w, "", "")
	},
	session.SayInterrupted: func(r *LiveRun, s session.Say, _ report.Style) LiveSaid {
		return saying(fmt.Sprintf("%s: test %d was cut short, and is filed as far as it went.", r.of(s.Port), s.Test), "again, "+r.spoken(s.Port), "")
	},
}

func either(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

// sayWords puts what a session did into sentences; nothing for what is only shown.
func sayWords(r *LiveRun, a session.Action, st report.Style) []LiveSaid {
	switch a := a.(type) {
	case session.Say:
		f := sayings[a.Code]
		if f == nil {
			return nil
		}
		x := f(r, a, st)
		x.Code = string(a.Code)
		return []LiveSaid{x}
	case session.Call:
		n := strconv.Itoa(int(a.Seconds + 0.5))
		if a.Seconds == 0 {
			return []LiveSaid{{Code: "call", Words: "Hold.", Speak: "hold"}}
		}
		x := LiveSaid{Code: "call", Words: n, Speak: spokenCount(int(a.Seconds + 0.5))}
		if a.Seconds <= 20 {
			x.Tone = n
		}
		return []LiveSaid{x}
	case session.PumpTooLong:
		return []LiveSaid{{Code: "pump-too-long", Words: fmt.Sprintf("%s: the pump is still on, for %d s.", r.of(a.Port), int(a.For)), Speak: "pump still on", Tone: "pump"}}
	}
	return nil
}

// spokenCount is a figure of the count: 25 is "twenty five".
func spokenCount(n int) string {
	switch {
	case n >= 1 && n <= len(spokenNumbers):
		return spokenNumbers[n-1]
	case n == 20:
		return "twenty"
	case n > 20 && n < 30:
		return "twenty " + spokenNumbers[n-21]
	}
	return strconv.Itoa(n)
}

// sayResult puts a test's reading into a sentence, once it is there.
func sayResult(r *LiveRun, f *session.Filed) LiveSaid {
	state, word, leak := filedWords(r, f)
	w := r.of(f.Port) + ": " + word
	if leak != "" {
		w += ", " + leak + " cm³/min"
	}
	return LiveSaid{Code: "read", Words: w + ".", Speak: r.spoken(f.Port) + ", " + spokenStates[string(state)]}
}

// gaugeWords says what is wrong with a gauge.
func gaugeWords(g session.GaugeView) string {
	age := ""
	if g.Age != nil && *g.Age >= 1 {
		age = " for " + strconv.Itoa(int(*g.Age)) + " s"
	}
	switch g.Error {
	case "nothing-yet":
		if g.Trouble != "" {
			return upper(session.TroubleWords(string(g.Trouble))) + "."
		}
		return "Nothing has come from the gauge yet."
	case "lost":
		return "The gauge is gone" + age + ". See to its cable."
	case "stale":
		return "Nothing new from the gauge" + age + ". See to its cable."
	}
	if g.Vacuum == nil && g.Shown != nil {
		return "The gauge's zero is not known yet: open the rig to the room for a moment."
	}
	return ""
}

func showCheck(r *LiveRun, v session.View) checkLive {
	words := func(name string, test int, is session.Outcome, none string) checkedLive {
		out := checkedLive{Code: is}
		switch is {
		case session.Skipped:
			out.Words = name + " skipped"
			return out
		case session.NoMeans:
			out.Words = none
		}
		for _, f := range v.Filed {
			if f.Test == test && test > 0 && f.Estimate != nil {
				if name == "blank" {
					out.Words = blankWords(f.Estimate, is)
				} else {
					out.Words = knownWords(f.Estimate, is, r.Plan.Known)
				}
			}
		}
		return out
	}
	return checkLive{
		Blank: words("blank", v.Check.BlankTest, v.Check.Blank, ""),
		Known: words("known leak", v.Check.KnownTest, v.Check.Known, "no known leak at hand"),
	}
}
