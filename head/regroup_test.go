package head

import (
	"slices"
	"strings"
	"testing"

	"seatproof/unit"
)

// A port that feeds other valves than it did was another port: its verdict
// lapses, those of the others stay, and a test made since counts.
func TestRegroupedPortLapses(t *testing.T) {
	b := newBook(t)
	p, other := b.port(2, Intake), b.port(1, Intake)
	b.test(1, p, reading(9, 0.05))
	b.test(1, other, reading(9, 0.05))
	was := b.Job
	was.Ports = slices.Clone(was.Ports)
	for i := range was.Ports {
		was.Ports[i].Valves = slices.Clone(was.Ports[i].Valves)
	}
	v := p.Valves[1]
	p.Valves, p.Part = p.Valves[:1], "left"
	b.Job.Ports = append(b.Job.Ports, Port{ID: "p9", Cylinders: []int{2}, Side: Intake, Part: "right", Valves: []string{v}})
	b.Job.Regrouped(&was, 5*60000)
	b.Job.Order()
	if f := b.Job.Validate(); len(f) > 0 {
		t.Fatal(f)
	}
	var parts []string
	for i := range b.Job.Ports {
		if q := &b.Job.Ports[i]; first(q.Cylinders) == 2 {
			parts = append(parts, string(q.Side)+q.Part)
		}
	}
	if want := []string{"intakeleft", "intakeright", "exhaust"}; !slices.Equal(parts, want) {
		t.Errorf("the ports of cylinder 2 stand as %v, want %v", parts, want)
	}
	c := b.card()
	left, right := c.of(b.Job.port("p3")), c.of(b.Job.port("p9"))
	if left.Standing != Lapsed || left.Old == nil || !strings.Contains(left.Old.Why, "grouped otherwise") {
		t.Errorf("the regrouped port is %q, %+v", left.Standing, left.Old)
	}
	if !strings.Contains(left.Next.Do, "other valves than it did") {
		t.Errorf("its next step is %q", left.Next.Do)
	}
	if right.Standing != NotTested {
		t.Errorf("the new port is %q", right.Standing)
	}
	if got := c.of(b.Job.port("p1")); got.Standing != Holds {
		t.Errorf("another port is %q, want holds", got.Standing)
	}
	b.test(9, b.Job.port("p3"), reading(9, 0.05))
	if got := b.card().of(b.Job.port("p3")); got.Standing != Holds || !got.SignOff {
		t.Errorf("tested since, the port is %q, sign-off %v %v", got.Standing, got.SignOff, got.Off)
	}
	if s := SameAs(b.Job); s.Ports[2].Since != 0 {
		t.Error("a head like this one starts with a port that was grouped otherwise")
	}
}

// Another grouping says nothing of dirt: the port is as cleaned as it was.
func TestRegroupedPortKeepsItsState(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Intake)
	b.work(1, WorkCleaned)
	p.Since = 2 * 60000
	b.test(3, p, reading(9, 0.05), func(c *Conditions) { c.State = StateNotSaid })
	if c := b.card().of(p); !c.SignOff {
		t.Errorf("does not count: %v", c.Off)
	}
}

// A name, an opening or a volume leaves a port the same port.
func TestSamePortStays(t *testing.T) {
	b := newBook(t)
	was := b.Job
	was.Ports = slices.Clone(was.Ports)
	p := b.port(1, Intake)
	p.Part, p.Plugs, p.Volume = "upper", []string{"air passage"}, unit.Exactly(50e-6)
	p.Valves = []string{p.Valves[1], p.Valves[0]}
	b.Job.Regrouped(&was, 5*60000)
	if p.Since != 0 {
		t.Error("it was taken for another port")
	}
}

// Identities never come back: what was said of a valve that is gone would be
// said of another.
func TestFreeID(t *testing.T) {
	old := Job{Ports: []Port{{ID: "p3"}, {ID: "p12"}}, Valves: []Valve{{ID: "v20"}}}
	now := Job{Ports: []Port{{ID: "p3"}, {ID: "port x"}}}
	if got := FreeID("p", now, old); got != "p13" {
		t.Errorf("port %s, want p13", got)
	}
	if got := FreeID("v", now, old); got != "v21" {
		t.Errorf("valve %s, want v21", got)
	}
}

func TestDifferences(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(j *Job)
		want   []string
	}{
		{"nothing", func(*Job) {}, nil},
		{"a volume", func(j *Job) { j.port("p3").Volume = unit.Exactly(60e-6) }, []string{"cylinder 2 intake: volume not said → 60 cm³"}},
		{"words and figures of the head", func(j *Job) {
			j.Owner, j.Engine.Bore, j.Engine.Idle, j.Limit.Strict = "a boat yard", inMM(72.5), unit.Exactly(900*perMinute), true
		}, []string{"owner not said → a boat yard", "bore 72 mm → 72.5 mm", "idle speed not said → 900 r/min", "strict no → yes"}},
		{"how it lies", func(j *Job) { j.Lie.Said, j.Lie.FirstLeft = true, true }, []string{"how it lies not said → said", "first end right → left"}},
		{"a valve to a port of its own", func(j *Job) {
			j.Ports = append(j.Ports, Port{ID: "p9", Cylinders: []int{1}, Side: Intake, Part: "right", Valves: []string{"v2"}})
			j.Ports[0].Valves, j.Ports[0].Part = []string{"v1"}, "left"
		}, []string{"cylinder 1 intake, left port: name cylinder 1 intake → cylinder 1 intake, left port", "cylinder 1 intake, left port: feeds left valve and right valve → left valve", "cylinder 1 intake, right port: added, for the right valve"}},
		{"a valve and its port taken out", func(j *Job) {
			j.Ports, j.Valves = j.Ports[1:], j.Valves[2:]
		}, []string{"cylinder 1 intake: taken out", "cylinder 1 intake valve, left: taken out", "cylinder 1 intake valve, right: taken out"}},
		{"a valve's own", func(j *Job) {
			v := j.valve("v1")
			v.SeatAngle, v.Seal, v.Coating = unit.Exactly(45*degree), "viton", CoatingHard
		}, []string{"cylinder 1 intake valve, left: seat angle not said → 45°", "cylinder 1 intake valve, left: seal not said → viton", "cylinder 1 intake valve, left: coated or hollow not said → coated"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			was, is := newBook(t).Job, newBook(t).Job
			c.change(&is)
			var got []string
			for _, d := range Differences(&was, &is) {
				got = append(got, d.String())
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
	was, is := newBook(t).Job, newBook(t).Job
	for i := range is.Valves {
		if is.Valves[i].Side == Intake {
			is.Valves[i].Stem = inMM(5.5)
		}
	}
	all := Alike(&is, Differences(&was, &is))
	if len(all) != 1 || all[0].String() != "all intake valves: stem not said → 5.5 mm" {
		t.Errorf("six stems alike make %v", all)
	}
	is.Valves[0].Stem = inMM(6)
	if all = Alike(&is, Differences(&was, &is)); len(all) != 2 || strings.Count(all[1].Of, "valve") != 5 {
		t.Errorf("five stems alike make %v", all)
	}
}

func TestLayoutWords(t *testing.T) {
	for _, c := range []struct {
		scheme Scheme
		want   string
	}{
		{Scheme{Form: FormInline, Cylinders: 4, Valves: 4}, "4 cylinders in line: 1, 2, 3 and 4. 16 valves, 8 ports. Intake: a port for each cylinder, of 2 valves. Exhaust: a port for each cylinder, of 2 valves."},
		{Scheme{Form: FormVee, Cylinders: 3, Valves: 2, Bank: 2}, "3 cylinders of one bank of a vee: 4, 5 and 6. 6 valves, 6 ports. Intake: a port for each cylinder, of 1 valve. Exhaust: a port for each cylinder, of 1 valve."},
		{Scheme{Form: FormFlat, Cylinders: 1, Valves: 5, Intake: PortEach, Exhaust: PortValve}, "1 cylinder of one bank of a flat engine: 1. 5 valves, 3 ports. Intake: a port for each cylinder, of 3 valves. Exhaust: 2 ports for each cylinder, one a valve."},
		{Scheme{Form: FormInline, Cylinders: 4, Valves: 2, Intake: PortPairs, Exhaust: PortCentre, SameSide: true}, "4 cylinders in line: 1, 2, 3 and 4. 8 valves, 5 ports. Intake: cylinders 1 and 2 share one of 2 valves; cylinders 3 and 4 share one of 2 valves. Exhaust: cylinder 1 has one of 1 valve; cylinders 2 and 3 share one of 2 valves; cylinder 4 has one of 1 valve. Intake and exhaust ports open on one side."},
	} {
		j, f := Layout(c.scheme)
		if len(f) > 0 {
			t.Fatal(f)
		}
		if got := j.LayoutWords(); got != c.want {
			t.Errorf("%+v\ngot  %s\nwant %s", c.scheme, got, c.want)
		}
	}
}

// 1.75 strokes of 81.8 mm are 143 mm; a rod that was given is no guess.
func TestGuessedEngine(t *testing.T) {
	j := &Job{Engine: Engine{Stroke: inMM(81.8)}}
	g, guessed := j.Given()
	if got := fig(g.Rod.Value * 1e3); got != "143" || !slices.Contains(guessed, "connecting rod") || slices.Contains(guessed, "stroke") || !(g.Rod.Spread > 0.02) {
		t.Errorf("rod %s mm ± %v, guessed %v", got, g.Rod.Spread, guessed)
	}
	j.Engine.Rod = inMM(140)
	if g, guessed := j.Given(); g.Rod.Value != 0.14 || slices.Contains(guessed, "connecting rod") {
		t.Errorf("a rod that was given is guessed: %v", g.Rod)
	}
}
