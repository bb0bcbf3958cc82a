package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/unit"
)

// Live runs tests live from sensors. This package opens none: whoever does is
// introduced here. Its methods are safe for concurrent use.
type Live interface {
	// Kinds lists the kinds of source, and Faults what a practice rig can have.
	Kinds() []LiveKind
	Faults() []LiveFault
	// PracticeRig returns the rig of practice runs, as its owner would state it,
	// and its file.
	PracticeRig() (rig.Rig, string)
	// PracticeTests returns tests of a make-believe head on the practice rig.
	PracticeTests() []PracticeTest
	// Begin begins a run and returns once its first step is made. The error is a
	// *Fault with fields, or ErrUnderWay.
	Begin(ctx context.Context, p LivePlan) error
	// Key does what a person wants, and returns once it is done; ErrNoRun.
	Key(ctx context.Context, k session.Key) error
	// Switch asks the run's relay for "pull", "hold" or "stop"; ErrNoRun, or a
	// *Fault where the interlock refuses.
	Switch(ctx context.Context, do string) error
	// Now returns the run as it stands, and whether there is one.
	Now() (LiveNow, bool)
	// Join returns what happens from now on, and what is needed to begin with.
	Join() LiveReader
}

// Errors of a Live.
var (
	ErrUnderWay = errors.New("a run is under way")
	ErrNoRun    = errors.New("no run is under way")
)

// LiveKind is a kind of source, as a form offers it.
type LiveKind struct {
	Name    string       `json:"name"`
	Words   string       `json:"words"`
	Example string       `json:"example"`
	Page    string       `json:"page"`
	Options []LiveOption `json:"options"`
}

// LiveOption is one thing that may be said of a source.
type LiveOption struct {
	Key     string   `json:"key"`
	Words   string   `json:"words"`
	Hint    string   `json:"hint"`
	Default string   `json:"default"`
	Choice  []string `json:"choice"`
	Secret  bool     `json:"secret"`
}

// LiveFault is a fault that a practice rig can have.
type LiveFault struct {
	Code string `json:"code"`
	Word string `json:"word"`
	Port bool   `json:"port,omitempty"` // of a port or its valves: a check of the rig alone has none
}

// LivePlan is what a run sets out with.
type LivePlan struct {
	Job        head.Job
	Rig        rig.Rig
	RigID      string
	Sources    []string
	Practise   *LivePractise // nil: real sources
	Known      *leak.Interval
	Conditions head.Conditions
	Ports      []session.Port
	Steps      []session.CheckStep // of a check of the rig, instead of head and ports
	By         string
	Relay      string // address of what runs pump and shut-off valve; "": a person does
}

// LivePractise asks for a make-believe rig.
type LivePractise struct {
	Speed  float64  `json:"speed"`
	Faults []string `json:"faults"`
}

// LiveRun is what is known of a run beside its state.
type LiveRun struct {
	ID         string
	Job        string
	Number     string
	By         string
	RigID      string
	Practise   bool
	Conditions head.Conditions
	Plan       session.Plan
	Trouble    string // what keeps journal or records from being written; ""
	Relay      *LiveRelay
}

// LiveRelay is where the relay of a run stands.
type LiveRelay struct {
	State   string `json:"state"` // of package relay: "unknown", "off", "pulling", "stopping"
	Why     string `json:"why"`   // it stopped last; ""
	Trouble string `json:"trouble"`
}

// LiveNow is a run as it stands.
type LiveNow struct {
	Run     LiveRun
	View    session.View
	Records map[int]LiveRecord // by test
}

// LiveRecord is what a test was filed as.
type LiveRecord struct {
	ID string
	At int64 // ms since 1970 UTC
}

// LiveReader is who watches a run.
type LiveReader interface {
	// Wake gives a token when there is something to take.
	Wake() <-chan struct{}
	// Take returns what came since the last one. Nothing else holds it.
	Take() LiveNews
	// Leave ends it.
	Leave()
}

// LiveNews is what came since it was last asked for.
type LiveNews struct {
	Run    string           // the run's identity
	Now    float64          // s of the session
	Points [][2]float64     // s, Pa of vacuum
	Did    []session.Action // what is said and called
	Looked *LiveLooked      // the newest; nil: none came
}

// LiveLooked is an answer of the estimator.
type LiveLooked struct {
	Look     session.Look
	Estimate session.Estimate
	Reading  *leak.Reading
}

// Targets of a run that are no ports.
var targetNames = map[string]string{string(session.OnBlank): "the blank", string(session.OnKnown): "the known leak"}

func (r *LiveRun) name(target string) string {
	if c := r.step(target); c != nil && c.Name != "" {
		return c.Name
	}
	if n := targetNames[target]; n != "" {
		return n
	}
	for _, p := range r.Plan.Ports {
		if p.ID == target {
			return p.Name
		}
	}
	return target
}

func (r *LiveRun) port(target string) session.Port {
	for _, p := range r.Plan.Ports {
		if p.ID == target {
			return p
		}
	}
	return session.Port{}
}

func (s *Server) noLive() error {
	if s.Live == nil {
		return &Fault{Status: http.StatusServiceUnavailable, What: "this server runs no tests", Do: "start seatproof serve on the machine that the gauge is at"}
	}
	return nil
}

func (s *Server) getLive(w http.ResponseWriter, r *http.Request) error {
	if err := s.noLive(); err != nil {
		return err
	}
	body := map[string]any{"run": nil, "kinds": s.Live.Kinds(), "faults": s.Live.Faults()}
	if now, ok := s.Live.Now(); ok && now.View.Stage != session.Over {
		body["run"] = s.showRun(now, s.style(r.Context()))
	}
	return s.answer(w, http.StatusOK, body)
}

// LiveAsk asks for a run, as POST /api/live does.
type LiveAsk struct {
	Job        string           `json:"job"`
	Rig        string           `json:"rig"`
	Sources    []string         `json:"sources"`
	Practise   *LivePractise    `json:"practise"`
	Known      string           `json:"known"`
	Conditions *head.Conditions `json:"conditions"`
	Order      []string         `json:"order"`
	By         string           `json:"by"`
	Relay      string           `json:"relay"`
	Check      *LiveCheck       `json:"check"` // a check of the rig, instead of a head
}

func (s *Server) beginLive(w http.ResponseWriter, r *http.Request) error {
	var ask LiveAsk
	if err := s.noLive(); err != nil {
		return err
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if err := s.BeginLive(r.Context(), ask); err != nil {
		return err
	}
	now, ok := s.Live.Now()
	if !ok {
		return errors.New("a run was begun and is not there")
	}
	return s.answer(w, http.StatusCreated, map[string]any{"run": s.showRun(now, s.style(r.Context()))})
}

// BeginLive begins a run; the error is a *Fault, its fields those of LiveAsk.
func (s *Server) BeginLive(ctx context.Context, ask LiveAsk) error {
	var f faults
	var plan LivePlan
	var err error
	if ask.Check != nil {
		plan, err = s.checkPlan(ctx, ask, &f)
	} else {
		plan, err = s.livePlan(ctx, ask.Job, ask.Rig, ask.Practise, ask.Order, ask.Conditions, &f)
	}
	if err != nil {
		return err
	}
	for i, a := range ask.Sources {
		if a = strings.TrimSpace(a); a != "" || i == 0 {
			plan.Sources = append(plan.Sources, a)
		}
	}
	if plan.Practise == nil && (len(plan.Sources) == 0 || plan.Sources[0] == "") {
		f.add("sources.0", "Nothing says where the vacuum comes from.", "Choose the gauge, or practise on a make-believe rig.")
	}
	if m := (asked{Text: ask.Known}).positive(unit.FlowDim, "cm³/min", "known", &f); m.Known {
		if m.Spread <= 0 {
			m.Spread = 0.05 * m.Value // common practice, no source: a jet is rarely known better
		}
		plan.Known = &leak.Interval{Median: m.Value, Low: max(0, m.Value-m.Spread), High: m.Value + m.Spread}
	}
	plan.By, plan.Relay = ask.By, strings.TrimSpace(ask.Relay)
	if plan.Relay != "" && plan.Practise != nil {
		f.add("relay", "A make-believe rig has no relay.", "Leave it out.")
	}
	if plan.By == "" {
		if set, err := s.loadSettings(ctx); err == nil {
			plan.By = set.V.Initials
		}
	}
	if err := f.err(); err != nil {
		return err
	}
	if err := s.Live.Begin(ctx, plan); errors.Is(err, ErrUnderWay) {
		return s.underWay()
	} else if err != nil {
		return err
	}
	s.TellLive()
	return nil
}

// switchLive asks the relay of the run under way for something.
func (s *Server) switchLive(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Do string `json:"do"`
	}
	if err := s.noLive(); err != nil {
		return err
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if err := s.Live.Switch(r.Context(), ask.Do); errors.Is(err, ErrNoRun) {
		return &Fault{Status: http.StatusConflict, What: "no run is under way", Do: "begin one"}
	} else if err != nil {
		return err
	}
	now, _ := s.Live.Now()
	return s.answer(w, http.StatusOK, map[string]any{"run": s.showRun(now, s.style(r.Context()))})
}

func (s *Server) underWay() error {
	what := "a run is under way"
	if now, ok := s.Live.Now(); ok {
		what += ", on head " + now.Run.Number
		if now.Run.Job == "" {
			what = "a check of " + now.Run.Number + " is under way"
		}
	}
	return &Fault{Status: http.StatusConflict, What: what, Do: "end it first"}
}

// speeds refuses a speed that no practice rig runs at.
func (p *LivePractise) speeds(f *faults) {
	if p.Speed == 0 {
		p.Speed = 1
	}
	if !(p.Speed >= 0.1 && p.Speed <= 100) {
		f.add("practise.speed", "A practice rig runs at a tenth to a hundred times the speed of a real one.", "")
	}
}

// livePlan builds the plan of a run from head and rig.
func (s *Server) livePlan(ctx context.Context, job, rigID string, practise *LivePractise, order []string, c *head.Conditions, f *faults) (LivePlan, error) {
	k, err := load[head.Job](ctx, s.Keeper, kindJob, job)
	if err != nil {
		return LivePlan{}, err
	}
	set, err := s.loadSettings(ctx)
	if err != nil {
		return LivePlan{}, err
	}
	p := LivePlan{Job: k.V, RigID: rigID, Practise: practise, Conditions: set.V.Conditions}
	if c != nil {
		p.Conditions = *c
	}
	checkConditions(p.Conditions, &k, f)
	if practise != nil {
		practise.speeds(f)
		if err := s.mayPractise(ctx, k); err != nil {
			return p, err
		}
		var file string
		p.Rig, file = s.Live.PracticeRig()
		if p.RigID, err = s.practiceRig(ctx, file); err != nil {
			return p, err
		}
		return p, s.planPorts(ctx, &p, k, order, f)
	}
	for _, id := range []string{k.V.RigID, set.V.Rig} {
		if p.RigID == "" {
			p.RigID = id
		}
	}
	if p.RigID != "" {
		g, err := load[head.Rig](ctx, s.Keeper, kindRig, p.RigID)
		if err != nil {
			return p, err
		}
		r, bad := s.ReadRig(g.V.File)
		if len(bad) > 0 {
			f.add("rig", "The rig's file can't be read: "+bad[0].Problem+".", "Mend it on the rig's sheet first.")
		}
		_, results, err := s.rigChecks(ctx, p.RigID)
		if err != nil {
			return p, err
		}
		p.Rig = check.Apply(r, results, s.Now())
	}
	return p, s.planPorts(ctx, &p, k, order, f)
}

// planPorts puts the ports of a head into a plan, with their limits and volumes
// on its rig.
func (s *Server) planPorts(ctx context.Context, p *LivePlan, k kept[head.Job], order []string, f *faults) error {
	p.Rig.Port.Held, p.Rig.Port.WetWith = p.Conditions.Held, p.Conditions.Wet
	p.Ports = nil
	job, err := s.reckoned(ctx, k, p.Rig)
	if err != nil {
		return err
	}
	for i := range p.Job.Ports {
		port := &p.Job.Ports[i]
		limits := job.LimitsOf(port, room(p.Rig), p.Rig.Air.Temperature.Or(unit.Exactly(0)).Value)
		one, all, _ := limits.At(0)
		x := session.Port{ID: port.ID, Name: p.Job.PortName(port.ID), Limit: one, All: all, Limits: limits}
		if port.Volume.Known || !p.Rig.Port.Volume.Known {
			v, _ := p.Job.VolumeOr(port)
			x.Volume, x.Spread = v.Value, v.Spread
		}
		p.Ports = append(p.Ports, x)
	}
	if len(order) == 0 {
		return nil
	}
	var sorted []session.Port
	for i, id := range order {
		k := slices.IndexFunc(p.Ports, func(x session.Port) bool { return x.ID == id })
		if k < 0 || slices.Contains(order[:i], id) {
			f.add("order."+strconv.Itoa(i), "This head has no such port, or it is named twice.", "")
			continue
		}
		sorted = append(sorted, p.Ports[k])
	}
	p.Ports = sorted
	return nil
}

func (s *Server) keyLive(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Do   session.Do `json:"do"`
		Port string     `json:"port"`
		Test int        `json:"test"`
	}
	if err := s.noLive(); err != nil {
		return err
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if !slices.Contains([]session.Do{session.Next, session.Again, session.GoTo, session.Skip, session.Refile, session.ShutOff, session.Finish}, ask.Do) {
		return &Fault{Status: http.StatusUnprocessableEntity, What: "there is no key " + strconv.Quote(string(ask.Do)), Where: "do", Do: "take next, again, go-to, skip, refile, shut-off or finish"}
	}
	err := s.Live.Key(r.Context(), session.Key{Do: ask.Do, Port: ask.Port, Test: ask.Test})
	if errors.Is(err, ErrNoRun) {
		return &Fault{Status: http.StatusConflict, What: "no run is under way", Do: "begin one"}
	}
	if err != nil {
		return err
	}
	now, ok := s.Live.Now()
	if !ok {
		return ErrNoRun
	}
	return s.answer(w, http.StatusOK, map[string]any{"run": s.showRun(now, s.style(r.Context()))})
}

const (
	frameEvery = 8 * time.Millisecond   // at most one frame in this time, so that 100 samples a second each go at once
	runEvery   = 100 * time.Millisecond // and the run itself in this
	liveAlive  = time.Second            // a frame comes at least so often
)

type liveFrame struct {
	T      float64    `json:"t"`
	Points []point    `json:"points"`
	Run    *runShown  `json:"run"`
	Say    []LiveSaid `json:"say"`
	Fit    *fitShown  `json:"fit"`
	V      string     `json:"v"`
}

// liveEvents streams the frames of a run, and waits for one where there is none.
func (s *Server) liveEvents(w http.ResponseWriter, r *http.Request) error {
	if err := s.noLive(); err != nil {
		return err
	}
	out := http.NewResponseController(w)
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	ended, leave := s.liveStream()
	defer leave()
	reader := s.Live.Join()
	defer reader.Leave()
	ctx := r.Context()
	m := frames{s: s, style: s.style(ctx)}
	var styled time.Time
	alive := time.NewTicker(liveAlive)
	defer alive.Stop()
	wait := time.NewTimer(0)
	defer wait.Stop()
	if _, err := fmt.Fprint(w, "retry: 1000\n\n"); err != nil {
		return nil
	}
	var last time.Time
	due := false // a frame is to go out when wait ends
	for first := true; ; first = false {
		if !first {
			select {
			case <-ctx.Done():
				return nil
			case <-ended:
				return nil
			case <-reader.Wake():
				if due {
					continue
				}
				if d := frameEvery - time.Since(last); d > 0 {
					wait.Reset(d)
					due = true
					continue
				}
			case <-wait.C:
				if !due {
					continue
				}
				due = false
			case <-alive.C:
				if due {
					continue
				}
			}
		}
		now := time.Now()
		if now.Sub(styled) > 2*time.Second { // the unit may be changed meanwhile
			m.style, styled = s.style(ctx), now
		}
		last = now
		frame := m.next(reader.Take(), now)
		b, err := json.Marshal(frame)
		if err != nil {
			return err
		}
		_ = out.SetWriteDeadline(now.Add(10 * time.Second)) // not every writer has one
		if _, err := fmt.Fprintf(w, "event: frame\ndata: %s\n\n", b); err != nil {
			return nil
		}
		if out.Flush() != nil {
			return nil
		}
	}
}

// frames makes the frames of one stream.
type frames struct {
	s       *Server
	style   report.Style
	run     string // whose whole was sent
	sent    []byte // the run as it was last sent, without what the points tell
	looked  time.Time
	missing bool // no figure is shown
	v       string
}

func (m *frames) next(news LiveNews, at time.Time) liveFrame {
	f := liveFrame{T: round(news.Now), Points: []point{}, Say: []LiveSaid{}}
	now, ok := m.s.Live.Now()
	if !ok {
		return f
	}
	size := m.style.Unit.Size
	for _, p := range news.Points {
		f.Points = append(f.Points, point{round(p[0]), round(p[1] / size)})
	}
	if n := len(news.Points); n > 0 {
		m.v = vacuumText(news.Points[n-1][1], stepOf(now, 0), m.style)
	}
	fresh := now.Run.ID != m.run
	if fresh || len(news.Did) > 0 || at.Sub(m.looked) >= runEvery {
		m.looked = at
		run := m.s.showRun(now, m.style)
		m.missing = len(run.View.Gauges) == 0 || run.View.Gauges[0].Text == ""
		if still := run.still(); fresh || string(still) != string(m.sent) {
			m.sent, m.run, f.Run = still, now.Run.ID, &run
		}
	}
	if f.V = m.v; m.missing && len(news.Points) == 0 {
		f.V = ""
	}
	for _, a := range news.Did {
		if e, ok := a.(session.ShowEstimate); ok {
			for _, x := range now.View.Filed {
				if x.Test == e.Test && x.Estimate != nil && targetNames[x.Port] == "" && now.Run.step(x.Port) == nil {
					f.Say = append(f.Say, sayResult(&now.Run, &x))
				}
			}
		}
		f.Say = append(f.Say, sayWords(&now.Run, a, m.style)...)
	}
	if news.Looked != nil {
		f.Fit = showFit(&now, news.Looked, m.style)
	}
	return f
}
