package web

import (
	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/rig"
)

// readOn reads a test on a rig; what was read before is kept.
func (s *Server) readOn(t onRigTest, r rig.Rig) *leak.Reading {
	r = t.on(r)
	is, _ := s.shrinks.of([]any{t.id, t.name, t.columns, t.record.shut, r}, func() (*leak.Reading, error) {
		return session.ReadTold(t.record.trace, r, leak.Options{}, t.record.shut), nil
	})
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
