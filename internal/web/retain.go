package web

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"math"

	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/trace"
)

// retained is a reading as it is kept beside its test, so that the first card
// after a start need not read every trace.
type retained struct {
	Told    string       `json:"told"` // fingerprint of all the estimator was told: readingKey
	Reading leak.Kept    `json:"reading"`
	Faults  trace.Faults `json:"faults"`
	Started string       `json:"started,omitempty"`
	Room    float64      `json:"room"`
	Volume  float64      `json:"volume"`
	RigLeak float64      `json:"rig_leak"`
	All     [][2]float64 `json:"all"`            // s, Pa
	Hold    [][2]float64 `json:"hold,omitempty"` // s, Pa
	Hand    bool         `json:"hand,omitempty"`
}

// retainedForm rises when the form of what is kept changes.
const retainedForm = "/kept/2"

// retain keeps a reading. One that can't be kept is computed again after the next
// start, which is no trouble of the person's.
func (s *Server) retain(ctx context.Context, t kept[test], key [32]byte, o *report.Outcome, small leak.Kept) {
	v := retained{
		Told: hex.EncodeToString(key[:]), Reading: small, Faults: o.Faults, Started: o.Started, Room: o.Room, Volume: o.Volume, RigLeak: o.RigLeak,
		All: packed(o.Sketch.All), Hold: packed(o.Sketch.Hold), Hand: o.Sketch.Hand,
	}
	body, err := json.Marshal(v)
	if err == nil { // who asked may have gone; the work is done
		err = s.Keeper.KeepResult(context.WithoutCancel(ctx), t.ID, s.Estimator+retainedForm, body)
	}
	if err != nil {
		s.Log.Warn("a reading can't be kept and will be computed again after the next start", "test", t.ID, "error", err.Error())
	}
}

// recall fills o with the reading kept of a test, and says whether there is one
// that was told the same.
func (s *Server) recall(ctx context.Context, t kept[test], key [32]byte, o *report.Outcome) bool {
	body := s.fetch(ctx, t)
	if body == nil {
		return false
	}
	var v retained
	if err := json.Unmarshal(body, &v); err != nil {
		s.Log.Warn("a kept reading can't be read and is computed again", "test", t.ID, "error", err.Error())
		return false
	}
	if v.Told != hex.EncodeToString(key[:]) {
		return false
	}
	o.Reading, o.Faults, o.Started, o.Room, o.Volume, o.RigLeak = v.Reading.Reading(), v.Faults, v.Started, v.Room, v.Volume, v.RigLeak
	o.Sketch = report.Sketch{All: unpacked(v.All), Hold: unpacked(v.Hold), Hand: v.Hand}
	return true
}

// fetch returns what is kept of a test, nil for nothing. All of a job are fetched
// together, once.
func (s *Server) fetch(ctx context.Context, t kept[test]) []byte {
	rs := s.readings
	rs.loading.Lock()
	defer rs.loading.Unlock()
	rs.mu.Lock()
	asked := rs.asked[t.JobID]
	rs.mu.Unlock()
	if !asked {
		all, err := s.Keeper.Results(ctx, t.JobID, s.Estimator+retainedForm)
		if err != nil {
			s.Log.Warn("kept readings can't be had, and are computed again", "job", t.JobID, "error", err.Error())
			if ctx.Err() != nil {
				return nil
			}
		}
		for id, body := range all {
			rs.fetched[id] = body
		}
		rs.mu.Lock()
		rs.asked[t.JobID] = true
		rs.mu.Unlock()
	}
	body := rs.fetched[t.ID]
	delete(rs.fetched, t.ID)
	return body
}

// packed writes points to a millisecond and a tenth of a pascal, far below what a
// drawing shows.
func packed(pts []report.Point) [][2]float64 {
	out := make([][2]float64, 0, len(pts))
	for _, p := range pts {
		out = append(out, [2]float64{math.Round(p.Time*1e3) / 1e3, math.Round(p.Vacuum*10) / 10})
	}
	return out
}

func unpacked(pts [][2]float64) []report.Point {
	out := make([]report.Point, 0, len(pts))
	for _, p := range pts {
		out = append(out, report.Point{Time: p[0], Vacuum: p[1]})
	}
	return out
}
