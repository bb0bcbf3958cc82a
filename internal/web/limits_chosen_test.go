package web

import (
	"context"
	"math"
	"strings"
	"testing"

	"seatproof/check"
	"seatproof/head"
)

// TestChosenLimitEverywhere: a limit by a drop below the blanked reading, or by a
// port known good, is the limit of a live run, of the checks of the rig and of
// what they shrink, as it is the card's.
func TestChosenLimitEverywhere(t *testing.T) {
	b := newBed(t)
	rigID := at(t, call(t, b, "POST", "rigs", obj{"name": "bench", "file": "volume = \"62 ± 3 cm3\"\nrig_leak = \"0.5 ± 0.2 cm3/min\"\n[pump]\nfree_flow = \"10 L/min\"\nblanked = \"77.4 ± 1.2 kPa\"\n[air]\npressure = \"100.6 ± 0.1 kPa\"\ntemperature = \"20 °C\"\n"}, 201), "rig.id").(string)
	h := call(t, b, "POST", "heads", obj{"number": "L-1", "layout": layout4, "rig": rigID}, 201)
	id, port := at(t, h, "head.id").(string), at(t, h, "head.ports.0.id").(string)
	call(t, b, "POST", "tests", counted(id, port, "21½", "19"), 201)
	rev := 1
	for _, c := range []obj{{"basis": "drop", "drop": "6.77"}, {"basis": "good-port", "good": port}} {
		call(t, b, "PUT", "heads/"+id, obj{"rev": rev, "limit": c}, 200)
		rev++
		ctx := context.Background()
		k, err := load[head.Job](ctx, b.server.Keeper, kindJob, id)
		if err != nil {
			t.Fatal(err)
		}
		card, err := b.server.card(ctx, k)
		if err != nil {
			t.Fatal(err)
		}
		want := card.Rows[0].limits[0]
		if by := string(card.made.Ports[0].Limits[0].Kind); by != c["basis"] {
			t.Fatalf("the card goes by %s, want %s", by, c["basis"])
		}
		same := func(where string, got float64) {
			t.Helper()
			if !(math.Abs(got/want-1) < 0.02) { // the room of a test, and of the rig today
				t.Errorf("by %s, %s: %.3g cm³/min, the card has %.3g", c["basis"], where, got*6e7, want*6e7)
			}
		}
		var f faults
		plan, err := b.server.livePlan(ctx, id, rigID, nil, nil, nil, &f)
		if err != nil || f.err() != nil {
			t.Fatal(err, f)
		}
		same("a live run", plan.Ports[0].Limit)
		g, err := load[head.Rig](ctx, b.server.Keeper, kindRig, rigID)
		if err != nil {
			t.Fatal(err)
		}
		r, _ := b.server.ReadRig(g.V.File)
		r = check.Apply(r, nil, b.server.Now())
		tests, err := b.server.testsOn(ctx, rigID, r, r)
		if err != nil || len(tests) != 1 {
			t.Fatal(err, tests)
		}
		same("what checks shrink", tests[0].limit)
		least := math.Inf(1)
		for _, row := range card.Rows {
			if row.limits[0] > 0 {
				least = math.Min(least, row.limits[0])
			}
		}
		want = least
		same("a check of the rig", b.server.leastLimit(ctx, rigID, r))
		wall := call(t, b, "GET", "rigs/"+rigID+"/card?head="+id, nil, 200)
		kind := map[string]string{"drop": "a drop below the blanked reading", "good-port": "a port known good"}[c["basis"].(string)]
		if got := at(t, wall, "card.ports.0.valves").(string); !strings.Contains(got, "cm³/min a valve: "+kind) {
			t.Errorf("by %s, the wall card goes by %q", c["basis"], got)
		}
	}
}
