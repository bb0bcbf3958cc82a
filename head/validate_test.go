package head

import (
	"math"
	"strings"
	"testing"

	"seatproof/rig"
	"seatproof/unit"
)

func inMM(x float64) unit.Measured { return unit.Exactly(x * 1e-3) }

// soundJob is a head without fault.
func soundJob(t *testing.T) *Job {
	t.Helper()
	j, f := Layout(Scheme{Form: FormInline, Cylinders: 4, Valves: 4, Bore: inMM(86), Stroke: inMM(86), IntakeHead: inMM(34), ExhaustHead: inMM(29)})
	if len(f) > 0 {
		t.Fatal(f)
	}
	j.ID = "j1"
	if f := j.Validate(); len(f) > 0 {
		t.Fatal(f)
	}
	return &j
}

// Each slip is questioned at its field, with the figures and what it may have
// been; nothing else is.
func TestJobFaults(t *testing.T) {
	for _, c := range []struct {
		name   string
		spoil  func(j *Job)
		field  string
		what   string // part of it
		maybe  string // part of it
		insist bool   // a person may
	}{
		{"bore in inches", func(j *Job) { j.Engine.Bore = inMM(3.386) }, "engine.bore", "34 mm valve does not fit a 3.39 mm bore", "3.39 in, which is 86 mm", false},
		{"bore in centimetres", func(j *Job) { j.Engine.Bore = inMM(8.6) }, "engine.bore", "8.6 mm", "86 mm", false},
		{"bore tenfold", func(j *Job) { j.Engine.Bore = inMM(860) }, "engine.bore", "860 mm is unusual", "86 mm", true},
		{"bore too small for its valves", func(j *Job) { j.Engine.Bore = inMM(20) }, "engine.bore", "a 34 mm valve does not fit a 20 mm bore: check both", "about 91 mm", false},
		{"one valve too large", func(j *Job) { j.Valves[3].Head = inMM(95) }, "valves[3].head_diameter", "a 95 mm valve does not fit a 86 mm bore", "about 28 mm", false},
		{"one valve tenfold", func(j *Job) { j.Valves[2].Head = inMM(290) }, "valves[2].head_diameter", "290 mm", "29 mm", false},
		{"a valve in inches", func(j *Job) { j.Valves[1].Head = inMM(1.34) }, "valves[1].head_diameter", "1.34 mm is unusual", "1.34 in, which is 34 mm", true},
		{"two that do not fit side by side", func(j *Job) { j.Valves[0].Head, j.Valves[1].Head = inMM(48), inMM(48) }, "valves[1].head_diameter", "valves of 48 mm and 48 mm do not fit side by side in a 86 mm bore", "about 32 mm", true},
		{"four that do not fit", func(j *Job) {
			for i := range 4 {
				j.Valves[i].Head = inMM(41)
			}
		}, "valves[3].head_diameter", "the 4 valves of cylinder 1 do not fit together", "about 28 mm", true},
		{"stem thicker than the head", func(j *Job) { j.Valves[0].Stem = inMM(55) }, "valves[0].stem_diameter", "a stem of 55 mm is as thick as its head, 34 mm", "", false},
		{"stem tenfold", func(j *Job) { j.Valves[0].Stem = inMM(0.55) }, "valves[0].stem_diameter", "0.55 mm is unusual", "5.5 mm", true},
		{"contact tenfold", func(j *Job) { j.Valves[0].Contact = inMM(12) }, "valves[0].contact_width", "12 mm", "1.2 mm", true},
		{"angle in degrees", func(j *Job) { j.Valves[0].SeatAngle = unit.Exactly(45) }, "valves[0].seat_angle", "unusual", "45°", true},
		{"face and seat do not meet", func(j *Job) {
			j.Valves[0].SeatAngle, j.Valves[0].FaceAngle = unit.Exactly(45*math.Pi/180), unit.Exactly(30*math.Pi/180)
		}, "valves[0].face_angle", "face 30° and seat 45° do not meet", "", true},
		{"clearance in thousandths", func(j *Job) { j.Valves[0].Clearance = inMM(2) }, "valves[0].guide_clearance", "2 mm is unusual", "2 thousandths of an inch, which is 0.0508 mm", true},
		{"negative bore", func(j *Job) { j.Engine.Bore = inMM(-86) }, "engine.bore", "a bore of -86 mm can't be", "", false},
		{"not a number", func(j *Job) { j.Engine.Stroke = unit.Exactly(math.NaN()) }, "engine.stroke", "not a number", "", false},
		{"± below zero", func(j *Job) { j.Engine.Bore = unit.About(86e-3, -1) }, "engine.bore", "the ± of the bore", "", false},
		{"± larger than the figure", func(j *Job) { j.Engine.Bore = unit.About(86e-3, 0.1) }, "engine.bore", "± 100 mm is more than the bore itself", "", true},
		{"no cylinders", func(j *Job) { j.Engine.Cylinders, j.Ports, j.Valves = 0, nil, nil }, "engine.cylinders", "at least 1 cylinder, not 0", "", false},
		{"too many cylinders", func(j *Job) { j.Engine.Cylinders, j.Ports, j.Valves = 17, nil, nil }, "engine.cylinders", "17 cylinders", "", false},
		{"a cylinder twice", func(j *Job) { j.Engine.Numbers = []int{1, 2, 2, 4}; j.Ports, j.Valves = nil, nil }, "engine.numbers[2]", "cylinder 2 is named twice", "", false},
		{"ratio as 1", func(j *Job) { j.Engine.CompressionRatio = unit.Exactly(0.95) }, "engine.compression_ratio", "0.95 is none", "9.5 : 1", false},
		{"idle above top", func(j *Job) {
			j.Engine.Idle, j.Engine.TopSpeed = unit.Exactly(2000*perMinute), unit.Exactly(1800*perMinute)
		}, "engine.idle", "2000 r/min is not below the top speed, 1800 r/min", "", false},
		{"rod too short", func(j *Job) { j.Engine.Rod = inMM(40) }, "engine.rod", "40 mm", "", false},
		{"chamber tenfold", func(j *Job) {
			j.Engine.Chamber, j.Engine.CompressionRatio = unit.Exactly(390e-6), unit.Exactly(10)
		}, "engine.chamber", "390 cm³ is more than the 55.5 cm³", "", true},
		{"port of no cylinder", func(j *Job) { j.Ports[0].Cylinders = []int{9}; j.Ports[0].Valves = nil }, "ports[0].cylinders[0]", "no cylinder 9: it has 1, 2, 3 and 4", "", false},
		{"port without valves", func(j *Job) { j.Ports[0].Valves = nil }, "ports[0].valves", "feeds no valve", "", false},
		{"valve on the other side", func(j *Job) { j.Ports[0].Valves[0] = j.Ports[1].Valves[0] }, "ports[0].valves[0]", "cylinder 1 exhaust valve, left is on the port cylinder 1 intake", "", false},
		{"unknown valve", func(j *Job) { j.Ports[0].Valves[0] = "v99" }, "ports[0].valves[0]", "there is no valve v99", "", false},
		{"a valve on two ports", func(j *Job) {
			j.Ports = append(j.Ports, Port{ID: "p9", Cylinders: []int{1}, Side: Intake, Part: "upper", Valves: []string{"v1"}})
		}, "ports[8].valves[0]", "fed by cylinder 1 intake too", "", false},
		{"two ports of one name", func(j *Job) {
			j.Ports[0].Valves = []string{"v1"}
			j.Ports = append(j.Ports, Port{ID: "p9", Cylinders: []int{1}, Side: Intake, Valves: []string{"v2"}})
		}, "ports[8].part", "two ports are called cylinder 1 intake", "", false},
		{"two valves of one name", func(j *Job) { j.Valves[1].Place = "left" }, "valves[1].place", "two valves are called cylinder 1 intake valve, left", "", false},
		{"identity twice", func(j *Job) { j.Ports[1].ID = "p1" }, "ports[1].id", "port p1 is there twice", "", false},
		{"port volume in litres", func(j *Job) { j.Ports[0].Volume = unit.Exactly(0.095) }, "ports[0].volume", "95000 cm³ is unusual", "95 cm³", true},
		{"a side that is none", func(j *Job) { j.Valves[0].Side = "inlet" }, "valves[0].side", `"inlet" is no side`, "", false},
		{"a coating that is none", func(j *Job) { j.Valves[0].Coating = "gold" }, "valves[0].coating", `"gold"`, "", false},
		{"limit of nothing", func(j *Job) { j.Limit.Flow = unit.Exactly(0) }, "limit.flow", "can't be", "", false},
		{"gap in metres", func(j *Job) { j.Limit.Gap = unit.Exactly(3e-3) }, "limit.gap", "3000 µm is no seat", "", false},
		{"a long label", func(j *Job) { j.Number = strings.Repeat("x", 81) }, "number", "81 characters: 80 are taken", "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := soundJob(t)
			c.spoil(j)
			all := j.Validate()
			var at *Fault
			for i := range all {
				if f := &all[i]; f.Field == c.field && strings.Contains(f.What, c.what) {
					at = f
				}
				if all[i].Field == "" || strings.HasSuffix(all[i].What, ".") {
					t.Errorf("%+v", all[i])
				}
			}
			if at == nil {
				t.Fatalf("no fault %q at %s:\n%v", c.what, c.field, all)
			}
			if !strings.Contains(at.Maybe, c.maybe) || c.maybe == "" && at.Maybe != "" {
				t.Errorf("maybe %q, want %q", at.Maybe, c.maybe)
			}
			if at.Ask != c.insist {
				t.Errorf("may be insisted on: %v\n%v", at.Ask, at)
			}
			if hard := all.Err() != nil; hard == c.insist && len(all) == 1 {
				t.Errorf("error %v", all.Err())
			}
		})
	}
}

// What a home builder knows is enough, and so is nothing but the cylinders.
func TestUnknownIsNoFault(t *testing.T) {
	for _, j := range []Job{
		{Engine: Engine{Cylinders: 4}},
		{Engine: Engine{Cylinders: 1, Bore: inMM(39)}},
		{Engine: Engine{Cylinders: 4, Bore: inMM(108), Stroke: inMM(95)}, Valves: []Valve{ // two valves at an angle to each other
			{ID: "a", Cylinder: 1, Side: Intake, Head: inMM(57)}, {ID: "b", Cylinder: 1, Side: Exhaust, Head: inMM(49)}}},
	} {
		if f := j.Validate(); len(f) > 0 {
			t.Errorf("%+v:\n%v", j.Engine, f)
		}
	}
}

func TestRecordFaults(t *testing.T) {
	test := Test{ID: "t1", JobID: "j1", PortID: "p1", At: 1, Source: FromCount, Conditions: asItRuns}
	work := Work{ID: "w1", JobID: "j1", At: 1, Kind: WorkCut, Valves: []string{"v1"}}
	check := Check{ID: "c1", RigID: "r1", At: 1, Kind: "rig leak"}
	r := Rig{ID: "r1", Name: "bench 2"}
	for _, f := range []Faults{test.Validate(), work.Validate(), check.Validate(), r.Validate(), (&Test{At: 1, Source: FromFile}).Validate()} {
		if len(f) > 0 {
			t.Errorf("sound, but %v", f)
		}
	}
	for _, c := range []struct {
		field, what string
		got         Faults
	}{
		{"at", "no date and time", (&Test{Source: FromFile}).Validate()},
		{"source", `"radio" is no source`, (&Test{At: 1, Source: "radio"}).Validate()},
		{"job", "names port p1 of no head", (&Test{At: 1, Source: FromFile, PortID: "p1"}).Validate()},
		{"conditions.held", "take one of nothing, thumb, light-spring, own-spring", (&Test{At: 1, Source: FromFile, Conditions: Conditions{Held: "glue"}}).Validate()},
		{"conditions.wet_with", `"beer"`, (&Test{At: 1, Source: FromFile, Conditions: Conditions{Wet: rig.Liquid("beer")}}).Validate()},
		{"conditions.state", `"new"`, (&Test{At: 1, Source: FromFile, Conditions: Conditions{State: "new"}}).Validate()},
		{"conditions.masked[1]", `valve "v1"`, (&Test{At: 1, Source: FromFile, Conditions: Conditions{Masked: []string{"v1", "v1"}}}).Validate()},
		{"kind", `"filed" is no kind of work`, (&Work{JobID: "j1", At: 1, Kind: "filed"}).Validate()},
		{"valves[0]", `valve ""`, (&Work{JobID: "j1", At: 1, Kind: WorkCut, Valves: []string{""}}).Validate()},
		{"name", "no name", (&Rig{Name: " "}).Validate()},
		{"kind", "no kind of check", (&Check{RigID: "r1", At: 1, Kind: "look"}).Validate()},
		{"rig", "of no rig", (&Check{At: 1, Kind: "gauge"}).Validate()},
		{"valves[0]", "no valve v99", soundJob(t).UnknownValves("valves", []string{"v99"})},
	} {
		if len(c.got) != 1 || c.got[0].Field != c.field || !strings.Contains(c.got[0].What, c.what) {
			t.Errorf("want %s %q, got %v", c.field, c.what, c.got)
		}
	}
}

func TestFaultWords(t *testing.T) {
	f := Faults{{"engine.bore", "a bore of 860 mm is unusual", "86 mm", true}}
	if f.Err() != nil {
		t.Error("a question is no error")
	}
	f = append(f, Fault{Field: "engine.stroke", What: "the stroke is not a number"})
	if err := f.Err(); err == nil || err.Error() != "engine.stroke: the stroke is not a number" {
		t.Errorf("%v", err)
	}
	if got := f[0].String(); got != "engine.bore: a bore of 860 mm is unusual: 86 mm?" {
		t.Errorf("%q", got)
	}
}
