package web

import (
	"context"
	"net/http"
	"slices"
	"time"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/unit"
)

// How many recordings of a day and how many earlier days the fault finder is
// shown: enough to tell, few enough to be read while a person waits.
const (
	faultPulls   = 24
	faultEarlier = 5
)

// faultShown is a likely fault of a rig as sheets tell it.
type faultShown struct {
	Code     check.FaultCode `json:"code"`
	Name     string          `json:"name"`
	Seen     string          `json:"seen"`     // what it looks like, whatever the figures
	Evidence []string        `json:"evidence"` // with the figures of the day, in the unit of the gauge
	Do       string          `json:"do"`
	Strength float64         `json:"strength"` // over what it takes to be told, >= 1
}

// stepOn says what the plate is on in a step whose traces are holds.
var stepOn = map[string]check.On{stepRigLeak: check.OnABlank, stepBlanked: check.OnABlank, stepKnown: check.OnAKnownLeak}

// dayOf gathers what was recorded on a rig on a day: its checks' traces and the
// tests made on it.
func (s *Server) dayOf(ctx context.Context, g head.Rig, day time.Time) (check.Day, error) {
	r, _ := s.ReadRig(g.File)
	d := check.Day{Rig: r}
	from := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, day.Location())
	to := from.AddDate(0, 0, 1)
	in := func(at int64) bool { return at >= from.UnixMilli() && at < to.UnixMilli() }
	type one struct {
		at             int64
		trace, columns string
		pull           check.Pulled
	}
	var all []one
	checks, err := s.checks(ctx)
	if err != nil {
		return d, err
	}
	for _, c := range checks {
		on, holds := stepOn[c.V.Step]
		if c.V.RigID != g.ID || !in(c.V.At) || !holds && c.V.Step != stepValve {
			continue
		}
		for i, id := range c.V.Traces {
			p := check.Pulled{On: on, Name: string(on)}
			if c.V.Step == stepValve { // with the pump stopped, where that was recorded, then with it running
				p = check.Pulled{On: check.OnABlank, Name: "blank", Pump: rig.PumpStopped}
				if i == len(c.V.Traces)-1 {
					p.Pump = rig.PumpRunning
				}
			}
			all = append(all, one{c.V.At + int64(i), id, "", p})
		}
	}
	tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest})
	if err != nil {
		return d, err
	}
	heads := map[string]*head.Job{}
	for _, t := range tests {
		if t.V.RigID != g.ID || !in(t.V.At) || t.V.TraceID == "" || t.V.PortID == "" {
			continue
		}
		j := heads[t.V.JobID]
		if j == nil {
			k, err := load[head.Job](ctx, s.Keeper, kindJob, t.V.JobID)
			if err != nil {
				continue // a head that is gone takes nothing from the rig
			}
			j = &k.V
			heads[t.V.JobID] = j
		}
		p := check.Pulled{On: check.OnAPort, Name: j.PortName(t.V.PortID), Volume: r.Port.Volume}
		if i := slices.IndexFunc(j.Ports, func(p head.Port) bool { return p.ID == t.V.PortID }); i >= 0 && (j.Ports[i].Volume.Known || !p.Volume.Known) {
			p.Volume, _ = j.VolumeOr(&j.Ports[i])
		}
		all = append(all, one{t.V.At, t.V.TraceID, t.V.Columns, p})
	}
	slices.SortStableFunc(all, func(a, b one) int { return int(min(1, max(-1, a.at-b.at))) })
	if len(all) > faultPulls {
		all = all[len(all)-faultPulls:]
	}
	for _, o := range all {
		rec, err := s.recording(ctx, o.trace, o.columns, r)
		if err != nil || len(rec.trace.Hand) > 0 {
			continue // a needle by eye tells of a fall, not of how it fell
		}
		o.pull.At, o.pull.Trace = float64(o.at-all[0].at)/1e3, rec.trace
		d.Pulls = append(d.Pulls, o.pull)
	}
	return d, nil
}

// faultsOf names what is likely wrong with a rig by the recordings of a day,
// beside what it did on earlier days.
func (s *Server) faultsOf(ctx context.Context, g head.Rig, day time.Time) ([]faultShown, error) {
	out := []faultShown{}
	d, err := s.dayOf(ctx, g, day)
	if err != nil || len(d.Pulls) == 0 {
		return out, err
	}
	var earlier []check.Day
	checks, err := s.checks(ctx)
	if err != nil {
		return out, err
	}
	seen := map[string]bool{day.Format(time.DateOnly): true}
	for _, c := range checks {
		at := time.UnixMilli(c.V.At).In(day.Location())
		if c.V.RigID != g.ID || c.V.Step == "" || at.After(day) || seen[at.Format(time.DateOnly)] || len(earlier) >= faultEarlier {
			continue
		}
		seen[at.Format(time.DateOnly)] = true
		e, err := s.dayOf(ctx, g, at)
		if err != nil {
			return out, err
		}
		if len(check.FindFault(e)) == 0 { // a day that was itself in doubt teaches nothing
			earlier = append(earlier, e)
		}
	}
	if len(earlier) > 0 {
		d.Before = check.Remember(earlier...)
	}
	st := s.style(ctx)
	if u, ok := report.UnitNamed(d.Rig.Gauge.Unit); ok {
		st.Unit = u
	}
	for _, f := range check.FindFault(d) {
		w := faultShown{f.Code, f.Name, check.WordsOf(f.Code).Seen, []string{}, f.Do, f.Strength}
		for _, e := range f.Evidence {
			w.Evidence = append(w.Evidence, e.In(func(x check.Figure) string {
				if x.Dim == unit.TimeDim || x.Dim == 0 {
					return report.Figure(x.Is.Value, 2) + map[bool]string{true: " s"}[x.Dim == unit.TimeDim]
				}
				if x.Dim == unit.PressureDim {
					return unit.Format(x.Is, x.Dim, vacuumUnit(st), 3)
				}
				return figureIn(st)(x)
			}))
		}
		out = append(out, w)
	}
	return out, nil
}

func (s *Server) getFaults(w http.ResponseWriter, r *http.Request) error {
	k, err := load[head.Rig](r.Context(), s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return err
	}
	day := s.Now()
	if text := r.URL.Query().Get("day"); text != "" {
		if day, err = time.ParseInLocation(time.DateOnly, text, day.Location()); err != nil {
			return &Fault{Status: http.StatusUnprocessableEntity, What: "this is no day", Where: "day", Do: "write it as 2026-06-12"}
		}
		day = day.AddDate(0, 0, 1).Add(-time.Millisecond)
	}
	found, err := s.faultsOf(r.Context(), k.V, day)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, map[string]any{"faults": found, "day": day.Format(time.DateOnly)})
}
