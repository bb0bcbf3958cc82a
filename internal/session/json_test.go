package session

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// Whatever a run does can be sent as JSON, each action with its kind, and so
// can the state at any time; every code that was said is in the list of codes.
func TestActionsAreJSON(t *testing.T) {
	b := newBench(t, benchPlan())
	b.pull(0.3, 60, 20, b.shut())
	b.key(Next, "")
	b.key(Skip, "")
	b.pull(12, 155, 20, func(*invented, float64) {
		if _, err := json.Marshal(b.s.View()); err != nil {
			t.Fatal(err)
		}
	})
	b.key(Refile, "p2")
	kinds := map[string]int{}
	for _, a := range b.did {
		j, err := MarshalAction(a)
		if err != nil {
			t.Fatal(err)
		}
		var m map[string]any
		if err := json.Unmarshal(j, &m); err != nil {
			t.Fatalf("%s: %v", j, err)
		}
		do, _ := m["do"].(string)
		kinds[do]++
		if s, ok := a.(Say); ok && !slices.Contains(SayCodes(), s.Code) {
			t.Errorf("code %s is not in the list", s.Code)
		}
		if len(j) > 4096 {
			t.Errorf("%s is long: %d bytes", do, len(j))
		}
	}
	for _, k := range []string{"say", "phase", "call", "look", "estimate", "file", "move"} {
		if kinds[k] == 0 {
			t.Errorf("no action %q in a whole run: %v", k, kinds)
		}
	}
	j, err := json.Marshal(b.s.View())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"stage":"ports"`, `"target":"p1"`, `"moved":["p1"]`, `"blank":"passed"`, `"known":"skipped"`} {
		if !strings.Contains(string(j), want) {
			t.Errorf("the state does not hold %s: %s", want, j)
		}
	}
}
