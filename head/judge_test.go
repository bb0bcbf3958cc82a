package head

import (
	"math"
	"slices"
	"testing"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// The limits of physics.md §6: 23 cm³/min on a 27 mm valve of a 3 µm gap over
// 1.2 mm, and 20 on 23.5 mm; of two valves the sum. Within one valve's limit all
// are cleared, above the sum at least one leaks, between nobody can tell.
func TestPortVerdicts(t *testing.T) {
	for _, c := range []struct {
		q    float64 // cm³/min
		want Standing
		mask bool
	}{
		{8.4, Holds, false},
		{12, CantTellYet, false}, // 23 is not far enough above: once more
		{28, CantTellYet, true},
		{45, CantTellYet, true},
		{50, CantTellYet, false}, // over the sum, not surely
		{140, Leaks, false},
	} {
		b := newBook(t)
		p := b.port(2, Intake)
		b.test(1, p, reading(c.q, 0.05))
		card := b.card()
		got := card.of(p)
		if got.Standing != c.want {
			t.Errorf("%v cm³/min: %s, want %s (over one %.3f, over all %.3f)", c.q, got.Standing, c.want, *got.OverOne, *got.OverAll)
		}
		if one := got.OneLimit / cm3min; math.Abs(one-23) > 0.5 {
			t.Errorf("limit of one valve %.2f cm³/min, want 23", one)
		}
		if math.Abs(got.AllLimit-2*got.OneLimit) > 1e-12 {
			t.Errorf("limit of both %g, of one %g", got.AllLimit, got.OneLimit)
		}
		if masks := got.Next.Do == "mask the left valve, then test again"; masks != c.mask {
			t.Errorf("%v cm³/min: next %q", c.q, got.Next.Do)
		}
		for _, id := range p.Valves {
			v := card.valve(id)
			if v.Standing != c.want || v.OneOf != (c.want == Leaks) {
				t.Errorf("%v cm³/min: valve %s %s, one of %v", c.q, id, v.Standing, v.OneOf)
			}
		}
		if got.Standing != standingOf(got.Verdict) || !got.SignOff {
			t.Errorf("%v cm³/min: verdict %s, counts %v, %v", c.q, got.Verdict, got.SignOff, got.Off)
		}
	}
}

// The two chances are those of JCGM 106 against the two limits: of a lognormal
// with the scatter of one test and its own.
func TestPortChances(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Exhaust)
	r := reading(25, 0.1)
	b.test(1, p, r)
	c := b.card().of(p)
	if want := r.ChanceOver(c.OneLimit); math.Abs(*c.OverOne-want) > 1e-9 {
		t.Errorf("over one %v, want %v", *c.OverOne, want)
	}
	if want := r.ChanceOver(c.AllLimit); math.Abs(*c.OverAll-want) > 1e-9 {
		t.Errorf("over all %v, want %v", *c.OverAll, want)
	}
	if !(*c.OverOne > *c.OverAll) {
		t.Error("a lower limit is the likelier to be passed")
	}
	if c.Leak.Median != r.Leak.Median || c.Again.High != r.TestedAgain.High {
		t.Errorf("figures %+v %+v", c.Leak, c.Again)
	}
}

// Strict asks for 97.5 %: a port that holds with a chance of 3 to 5 % of being
// over can't be told.
func TestStrict(t *testing.T) {
	q := 0.0
	for x := 8.0; x < 13; x += 0.25 {
		if over := reading(x, 0.05).ChanceOver(23 * cm3min); over > 0.035 && over < 0.045 {
			q = x
		}
	}
	if q == 0 {
		t.Fatal("no flow found")
	}
	for _, strict := range []bool{false, true} {
		b := newBook(t)
		b.Job.Limit = Limit{Flow: unit.Exactly(23 * cm3min), Strict: strict}
		p := b.port(1, Intake)
		b.test(1, p, reading(q, 0.05))
		want := Holds
		if strict {
			want = CantTellYet
		}
		if c := b.card().of(p); c.Standing != want {
			t.Errorf("strict %v: %s, chance %v", strict, c.Standing, *c.OverOne)
		}
	}
}

// "Less than" can't be too much, and a fall without a volume is no leak rate.
func TestWhatCannotLeak(t *testing.T) {
	b := newBook(t)
	p, q := b.port(1, Intake), b.port(2, Intake)
	r := reading(400, 0.05)
	r.UpperLimitOnly = true
	b.test(1, p, r)
	bare := reading(10, 0.05)
	bare.Leak, bare.TestedAgain, bare.Draws = nil, nil, nil
	b.test(2, q, bare)
	card := b.card()
	if c := card.of(p); c.Standing != CantTellYet || !c.UpperOnly {
		t.Errorf("less than: %s", c.Standing)
	}
	c := card.of(q)
	if c.Standing != CantTellYet || c.Leak != nil || c.OverOne != nil || c.Fall == nil {
		t.Errorf("no volume: %+v", c)
	}
	if c.Next.Do != "give the volume of rig and port" {
		t.Errorf("no volume: %q", c.Next.Do)
	}
}

// A typed limit goes for each valve, whatever its size; a limit in thin air is
// that of the test's own air.
func TestLimitsOfAPort(t *testing.T) {
	b := newBook(t)
	p := b.port(1, Intake)
	b.Job.Limit.Flow = unit.Exactly(30 * cm3min)
	b.test(1, p, reading(10, 0.05))
	if c := b.card().of(p); c.OneLimit != 30*cm3min || c.AllLimit != 60*cm3min {
		t.Errorf("limits %v, %v", c.OneLimit/cm3min, c.AllLimit/cm3min)
	}
	b = newBook(t)
	p = b.port(1, Intake)
	high := reading(10, 0.05)
	high.Room, high.RoomTemp = 79501, 275.15 // 2,000 m by the standard atmosphere
	b.test(1, p, high)
	want, err := limit.Workmanship(27e-3, limit.WorkmanshipGap, 79501, 275.15)
	if err != nil {
		t.Fatal(err)
	}
	if c := b.card().of(p); c.OneLimit != want {
		t.Errorf("limit %v, want %v", c.OneLimit, want)
	}
	// unlike valves: the least clears, the sum condemns
	b.Job.valve(p.Valves[1]).Head = unit.Exactly(20e-3)
	least, _ := limit.Workmanship(20e-3, limit.WorkmanshipGap, 79501, 275.15)
	if c := b.card().of(p); c.OneLimit != least || math.Abs(c.AllLimit-least-want) > 1e-15 {
		t.Errorf("limits %v, %v", c.OneLimit, c.AllLimit)
	}
}

// A guessed diameter makes the limit doubtful, the verdict more cautious, and is
// told with how much it widened.
func TestGuessedDiameter(t *testing.T) {
	chances := map[bool]float64{}
	for _, given := range []bool{true, false} {
		b := newBook(t)
		p := b.port(1, Exhaust)
		if !given {
			for i := range b.Job.Valves {
				b.Job.Valves[i].Head = unit.Measured{}
			}
			b.Job.Engine.Bore = unit.Exactly(23.5e-3 / 0.33) // whose usual exhaust valve is the same
		}
		b.test(1, p, reading(9, 0.05))
		card := b.card()
		chances[given] = *card.of(p).OverOne
		at := slices.IndexFunc(card.Guesses, func(g Guess) bool { return g.Input == "exhaust valve diameter" })
		if given != (at < 0) {
			t.Fatalf("given %v: guesses %+v", given, card.Guesses)
		}
		if !given {
			g := card.Guesses[at]
			if g.Widened < 1.005 || g.Widened > 1.2 || g.Dim != unit.LengthDim || math.Abs(g.Guess.Value-23.5e-3) > 1e-6 {
				t.Errorf("guess %+v", g)
			}
			if v := card.valve(p.Valves[0]); !v.HeadGuessed {
				t.Error("the valve does not say that its head is guessed")
			}
		}
	}
	if !(chances[false] > chances[true]) {
		t.Errorf("chance of being over with a guess %v, without %v", chances[false], chances[true])
	}
}

// A mask turns a port into one with fewer valves: what is left is judged by what
// is left.
func TestMasks(t *testing.T) {
	for _, c := range []struct {
		name        string
		left, right float64 // what is read with that valve masked; 0: no such test
		whole       float64
		port        Standing
		valves      [2]Standing
		next        string
	}{
		{"one masked, the other holds", 7, 0, 28, CantTellYet, [2]Standing{CantTellYet, Holds}, "mask the right valve, then test again"},
		{"one masked, the other leaks", 80, 0, 38, Leaks, [2]Standing{CantTellYet, CantTellYet}, ""},
		{"each holds alone", 7, 6, 28, Holds, [2]Standing{Holds, Holds}, ""},
		{"the masked one was it", 7, 0, 140, Leaks, [2]Standing{Leaks, Holds}, ""},
		{"still open", 22, 22, 40, CantTellYet, [2]Standing{CantTellYet, CantTellYet}, "mask both valves, then test again"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBook(t)
			p := b.port(2, Intake)
			b.test(1, p, reading(c.whole, 0.03))
			for i, q := range []float64{c.left, c.right} {
				if q > 0 {
					b.test(int64(2+i), p, reading(q, 0.03), func(x *Conditions) { x.Masked = []string{p.Valves[i]} })
				}
			}
			card := b.card()
			got := card.of(p)
			if got.Standing != c.port {
				t.Errorf("port %s, want %s", got.Standing, c.port)
			}
			for i, want := range c.valves {
				if v := card.valve(p.Valves[i]); v.Standing != want || v.OneOf {
					t.Errorf("valve %d: %s (one of: %v), want %s", i, v.Standing, v.OneOf, want)
				}
			}
			if c.next != "" && got.Next.Do != c.next {
				t.Errorf("next %q, want %q", got.Next.Do, c.next)
			}
			if len(got.Counted) != 1 || len(got.Masked) == 0 {
				t.Errorf("counted %v, masked %v", got.Counted, got.Masked)
			}
		})
	}
}

// A test with a mask and no other is no test of the port.
func TestMaskedOnly(t *testing.T) {
	b := newBook(t)
	p := b.port(2, Intake)
	b.test(1, p, reading(7, 0.05), func(x *Conditions) { x.Masked = p.Valves[:1] })
	card := b.card()
	if c := card.of(p); c.Standing != CantTellYet || c.SignOff || c.Next.Do != "test it with no valve masked" {
		t.Errorf("%s, %q", c.Standing, c.Next.Do)
	}
	if v := card.valve(p.Valves[1]); v.Standing != Holds {
		t.Errorf("the open valve %s", v.Standing)
	}
}

// A wet seat neither holds nor leaks for certain: an oil film closes a small gap
// for a while, a solvent's vapour falls without a leak (physics.md §3).
func TestWetSeatsTellNothing(t *testing.T) {
	for _, q := range []float64{2, 400} {
		b := newBook(t)
		p := b.port(2, Intake)
		b.test(1, p, reading(q, 0.05), func(x *Conditions) { x.Wet = rig.WetPetrol })
		c := b.card().of(p)
		if c.Standing != CantTellYet || c.Next.Do != "dry and clean both seats, then test" || c.SignOff {
			t.Errorf("%v cm³/min wet: %s, %q", q, c.Standing, c.Next.Do)
		}
		// a dry test of any sort counts before it
		b.test(2, p, reading(3, 0.05), func(x *Conditions) { x.Held = rig.HeldThumb })
		if c := b.card().of(p); c.Standing != Holds || len(c.Aside) != 1 {
			t.Errorf("dry beside wet: %s, %v", c.Standing, c.Aside)
		}
	}
}

// Several tests that are like are read together, and no others.
func TestOnlyLikeTogether(t *testing.T) {
	b := newBook(t)
	p := b.port(3, Intake)
	x, y := reading(20, 0.05), reading(26, 0.05)
	one, two := b.test(1, p, x), b.test(2, p, y)
	other := b.test(3, p, reading(300, 0.05), func(c *Conditions) { c.Held = rig.HeldNothing })
	off := b.test(4, p, refused())
	c := b.card().of(p)
	want := leak.Together([]leak.Test{{Name: "test 1", Reading: x}, {Name: "test 2", Reading: y}}, nil)
	if c.Leak.Median != want.Leak.Median || c.Again.High != want.TestedAgain.High {
		t.Errorf("leak %v, want %v", c.Leak, want.Leak)
	}
	if !slices.Equal(c.Counted, []string{one, two}) {
		t.Errorf("counted %v", c.Counted)
	}
	why := map[string][]string{}
	for _, a := range c.Aside {
		why[a.Test] = a.Why
	}
	if !slices.Equal(why[other], []string{"valves held by the vacuum alone"}) || !slices.Equal(why[off], []string{"refused"}) {
		t.Errorf("aside %v", why)
	}
	if !slices.ContainsFunc(c.Reading.Warnings, func(w leak.Warning) bool { return w.Code == leak.RepeatRefused && w.Name == "test 4" }) {
		t.Errorf("warnings %+v", c.Reading.Warnings)
	}
}
