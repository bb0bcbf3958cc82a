package web

import (
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/head"
	"seatproof/rig"
	"seatproof/unit"
)

// A bare figure takes the unit its field shows, and several are parted by a stroke.
func TestChooseUnits(t *testing.T) {
	got := withUnits(map[string][]map[string]string{
		"pump": {{"free_flow": "10", "blanked": "78 kPa / 23 inHg", "power": "12", "name": "10", "curve": "0 kPa, 10 L/min / 78 kPa, 0 L/min"}, {"free_flow": "10 L/min / 0.35 cfm", "blanked": "78"}},
		"port": {{"valves": "27/27", "bore": "72", "limit": "20 cm3/min"}},
		"air":  {{"altitude": "240"}},
		"":     {{"fittings": "20 ± 8"}},
	})
	for _, c := range []struct {
		kind, key, want string
		i               int
	}{
		{"pump", "free_flow", "10 L/min", 0}, {"pump", "blanked", "78 kPa / 23 inHg", 0}, {"pump", "power", "12 W", 0}, {"pump", "name", "10", 0},
		{"pump", "curve", "0 kPa, 10 L/min / 78 kPa, 0 L/min", 0},
		{"pump", "free_flow", "10 L/min / 0.35 cfm", 1}, {"pump", "blanked", "78 kPa", 1},
		{"port", "valves", "27 mm / 27 mm", 0}, {"port", "bore", "72 mm", 0}, {"port", "limit", "20 cm3/min", 0},
		{"air", "altitude", "240 m", 0}, {"", "fittings", "20 ± 8 cm³", 0},
	} {
		if x := got[c.kind][c.i][c.key]; x != c.want {
			t.Errorf("%s %d %s: %q, want %q", c.kind, c.i, c.key, x, c.want)
		}
	}
}

// One of each kind of port; two kinds on one side are told apart.
func TestChoosePorts(t *testing.T) {
	j, f := head.Layout(head.Scheme{Form: head.FormInline, Cylinders: 3, Valves: 4})
	if err := f.Err(); err != nil {
		t.Fatal(err)
	}
	j.Engine.Bore = unit.Exactly(72e-3)
	ports := ChoosePorts(&j)
	if len(ports) != 2 || ports[0].Name == ports[1].Name || len(ports[0].Heads) != 2 {
		t.Fatalf("%+v", ports)
	}
	j.Ports[0].Volume = unit.Exactly(90e-6)
	if ports = ChoosePorts(&j); len(ports) != 3 {
		t.Errorf("%d kinds, want 3", len(ports))
	}
	names := map[string]bool{}
	for _, p := range ports {
		names[p.Name] = true
	}
	if len(names) != 3 {
		t.Errorf("names %v", names)
	}
	form := portsForm(ports)
	if form[0]["bore"] != "72 mm" || !strings.Contains(form[0]["valves"], " / ") || form[0]["volume"] == "" {
		t.Errorf("form %v", form[0])
	}
}

func TestChooseAPI(t *testing.T) {
	call(t, newBed(t), "POST", "choose", obj{"parts": obj{}}, 404) // a server without
	var read func(map[string][]map[string]string) (check.Parts, []RigFault)
	b := bedOn(t, Config{Keeper: NewMemory(), Version: "test", ReadParts: func(form map[string][]map[string]string) (check.Parts, []RigFault) { return read(form) }})
	a := call(t, b, "GET", "choose", nil, 200)
	if n := len(at(t, a, "kinds").([]any)); n != len(partKinds) {
		t.Errorf("%d kinds", n)
	}
	var seen map[string][]map[string]string
	read = func(form map[string][]map[string]string) (check.Parts, []RigFault) {
		seen = form
		return check.Parts{}, []RigFault{{Key: "pump.0.free_flow", Problem: `parse "10 kPa": kPa is a unit of pressure`}}
	}
	a = call(t, b, "POST", "choose", obj{"parts": obj{"pump": []obj{{"blanked": "78"}}}}, 422)
	if seen["pump"][0]["blanked"] != "78 kPa" {
		t.Errorf("handed on as %v", seen)
	}
	first := at(t, a, "error.fields").([]any)[0].(map[string]any)
	if first["field"] != "pump.0.free_flow" || first["what"] != "KPa is a unit of pressure." {
		t.Errorf("fault %v", first)
	}
	read = func(map[string][]map[string]string) (check.Parts, []RigFault) {
		return check.Parts{
			Pumps:  []check.PumpPart{{Name: "a", Pump: rig.Pump{FreeFlow: unit.Exactly(1e-2 / 60), Blanked: unit.Exactly(78e3)}}},
			Gauges: []check.GaugePart{{Name: "g", Gauge: rig.Gauge{Resolution: 100}}},
			Hoses:  []check.HosePart{{Name: "h", Hose: rig.Hose{Bore: unit.Exactly(6e-3), Length: unit.Exactly(1)}}},
			Ports:  []check.PortPart{{Name: "p", Heads: []float64{27e-3}}},
			Air:    rig.Air{Pressure: unit.Exactly(gas.SeaLevelPressure)},
		}, nil
	}
	a = call(t, b, "POST", "choose", obj{"parts": obj{}}, 200)
	if at(t, a, "pick.pump") != "a" || !strings.HasPrefix(at(t, a, "chart").(string), "<svg") || strings.Contains(at(t, a, "chart").(string), "style=") {
		t.Errorf("pick %v", at(t, a, "pick.pump"))
	}
	a = call(t, b, "POST", "choose", obj{"parts": obj{}, "keep": true, "by": "ab"}, 201)
	if file := at(t, a, "rig.file").(string); !strings.Contains(file, `free_flow = "10 L/min"`) || at(t, a, "rig.name") != "a, g" {
		t.Errorf("kept as %v\n%s", at(t, a, "rig.name"), file)
	}
}
