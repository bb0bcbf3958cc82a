package web

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"strings"

	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/limit"
)

// runShown is a run as a sheet shows it.
type runShown struct {
	ID       string      `json:"id"`
	Job      string      `json:"job"` // "": a check of the rig
	Rig      string      `json:"rig"`
	Head     string      `json:"head"` // its number
	Practise bool        `json:"practise"`
	Unit     string      `json:"unit"`
	Began    int64       `json:"began"` // ms since 1970 UTC
	View     viewShown   `json:"view"`
	Limits   []liveLimit `json:"limits"` // of what is under the plate
	Trouble  string      `json:"trouble,omitempty"`
	Relay    *LiveRelay  `json:"relay,omitempty"`
}

type liveLimit struct {
	Words string  `json:"words"`
	Flow  float64 `json:"flow"` // m³/s of free air at 50 kPa
}

type viewShown struct {
	session.View
	TargetName string            `json:"target_name"`
	NextName   string            `json:"next_name"`
	Gauges     []gaugeLive       `json:"gauges"`
	Test       *testLive         `json:"test,omitempty"`
	Filed      []filedLive       `json:"filed"` // newest first
	Check      checkLive         `json:"check"`
	Facts      map[string]string `json:"facts"`
	Steps      []stepLive        `json:"steps,omitempty"` // of a check of the rig
}

type stepLive struct {
	session.StepView
	Name  string `json:"name"`
	PutOn string `json:"put_on"` // what to do
}

type gaugeLive struct {
	session.GaugeView
	Text  string   `json:"text"`
	Value *float64 `json:"value"`
	Says  string   `json:"says"`
}

type testLive struct {
	session.TestView
	Lost     string        `json:"lost"`
	LostIn   string        `json:"lost_in"`
	HeldS    int           `json:"held_s"`
	OfS      int           `json:"of_s"`
	Estimate *estimateLive `json:"estimate"`
}

type estimateLive struct {
	Leak  string `json:"leak"`
	This  string `json:"this"`
	Limit string `json:"limit"`
	Word  string `json:"word"`
}

type filedLive struct {
	Test        int          `json:"test"`
	Port        string       `json:"port"`
	Name        string       `json:"name"`
	State       report.State `json:"state"` // "" while it is being read
	Word        string       `json:"word"`
	Leak        string       `json:"leak"`
	At          string       `json:"at"`
	ID          string       `json:"id"` // of its record; "" while it is being filed
	Interrupted bool         `json:"interrupted"`
}

type checkedLive struct {
	Code  session.Outcome `json:"code"`
	Words string          `json:"words"`
}

type checkLive struct {
	Blank checkedLive `json:"blank"`
	Known checkedLive `json:"known"`
}

type fitShown struct {
	Points []point     `json:"points"`
	Limits []limitLine `json:"limits"`
}

// stepOf is the step [Pa] in which a gauge is shown: its own; 0: not known.
func stepOf(now LiveNow, gauge int) float64 {
	if gauge < len(now.Run.Plan.Sources) {
		return now.Run.Plan.Sources[gauge].Step
	}
	return 0
}

// vacuumText writes a vacuum as its gauge shows it, without the unit: to its own
// step, and no finer than a screen is read.
func vacuumText(v, step float64, st report.Style) string {
	size := st.Unit.Size
	if size == 0 {
		size = report.KPa.Size
	}
	finest := max(0, int(math.Ceil(math.Log10(size/11)))) // a hundredth of kPa or inHg, a tenth of mbar or mmHg
	if step <= 0 {
		step = 100
	}
	decimals := min(finest, max(0, int(math.Ceil(-math.Log10(step/size)-1e-9))))
	text := strconv.FormatFloat(v/size, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// showRun shows a run in a person's units.
func (s *Server) showRun(now LiveNow, st report.Style) runShown {
	r, v := &now.Run, now.View
	if st.Unit.Size == 0 {
		st.Unit = report.KPa
	}
	out := runShown{ID: r.ID, Job: r.Job, Rig: r.RigID, Head: r.Number, Practise: r.Practise, Unit: st.Unit.Name, Began: r.Plan.Started, Trouble: r.Trouble, Relay: r.Relay, Limits: limitsOf(r, v.Target)}
	out.View = viewShown{View: v, TargetName: r.name(v.Target), Gauges: []gaugeLive{}, Filed: []filedLive{}, Facts: map[string]string{"vented": "", "pull": "", "hold": "", "vent": ""}}
	if v.Stage == session.Over || v.Stage == session.Idle {
		out.View.TargetName = ""
	}
	if v.Next != "" {
		out.View.NextName = r.name(v.Next)
	}
	for i, g := range v.Gauges {
		x := gaugeLive{GaugeView: g, Says: gaugeWords(g)}
		if g.Vacuum != nil {
			u := round(*g.Vacuum / st.Unit.Size)
			x.Value, x.Text = &u, vacuumText(*g.Vacuum, stepOf(now, i), st)
		}
		out.View.Gauges = append(out.View.Gauges, x)
	}
	if len(v.Gauges) > 0 && v.Gauges[0].Room != nil {
		out.View.Facts["vented"] = "zero " + vacuumText(*v.Gauges[0].Room, stepOf(now, 0), st) + " " + st.Unit.Name
		if *v.Gauges[0].Room > 50e3 {
			out.View.Facts["vented"] = "room " + vacuumText(*v.Gauges[0].Room, stepOf(now, 0), st) + " " + st.Unit.Name
		}
	}
	if t := v.Test; t != nil {
		out.View.Test = showLiveTest(r, t, v, st)
		if t.Steady > 0 && t.Deepest > 0 {
			out.View.Facts["pull"] = "steady " + st.Vacuum(t.Deepest)
		}
	}
	for i := len(v.Filed) - 1; i >= 0; i-- {
		f := v.Filed[i]
		state, word, leak := filedWords(r, &f)
		x := filedLive{Test: f.Test, Port: f.Port, Name: r.name(f.Port), State: state, Word: word, Leak: leak, Interrupted: f.Interrupted}
		if rec, ok := now.Records[f.Test]; ok {
			x.ID, x.At = rec.ID, clock(rec.At)
		}
		out.View.Filed = append(out.View.Filed, x)
	}
	out.View.Check = showCheck(r, v)
	for i, x := range v.Steps {
		if i < len(r.Plan.Steps) {
			out.View.Steps = append(out.View.Steps, stepLive{x, r.name(x.ID), upper(r.putOnStep(&r.Plan.Steps[i], x.Known)) + "."})
		}
	}
	return out
}

// clock is the time of the day, as moment has it.
func clock(at int64) string {
	words := strings.Fields(moment(at))
	return words[len(words)-1]
}

// plannedHold is the longest hold that a run thinks useful [s].
func plannedHold(r *LiveRun) float64 {
	if h := r.Plan.Manner.Hold; h > 0 {
		return h
	}
	return 30
}

func showLiveTest(r *LiveRun, t *session.TestView, v session.View, st report.Style) *testLive {
	hold := plannedHold(r)
	if c := r.step(t.Port); c != nil && c.Hold > 0 {
		hold = c.Hold
	}
	x := &testLive{TestView: *t, HeldS: int(t.Held), OfS: int(math.Round(hold))}
	if t.Held > 0 {
		x.LostIn = strconv.Itoa(x.HeldS) + " s"
		if len(v.Gauges) > 0 && v.Gauges[0].Vacuum != nil {
			lost := math.Max(0, t.Deepest-*v.Gauges[0].Vacuum)
			x.Lost = report.Figure(lost/st.Unit.Size, 2) + " " + st.Unit.Name
			if lost < 0.1*st.Unit.Size {
				x.Lost = "0 " + st.Unit.Name
			}
		}
	}
	if e := t.Estimate; e != nil {
		_, word, leak := estimateWords(r, t.Port, e)
		x.Estimate = &estimateLive{Leak: leak, Word: word}
		if e.Leak != nil {
			x.Estimate.This = report.Figure(e.Leak.Low*6e7, 2) + " to " + report.Figure(e.Leak.High*6e7, 2)
		}
		if e.Limit > 0 {
			x.Estimate.Limit = report.Figure(e.Limit*6e7, 2)
		}
	}
	return x
}

// estimateWords says what an estimate comes to by the limits of its port: holds
// where this port, tested again, is below that of one valve, leaks where it is
// above that of all (docs/model.md §9).
func estimateWords(r *LiveRun, target string, e *session.Estimate) (report.State, string, string) {
	if e.Leak == nil {
		return report.Refused, wordOf(stateWords, report.Refused), ""
	}
	leak := report.Figure(e.Leak.Median*6e7, 2)
	if e.UpperOnly {
		leak = "< " + report.Figure(e.Leak.High*6e7, 2)
	}
	st := report.CantTellYet
	switch {
	case target == string(session.OnKnown): // it must be called leaking
		if e.Leak.Low > 0 {
			st = report.Leaks
		}
	case e.Limit == 0:
		st = report.NoVerdict
	case limit.Judge(e.OverAgain, r.Plan.Strict) == limit.Holds:
		st = report.Holds
	case limit.Judge(e.OverAll, r.Plan.Strict) == limit.Leaks && !e.UpperOnly:
		st = report.Leaks
	}
	return st, wordOf(stateWords, st), leak
}

func filedWords(r *LiveRun, f *session.Filed) (state report.State, word, leak string) {
	if f.Estimate == nil {
		return "", "", ""
	}
	return estimateWords(r, f.Port, f.Estimate)
}

func limitsOf(r *LiveRun, target string) []liveLimit {
	p := r.port(target)
	out := []liveLimit{}
	if p.Limit <= 0 {
		return out
	}
	figure := func(q float64) string { return report.Figure(q*6e7, 2) }
	if p.All > 1.01*p.Limit {
		out = append(out, liveLimit{"one valve’s limit " + figure(p.Limit), p.Limit})
		return append(out, liveLimit{"all valves’ limit " + figure(p.All), p.All})
	}
	return append(out, liveLimit{"limit " + figure(p.Limit), p.Limit})
}

// showFit draws a fitted hold and how it would have gone at the limits, in the
// session's time.
func showFit(now *LiveNow, l *LiveLooked, st report.Style) *fitShown {
	f := &fitShown{Points: []point{}, Limits: []limitLine{}}
	if l.Reading == nil || len(l.Reading.Curve) == 0 {
		return f
	}
	if st.Unit.Size == 0 {
		st.Unit = report.KPa
	}
	g := l.Look.Rig
	o := &report.Outcome{Reading: l.Reading, Room: l.Reading.Room, RigLeak: g.RigLeak.Value}
	if g.Volume.Known && g.Port.Volume.Known {
		o.Volume = g.Volume.Value + g.Port.Volume.Value
	}
	thin := func(pts []report.Point) []point {
		out := points(pts, -l.Look.From, st.Unit.Size)
		if every := len(out)/100 + 1; every > 1 {
			last := out[len(out)-1]
			kept := slices.Collect(func(yield func(point) bool) {
				for i := 0; i < len(out); i += every {
					if !yield(out[i]) {
						return
					}
				}
			})
			out = append(kept, last)
		}
		return out
	}
	var curve []report.Point
	for _, c := range l.Reading.Curve {
		curve = append(curve, report.Point(c))
	}
	f.Points = thin(curve)
	if l.Reading.Leak == nil {
		return f
	}
	ahead := 0.0 // the limits are drawn to the planned end of a hold that goes on
	if !l.Look.Final {
		ahead = l.Reading.Curve[0].Time + plannedHold(&now.Run)
	}
	for _, x := range limitsOf(&now.Run, l.Look.Port) {
		f.Limits = append(f.Limits, limitLine{x.Words, thin(o.LimitPoints(x.Flow, ahead))})
	}
	return f
}

// still is a run without what its points tell: what must change for it to be
// sent again.
func (r runShown) still() []byte {
	r.View.Now = 0
	r.View.Gauges = slices.Clone(r.View.Gauges)
	for i := range r.View.Gauges {
		g := &r.View.Gauges[i]
		g.Vacuum, g.Shown, g.Age, g.Value, g.Text, g.Samples, g.Room = nil, nil, nil, nil, strconv.FormatBool(g.Text != ""), 0, nil
	}
	if r.View.Test != nil {
		t := *r.View.Test
		t.Pulled, t.Held, t.Deepest = math.Floor(t.Pulled), math.Floor(t.Held), 0
		t.Steady = math.Min(t.Steady, 1e-9)
		r.View.Test = &t
	}
	r.View.Steps = slices.Clone(r.View.Steps)
	for i := range r.View.Steps {
		r.View.Steps[i].Stands = math.Floor(r.View.Steps[i].Stands)
	}
	r.View.View.Steps = nil
	r.View.View.Filed, r.View.View.Gauges, r.View.View.Test = nil, nil, nil
	b, _ := json.Marshal(r)
	return b
}
