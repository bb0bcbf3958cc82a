package web

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// chartOf draws what a check found, where there is more than a figure: the
// blanked series as an individuals chart, the gauge's error and the pump's curve.
func (s *Server) chartOf(c *head.Check, r *check.Result, st report.Style, width float64) string {
	switch {
	case r.Chart != nil:
		return s.individuals(c, r, st, width)
	case r.Line != nil:
		return s.gaugeLine(c, r, st, width)
	case len(r.Curve) > 1:
		return s.pumpCurve(r, st, width)
	}
	return ""
}

// drawnWords say what the lines of a drawing are.
var drawnWords = map[check.Kind]string{
	check.KindBlanked: "Limits: the mean ± 2.66 mean moving ranges (ISO 7870-2); one sound pull in 370 lies outside.",
	check.KindGauge:   "The line corrects the gauge; the band is what it may be off, 95 %.",
	check.KindPump:    "The band is what the flow may be off, 95 %; below the first point it is carried on.",
}

func (s *Server) individuals(c *head.Check, r *check.Result, st report.Style, width float64) string {
	values := s.pullsOf(c)
	if len(values) == 0 {
		return ""
	}
	return report.IndividualsChart(report.Individuals{Values: values, Mean: r.Chart.Mean, Lower: r.Chart.Lower, Upper: r.Chart.Upper, Out: r.Chart.Out}, st, width)
}

// pullsOf are the blanked readings of a check, as it was computed from them [Pa].
func (s *Server) pullsOf(c *head.Check) (out []float64) {
	var f faults
	t, err := s.takenOf(context.Background(), c, &f)
	if err != nil || f.err() != nil {
		return nil
	}
	pulls, err := t.pulls()
	if err != nil {
		return nil
	}
	return pulls
}

// gaugeLine draws the gauge's error over what it shows: the line that corrects it
// with its 95 %, and the points it was laid through.
func (s *Server) gaugeLine(c *head.Check, r *check.Result, st report.Style, width float64) string {
	var f faults
	t, err := s.takenOf(context.Background(), c, &f)
	if err != nil {
		return ""
	}
	size := unitSize(st)
	u := vacuumUnit(st)
	x := report.Curve{Name: "The gauge’s error over its reading", XName: "it shows, " + u, YName: "it reads too deep by, " + u, Zero: true}
	last := 0.0
	for _, row := range t.rows {
		at := row["reading"]
		last = max(last, at.Value)
		ref := row["other"]
		if h := row["height"]; h.Known {
			if ref, err = check.ColumnPressure(h, t.by["water"]); err != nil {
				continue
			}
		}
		if at.Known && ref.Known {
			x.Points = append(x.Points, report.Cross{X: at.Value / size, Y: (at.Value - ref.Value) / size, SpreadY: ref.Spread / size})
		}
	}
	for i := range 21 {
		v := last * float64(i) / 20
		is := r.Line.Correct(v)
		x.Line = append(x.Line, report.Cross{X: v / size, Y: (v - is.Value) / size, SpreadY: is.Spread / size})
	}
	return report.CurveChart(x, width)
}

func unitSize(st report.Style) float64 {
	if st.Unit.Size == 0 {
		return report.KPa.Size
	}
	return st.Unit.Size
}

// pumpCurve draws what the pump moves over the vacuum.
func (s *Server) pumpCurve(r *check.Result, st report.Style, width float64) string {
	size := unitSize(st)
	x := report.Curve{Name: "What the pump moves over the vacuum", XName: "vacuum, " + vacuumUnit(st), YName: "free air, L/min", Zero: true}
	part := 0.0
	if r.Value.Value > 0 {
		part = r.Value.Spread / r.Value.Value
	}
	for i, p := range r.Curve {
		y := p.Flow * 6e4
		x.Line = append(x.Line, report.Cross{X: float64(p.Vacuum) / size, Y: y, SpreadY: part * y})
		if i > 0 { // the first is carried on from those that were measured
			x.Points = append(x.Points, report.Cross{X: float64(p.Vacuum) / size, Y: y, SpreadY: part * y})
		}
	}
	return report.CurveChart(x, width)
}

// shrunkSheet are readings of a rig without its checks and with them.
type shrunkSheet struct {
	Words string        `json:"words"`
	SVG   string        `json:"svg"`
	Of    []shrunkShown `json:"of"`
}

type shrunkShown struct {
	Name   string `json:"name"`
	Before string `json:"before"` // cm³/min: "5.7 to 13"
	Now    string `json:"now"`
}

// PracticeTest is a test of the practice rig's own head.
type PracticeTest struct {
	Name   string
	Volume unit.Measured // m³, of the port
	Limit  float64       // m³/s of free air at 50 kPa
	Trace  *trace.Trace
}

const mostShown = 4 // readings whose intervals a rig's sheet shows

// shrunk reads a rig's newest tests, or those of the practice head, on the rig as
// its owner states it and as its checks say it is, and says which check would
// narrow them most.
func (s *Server) shrunk(ctx context.Context, g kept[head.Rig], results []check.Result, width float64) (shrunkSheet, *narrowShown, error) {
	out := shrunkSheet{Of: []shrunkShown{}}
	r, bad := s.ReadRig(g.V.File)
	if len(bad) > 0 {
		return out, nil, nil
	}
	tests, err := s.testsOn(ctx, g.ID, r, check.Apply(r, results, s.Now()))
	if err != nil {
		return out, nil, err
	}
	practice := len(tests) == 0 && practiceRigs(g.ID)
	if practice {
		tests = s.practiceTests()
	}
	if len(tests) == 0 {
		out.Words = "Once a port is tested on it, what the checks do to its interval is shown here."
		return out, nil, nil
	}
	now := s.Now()
	checked := check.Apply(r, results, now)
	var rows []report.Shrink
	var narrow *narrowShown
	before, after, n, least := 0.0, 0.0, 0, 1.0
	var unknown int
	for _, t := range tests {
		row := report.Shrink{Name: t.name, Limit: t.limit * 6e7}
		was, is := s.readOn(t, r), s.readOn(t, checked)
		x := shrunkShown{Name: t.name}
		row.Before, row.UpTo[0], x.Before = shrinkOf(was)
		row.Now, row.UpTo[1], x.Now = shrinkOf(is)
		if row.Words = x.Before + ", now " + x.Now; x.Before == x.Now {
			row.Words = x.Now
		}
		rows = append(rows, row)
		out.Of = append(out.Of, x)
		switch {
		case is.Leak == nil:
		case was.Leak == nil:
			unknown++
		case !was.UpperLimitOnly && !is.UpperLimitOnly:
			before, after, n = before+relative(was), after+relative(is), n+1
		}
		if gains := check.Worth(is, t.on(checked), results, now); len(gains) > 0 && gains[0].Narrow < least {
			least, narrow = gains[0].Narrow, &narrowShown{Kind: gains[0].Kind, Name: checkNames[gains[0].Kind], Words: sentence(gains[0].Words)}
		}
	}
	out.SVG = report.ShrinkChart(rows, width)
	out.Words = "The newest tests on this rig: thin as they read without its checks, thick with them."
	if practice {
		out.Words = "The ports of the practice head: thin without the checks, thick with them."
	}
	switch {
	case unknown > 0 && n == 0:
		out.Words += " Without them no leak could be told at all."
	case n > 0 && before > 1.03*after:
		out.Words += fmt.Sprintf(" The intervals are %s times as narrow.", report.Figure(before/after, 2))
	}
	return out, narrow, nil
}

func sentence(s string) string {
	if s = upper(s); s != "" && !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// onRigTest is a test to be read on a rig.
type onRigTest struct {
	name   string
	limit  float64
	volume unit.Measured
	guess  bool
	held   rig.Held
	wet    rig.Liquid
	record recorded
	id     string

	columns string
}

func (t *onRigTest) on(r rig.Rig) rig.Rig {
	r.Port.Held, r.Port.WetWith = t.held, t.wet
	if t.volume.Known {
		r.Port.Volume, r.Port.VolumeGuessed = t.volume, t.guess
	}
	return r
}

// testsOn are the newest tests on a rig, one a port, as [Server.read] reads them.
// applied is the rig as its checks say it is.
func (s *Server) testsOn(ctx context.Context, rigID string, r, applied rig.Rig) ([]onRigTest, error) {
	tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(tests, func(a, b kept[test]) int { return int(min(1, max(-1, b.V.At-a.V.At))) })
	var out []onRigTest
	seen := map[string]bool{}
	for _, t := range tests {
		if t.V.RigID != rigID || t.V.JobID == "" || len(t.V.Conditions.Masked) > 0 || seen[t.V.JobID+t.V.PortID] || len(out) == mostShown {
			continue
		}
		seen[t.V.JobID+t.V.PortID] = true
		job, err := load[head.Job](ctx, s.Keeper, kindJob, t.V.JobID)
		if err != nil {
			continue
		}
		i := slices.IndexFunc(job.V.Ports, func(p head.Port) bool { return p.ID == t.V.PortID })
		if i < 0 {
			continue
		}
		x := onRigTest{name: job.V.PortName(t.V.PortID), held: t.V.Conditions.Held, wet: t.V.Conditions.Wet, id: t.V.TraceID, columns: t.V.Columns}
		if job.V.Ports[i].Volume.Known || !r.Port.Volume.Known {
			x.volume, x.guess = job.V.VolumeOr(&job.V.Ports[i])
		}
		reckoned, err := s.reckoned(ctx, job, applied)
		if err != nil {
			return nil, err
		}
		x.limit, _ = reckoned.PortLimits(&job.V.Ports[i], room(applied), applied.Air.Temperature.Or(unit.Exactly(0)).Value)
		if x.record, err = s.recording(ctx, t.V.TraceID, t.V.Columns, r); err != nil {
			continue
		}
		x.record.shut = t.V.ShutOff
		out = append(out, x)
	}
	return out, nil
}
