package session

import (
	"maps"
	"slices"

	"seatproof/internal/source"
	"seatproof/trace"
)

// View is a session as a screen shows it. It shares nothing with the state.
type View struct {
	Run    string      `json:"run,omitempty"`
	Now    float64     `json:"now"` // s
	Stage  Stage       `json:"stage"`
	Target string      `json:"target"`         // what is on the plate: a port's identity, or the check
	Next   string      `json:"next,omitempty"` // what "next" would go to; "" where it would not
	Check  Check       `json:"check"`
	Gauges []GaugeView `json:"gauges"`
	Test   *TestView   `json:"test,omitempty"`
	Filed  []Filed     `json:"filed"`
	Steps  []StepView  `json:"steps,omitempty"` // of a check of the rig
}

// GaugeView is a source as a screen shows it.
type GaugeView struct {
	Name     string              `json:"name"`
	Judged   bool                `json:"judged"`
	Phase    trace.PhaseName     `json:"phase"`
	Since    float64             `json:"since"`
	Vacuum   *float64            `json:"vacuum"`            // Pa below the room; null: nothing new enough, or the room not seen yet
	Shown    *float64            `json:"shown"`             // Pa, as the gauge itself shows it; null: nothing new enough
	Room     *float64            `json:"room"`              // Pa, what it shows when vented
	Age      *float64            `json:"age"`               // s of the last reading; null: there was none
	Error    string              `json:"error,omitempty"`   // "nothing-yet", "stale", "lost"
	Trouble  source.Code         `json:"trouble,omitempty"` // the last thing it told that is not over
	Detail   string              `json:"detail,omitempty"`
	Troubles map[source.Code]int `json:"troubles,omitempty"` // all of them, counted
	Samples  int                 `json:"samples"`
	Bad      int                 `json:"bad,omitempty"` // figures that can't be a gauge's
}

// TestView is the test under way.
type TestView struct {
	Test     int       `json:"test"`
	Port     string    `json:"port"`
	Pulled   float64   `json:"pulled"` // s ago
	Steady   float64   `json:"steady,omitempty"`
	Held     float64   `json:"held,omitempty"`
	Deepest  float64   `json:"deepest"` // Pa
	Estimate *Estimate `json:"estimate,omitempty"`
	Enough   Reason    `json:"enough,omitempty"`
	PumpOn   int       `json:"pump_on,omitempty"` // times it was said that the pump runs on
}

// View returns what a screen shows.
func (s State) View() View {
	v := View{Now: s.now, Stage: s.stage, Check: s.check, Filed: slices.Clone(s.filed), Gauges: []GaugeView{}}
	if v.Filed == nil {
		v.Filed = []Filed{}
	}
	if s.plan == nil {
		return v
	}
	v.Run, v.Target, v.Next = s.plan.Run, s.target(), s.following()
	v.Steps = s.stepViews()
	for i, g := range s.gauges {
		v.Gauges = append(v.Gauges, g.view(s.now, s.plan.Manner.Stale, i == 0))
	}
	if t := s.test; t != nil {
		tv := TestView{Test: t.number, Port: t.port, Pulled: s.now - t.pulled, Deepest: s.gauges[0].watch.Deepest(), Enough: t.reason, PumpOn: t.warned}
		if t.steady > 0 {
			tv.Steady = s.now - t.steady
		}
		if t.held > 0 {
			tv.Held = s.now - t.held
		}
		if n := len(t.looks); n > 0 {
			e := t.looks[n-1]
			tv.Estimate = &e
		}
		v.Test = &tv
	}
	return v
}

// following is what "next" goes to.
func (s State) following() string {
	switch {
	case s.stage == OnBlank && s.plan.Known != nil:
		return string(OnKnown)
	case s.stage == OnBlank || s.stage == OnKnown:
		if len(s.plan.Ports) > 0 {
			return s.plan.Ports[0].ID
		}
	case s.stage == OnCheck && s.at+1 < len(s.plan.Steps):
		return s.plan.Steps[s.at+1].ID
	case s.stage == OnPorts && s.at+1 < len(s.plan.Ports):
		return s.plan.Ports[s.at+1].ID
	}
	return ""
}

func (g *gauge) view(now, stale float64, judged bool) GaugeView {
	v := GaugeView{Name: g.plan.Name, Judged: judged, Trouble: g.trouble, Detail: g.detail, Troubles: maps.Clone(g.troubles), Samples: g.got, Bad: g.bad}
	v.Phase, v.Since = g.watch.Phase()
	if room, ok := g.watch.Room(); ok {
		v.Room = &room
	}
	age := now - g.lastAt
	switch {
	case g.got == 0:
		v.Error = "nothing-yet"
		return v
	case !g.seen:
		v.Error = "lost"
	case age > stale:
		v.Error = "stale"
	}
	v.Age = &age
	if v.Error != "" {
		return v // an old figure is never shown as a new one
	}
	if g.watch.bins.any {
		shown := g.watch.bins.last
		if g.plan.Reads == trace.Absolute {
			shown = -shown
		}
		v.Shown = &shown
		if _, ok := g.watch.Vacuum(); ok {
			level := g.watch.Level()
			v.Vacuum = &level
		}
	}
	return v
}
