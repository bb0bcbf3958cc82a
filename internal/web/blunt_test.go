package web

import (
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

// Straight curve of 10 L/min and 78 kPa: 0.128 cm³/min a Pa, so half a division
// of half an inch (847 Pa) is 110 cm³/min and an inch of scatter 430; two
// readings of 847 Pa over 15 s on 150 cm³ are 7.1. By hand from docs/model.md §2.
func TestBlunt(t *testing.T) {
	r := rig.Rig{}
	if got := blunt(r, "inHg"); !strings.Contains(got, "says nothing") {
		t.Errorf("without a pump: got %q, want that it says nothing", got)
	}
	r.Pump.FreeFlow = unit.Measured{Value: 10e-3 / 60, Known: true}
	r.Pump.Blanked = unit.Measured{Value: 78e3, Spread: 3386.4, Known: true}
	r.Gauge.Division = 1693.2
	r.Air.Pressure = unit.Measured{Value: 101325, Known: true}
	r.Volume = unit.Measured{Value: 55e-6, Known: true}
	r.Port.Volume = unit.Measured{Value: 95e-6, Known: true}
	got := blunt(r, "inHg")
	for _, want := range []string{"half a division, 0.25 inHg, is ± 110 cm³/min", "scatter, 1.0 inHg, is ± 430 cm³/min", "± 7.1 cm³/min with its volume: 63 times finer"} {
		if !strings.Contains(got, want) {
			t.Errorf("got %q, want it to hold %q", got, want)
		}
	}
	r.Pump.Blanked.Spread, r.Volume.Known = 0, false
	if got := blunt(r, "inHg"); !strings.Contains(got, "3 %") || !strings.Contains(got, "on 150 cm³, say") {
		t.Errorf("nothing known of scatter and volume: got %q", got)
	}
}
