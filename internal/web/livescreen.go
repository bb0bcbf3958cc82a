package web

import (
	"context"

	"seatproof/internal/session"
)

// LiveScreen is a run in words, for a screen that is no browser's.
type LiveScreen struct {
	Head     string
	Practise bool
	Over     bool
	Check    bool // the blank or the known leak is asked for
	Target   string
	Next     string // "" where there is none
	Step     string // what is being done, in a few words
	Vacuum   string // "" where nothing new enough came
	Unit     string
	Says     string // what is wrong with the gauge
	Hold     string // how long it has held, what was lost, what it comes to so far
	Filed    []string
	Checks   []string
	Trouble  string
	Said     []string
	Ports    [][2]string // identity and name, in the order of the run
}

// steps are what is being done, by the phase of the judged gauge.
var steps = map[string]string{"": "waiting for the gauge to stand still", "vented": "vented: plate on, then pump on", "pull": "pulling: until it stands still", "steady": "steady: shut off", "hold": "holding: hands off"}

// LiveScreen puts the run as it stands, and what came, into words; false where
// there is no run.
func (s *Server) LiveScreen(ctx context.Context, news LiveNews) (LiveScreen, bool) {
	now, ok := s.Live.Now()
	if !ok {
		return LiveScreen{}, false
	}
	st := s.style(ctx)
	r := s.showRun(now, st)
	v := r.View
	out := LiveScreen{
		Head: r.Head, Practise: r.Practise, Over: v.Stage == session.Over, Check: v.Stage == session.OnBlank || v.Stage == session.OnKnown,
		Target: upper(v.TargetName), Next: v.NextName, Unit: r.Unit, Trouble: r.Trouble,
	}
	if len(v.Gauges) > 0 {
		g := v.Gauges[0]
		out.Vacuum, out.Says, out.Step = g.Text, g.Says, steps[string(g.Phase)]
	}
	if t := v.Test; t != nil {
		if t.Enough != "" {
			out.Step = "that will do: open the valve"
		}
		if t.Held > 0 {
			out.Hold = "lost " + t.Lost + " in " + t.LostIn
			if e := t.Estimate; e != nil {
				out.Hold += ", so far " + e.Word
				if e.Leak != "" {
					out.Hold += ": " + e.Leak + " cm³/min"
				}
			}
		}
	}
	for _, f := range v.Filed {
		w := f.Word
		if w == "" {
			w = "being read"
		}
		if f.Leak != "" {
			w += ", " + f.Leak + " cm³/min"
		}
		out.Filed = append(out.Filed, upper(f.Name)+": "+w)
	}
	for _, c := range []checkedLive{v.Check.Blank, v.Check.Known} {
		if c.Words != "" {
			out.Checks = append(out.Checks, upper(c.Words))
		}
	}
	for _, p := range now.Run.Plan.Ports {
		out.Ports = append(out.Ports, [2]string{p.ID, p.Name})
	}
	m := frames{s: s, style: st, run: now.Run.ID}
	for _, x := range m.next(news, s.Now()).Say {
		out.Said = append(out.Said, x.Words)
	}
	return out, true
}
