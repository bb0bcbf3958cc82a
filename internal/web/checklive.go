package web

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/session"
	"seatproof/rig"
	"seatproof/unit"
)

// LiveCheck asks for a check of a rig, as POST /api/live does under "check".
type LiveCheck struct {
	Steps []string    `json:"steps"` // codes, in the order of the sheet; none: those of a day
	Known []LiveKnown `json:"known"` // known leaks at hand; the first must be called leaking
}

// LiveKnown is a known leak as a person gives it.
type LiveKnown struct {
	Name string `json:"name"`
	Flow string `json:"flow"` // with its ±, in cm³/min of free air at 50 kPa
	Way  string `json:"way"`  // "jet", "tube"; "": not said
}

// pulls is how a step of the check is made on a live source.
type pulls struct {
	on    session.Place
	tests int
	hold  float64 // s
	runs  bool    // the pump runs on behind the shut valve
	from  int     // of the known leaks, the first that it takes
	most  int     // known leaks that it takes; 0: none
}

// onRig says how the steps that a rig can show are pulled. Numbers and times are
// common practice, no source.
var onRig = map[string]pulls{
	stepZero:     {on: session.Open, hold: 10},
	stepBlanked:  {on: session.Blanked, tests: 5},
	stepRigLeak:  {on: session.Blanked, hold: 30},
	stepKnown:    {on: session.OnAKnown, hold: 25, most: 1},
	stepTwoHolds: {on: session.OnAKnown, hold: 15, from: 1, most: 1},
	stepCurve:    {on: session.OnAKnown, most: 12},
	stepDry:      {on: session.Blanked, tests: 5, hold: 20},
	stepValve:    {on: session.Blanked, hold: 30, runs: true},
}

// practiceLeaks are the known leaks of the practice rig [cm³/min].
var practiceLeaks = []LiveKnown{{"jet A", "60 ± 3", wayJet}, {"jet B", "120 ± 4", wayJet}, {"jet C", "1500 ± 45", wayJet}, {"jet D", "3500 ± 105", wayJet}, {"jet E", "6000 ± 180", wayJet}}

// checkPlan builds the plan of a check of a rig.
func (s *Server) checkPlan(ctx context.Context, ask LiveAsk, f *faults) (LivePlan, error) {
	p := LivePlan{RigID: ask.Rig, Practise: ask.Practise, Conditions: head.Conditions{Held: rig.HeldOwnSpring, Wet: rig.WetNothing}}
	if ask.Job != "" {
		f.add("job", "A check is of a rig, not of a head.", "Leave the head out.")
	}
	known := ask.Check.Known
	if p.Practise != nil {
		p.Practise.speeds(f)
		if len(known) == 0 {
			known = practiceLeaks
		}
		if p.RigID != practiceRigID {
			if p.RigID != "" && p.RigID != bareRigID {
				f.add("practise", "This is a real rig: make-believe checks would stand among its own.", "Practise on the practice rig.")
				return p, nil
			}
			if err := s.bareRig(ctx); err != nil {
				return p, err
			}
			p.RigID = bareRigID
		}
	}
	if p.RigID == "" {
		f.add("rig", "Say which rig is checked.", "")
		return p, nil
	}
	g, err := load[head.Rig](ctx, s.Keeper, kindRig, p.RigID)
	if err != nil {
		return p, err
	}
	r, bad := s.ReadRig(g.V.File)
	if len(bad) > 0 {
		f.add("rig", "The rig's file can't be read: "+bad[0].Problem+".", "Mend it on the rig's sheet first.")
	}
	r.Name = g.V.Name
	p.Rig, p.Job = r, head.Job{Number: g.V.Name}
	var leaks []session.KnownLeak
	for i, k := range known {
		field := "check.known." + strconv.Itoa(i) + ".flow"
		m, way := catalogued(either(k.Flow, k.Name), r)
		if m.Known {
			k.Way, k.Name = way, either(k.Name, k.Flow)
		} else if name, _, _ := strings.Cut(either(k.Flow, k.Name), ", "); isCatalogued(name) {
			f.add(field, "How long "+strings.TrimSpace(name)+" is has to be said: a tube's flow goes by its length.", "As in 13 mm.")
			continue
		} else {
			m = (asked{Text: k.Flow}).positive(unit.FlowDim, "cm³/min", field, f)
		}
		if !m.Known {
			if strings.TrimSpace(k.Flow) == "" {
				f.add(field, "Give its flow, with what it may be off.", "As in 60 ± 5.")
			}
			continue
		}
		name := strings.TrimSpace(k.Name)
		if name == "" {
			name = "the known leak of " + unit.Format(unit.Exactly(m.Value), unit.FlowDim, "cm³/min", 2)
		}
		leaks = append(leaks, session.KnownLeak{Name: name, Flow: within(m), Way: k.Way})
	}
	want := ask.Check.Steps
	if len(want) == 0 {
		want = daySteps
	}
	for i, code := range want {
		if _, ok := onRig[code]; !ok {
			f.add("check.steps."+strconv.Itoa(i), "The check has no such step on a live source.", "Take "+strings.Join(liveSteps(), ", ")+".")
		}
	}
	for _, code := range liveSteps() { // in the sheet's order, each once
		how := onRig[code]
		if !slices.Contains(want, code) {
			continue
		}
		c := session.CheckStep{ID: code, Name: stepName(code), On: how.on, Tests: how.tests, Hold: how.hold, Runs: how.runs}
		if how.most > 0 {
			from := min(how.from, len(leaks))
			if c.Known = slices.Clone(leaks[from:min(from+how.most, len(leaks))]); code == stepCurve {
				c.Known = largeLeaks(c.Known)
			}
			if len(c.Known) == 0 {
				continue // none is at hand
			}
		}
		p.Steps = append(p.Steps, c)
	}
	if len(p.Steps) == 0 && len(*f) == 0 {
		f.add("check.steps", "Nothing is left to be checked.", "Give a known leak, or take another step.")
	}
	return p, nil
}

// isCatalogued says whether the catalogue has a known leak of that name.
func isCatalogued(name string) bool {
	_, ok := check.Find(check.Catalogue(), strings.TrimSpace(name))
	return ok && strings.TrimSpace(name) != ""
}

// largeLeaks are those that move the needle of most pumps: two or more of them, or
// all.
func largeLeaks(all []session.KnownLeak) []session.KnownLeak {
	large := slices.DeleteFunc(slices.Clone(all), func(k session.KnownLeak) bool { return k.Flow.Median < movesNeedle })
	if len(large) < 2 {
		return all
	}
	return large
}

const movesNeedle = 200e-6 / 60 // m³/s (common practice, no source)

// bareRigID is the identity of the practice rig of which nothing is known yet.
const bareRigID = "practice-rig-bare"

// bareRig keeps the practice rig of which nothing is known, once.
func (s *Server) bareRig(ctx context.Context) error {
	_, err := load[head.Rig](ctx, s.Keeper, kindRig, bareRigID)
	if !errors.Is(err, ErrNotFound) {
		return err
	}
	v := head.Rig{ID: bareRigID, Name: "practice rig, as found"}
	file, bad := s.EditRig("", rig.Rig{Name: v.Name, Gauge: rig.Gauge{Kind: rig.GaugeDigital}})
	if len(bad) > 0 {
		return errors.New("the bare practice rig can't be written: " + bad[0].Problem)
	}
	v.File = file
	_, err = save(ctx, s, kept[head.Rig]{Doc: Doc{Kind: kindRig, ID: bareRigID}, V: v}, "")
	return err
}
