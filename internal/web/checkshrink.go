package web

import (
	"crypto/sha256"
	"encoding/json"
	"sync"

	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/rig"
)

// shrinks keeps what tests read on a rig, as long as the rig is the same.
type shrinks struct {
	mu   sync.Mutex
	made map[[32]byte]*leak.Reading
}

const mostShrinks = 200

// readOn reads a test on a rig; what was read before is kept.
func (s *Server) readOn(t onRigTest, r rig.Rig) *leak.Reading {
	r = t.on(r)
	h := sha256.New()
	_ = json.NewEncoder(h).Encode([]any{t.id, t.name, r})
	key := [32]byte(h.Sum(nil))
	s.shrinks.mu.Lock()
	is := s.shrinks.made[key]
	s.shrinks.mu.Unlock()
	if is != nil {
		return is
	}
	is = session.ReadTold(t.record.trace, r, leak.Options{}, t.record.shut)
	s.shrinks.mu.Lock()
	defer s.shrinks.mu.Unlock()
	if len(s.shrinks.made) >= mostShrinks || s.shrinks.made == nil {
		s.shrinks.made = map[[32]byte]*leak.Reading{}
	}
	s.shrinks.made[key] = is
	return is
}

// practiceTests are the tests of the practice head.
func (s *Server) practiceTests() (out []onRigTest) {
	if s.Live == nil {
		return nil
	}
	for _, t := range s.Live.PracticeTests() {
		out = append(out, onRigTest{name: t.Name, limit: t.Limit, volume: t.Volume, held: rig.HeldOwnSpring, wet: rig.WetNothing, record: recorded{trace: t.Trace}, id: "practice " + t.Name})
	}
	return out
}

// shrinkOf is a reading's interval for a drawing [cm³/min], and its words.
func shrinkOf(r *leak.Reading) (span [2]float64, upTo bool, words string) {
	if r.Leak == nil {
		return span, false, "no leak can be told"
	}
	span = [2]float64{r.Leak.Low * 6e7, r.Leak.High * 6e7}
	if r.UpperLimitOnly {
		return span, true, "less than " + report.Figure(span[1], 2)
	}
	return span, false, report.Figure(span[0], 2) + " to " + report.Figure(span[1], 2)
}

// relative is how wide a reading's interval is, in parts of its figure.
func relative(r *leak.Reading) float64 {
	return (r.Leak.High - r.Leak.Low) / r.Leak.Median
}
