package app

import (
	"sync"

	"seatproof/internal/practise"
	"seatproof/internal/web"
	"seatproof/unit"
)

// The practice head, as a check of the practice rig shows what it is worth: four
// ports of stated volume, one of each kind. Invented.
var practicePorts = []struct {
	name   string
	volume unit.Measured // m³
	valve  practise.Valve
}{
	{"cylinder 1 intake", unit.About(112e-6, 3e-6), practise.Valve{ID: "v1", Leak: 8 * cm3min, Share: 0.3, Head: 27e-3}},
	{"cylinder 1 exhaust", unit.About(96e-6, 3e-6), practise.Valve{ID: "v2", Leak: 19 * cm3min, Share: 0.6, Head: 24e-3}},
	{"cylinder 2 intake", unit.About(112e-6, 3e-6), practise.Valve{ID: "v3", Leak: 34 * cm3min, Share: 0.2, Head: 27e-3}},
	{"cylinder 2 exhaust", unit.About(96e-6, 3e-6), practise.Valve{ID: "v4", Leak: 160 * cm3min, Share: 0.8, Head: 24e-3}},
}

const (
	cm3min        = 1e-6 / 60 // m³/s
	practiceSeed  = 4
	practiceLimit = 21 * cm3min // of a valve of 24 to 27 mm
)

var practiceTests = sync.OnceValues(func() ([]web.PracticeTest, error) {
	set := practise.Setup{Seed: practiceSeed}
	for _, p := range practicePorts {
		set.Ports = append(set.Ports, practise.Port{ID: p.name, Volume: p.volume.Value, Valves: []practise.Valve{p.valve}})
	}
	b, err := practise.New(set)
	if err != nil {
		return nil, err
	}
	var out []web.PracticeTest
	at := 0.0
	for _, p := range practicePorts {
		tr, end, err := b.Record(at, p.name, 6, 20)
		if err != nil {
			return nil, err
		}
		at = end + 5
		out = append(out, web.PracticeTest{Name: p.name, Volume: p.volume, Limit: practiceLimit, Trace: tr})
	}
	return out, nil
})

// PracticeTests implements [web.Live].
func (l *live) PracticeTests() []web.PracticeTest {
	tests, err := practiceTests()
	if err != nil {
		l.log.Error("the practice head can't be tested", "error", err.Error())
	}
	return tests
}
