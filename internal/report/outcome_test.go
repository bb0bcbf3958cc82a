package report

import (
	"strings"
	"testing"

	"seatproof/leak"
	"seatproof/limit"
)

// The verdict lines as docs/model.md §9 gives them.
func TestVerdictLine(t *testing.T) {
	over := func(x float64) *float64 { return &x }
	holds := invented("cylinder 1 intake", 9.6, 8.1, 11, 5.2, 18, 23, 0.002)
	doubt := invented("cylinder 1 intake", 28, 26, 31, 17, 46, 23, 0.31)
	sure := invented("cylinder 1 intake", 9.6, 8.1, 11, 5.2, 18, 23, 0.0004)
	plain := invented("cylinder 1 intake", 9.6, 8.1, 11, 5.2, 18, 23, 0.002)
	plain.Limit, plain.Over, plain.Verdict = nil, nil, ""
	less := invented("cylinder 1 intake", 0.6, 0, 1.4, 0, 2.1, 23, 0)
	less.Reading.UpperLimitOnly = true
	falls := invented("cylinder 1 intake", 9.6, 8.1, 11, 5.2, 18, 23, 0)
	falls.Reading.Leak, falls.Over, falls.Verdict = nil, nil, ""
	leaks := invented("cylinder 1 intake", 140, 120, 160, 75, 260, 20, 0)
	leaks.Over, leaks.Verdict = over(0.9999), limit.Leaks
	for _, c := range []struct {
		name string
		o    *Outcome
		want string
	}{
		{"holds", holds, "holds: 9.6 cm³/min (this trace 8.1 to 11; this port, tested again 5.2 to 18), limit 23, chance of being over 0.2 %"},
		{"can't tell yet", doubt, "can't tell yet: 28 cm³/min (this trace 26 to 31; this port, tested again 17 to 46), limit 23, chance of being over 31 %; test the port once more"},
		{"nearly certain", sure, "holds: 9.6 cm³/min (this trace 8.1 to 11; this port, tested again 5.2 to 18), limit 23, chance of being over: under 0.1 %"},
		{"no limit", plain, "9.6 cm³/min (this trace 8.1 to 11; this port, tested again 5.2 to 18)"},
		{"upper limit only", less, "holds: less than 1.4 cm³/min (this trace; this port, tested again less than 2.1), limit 23, chance of being over: under 0.1 %"},
		{"rate of fall only", falls, "no leak rate, falls 0.10 kPa/s, 0.096 to 0.11"},
		{"leaks", leaks, "leaks: 140 cm³/min (this trace 120 to 160; this port, tested again 75 to 260), limit 20, chance of being over: above 99.9 %"},
		{"unreadable", inventedUnreadable(), "unreadable: notes.pdf: this is not text"},
	} {
		if got := c.o.VerdictLine(Style{}); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestWorstFirst(t *testing.T) {
	all := append(inventedHead(), inventedUnreadable())
	only := invented("cylinder 4 intake", 5, 4, 6, 3, 9, 23, 0)
	only.Reading.Leak, only.Over, only.Verdict = nil, nil, ""
	all = append(all, only)
	answered, not := WorstFirst(all)
	var got []string
	for _, o := range append(answered, not...) {
		got = append(got, o.Name())
	}
	want := "cylinder 2 exhaust, cylinder 3 intake, cylinder 2 intake, cylinder 1 exhaust, cylinder 1 intake, cylinder 4 intake, cylinder 3 exhaust, notes.pdf"
	if s := strings.Join(got, ", "); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
	if all[0].Port != "cylinder 1 exhaust" {
		t.Error("WorstFirst changed the slice it was given")
	}
}

// The step follows what keeps the verdict open: the scatter from test to test,
// or the input with the largest share.
func TestNextStep(t *testing.T) {
	scatter := invented("p", 28, 26, 31, 17, 46, 23, 0.78)
	if got := scatter.Next().Step; got != "test the port once more" {
		t.Errorf("narrow trace: %q, want one more test", got)
	}
	wide := invented("p", 28, 18, 44, 17, 46, 23, 0.78)
	wide.Reading.Budget[0] = leak.BudgetLine{Input: "volume", Share: 0.7}
	if got := wide.Next().Step; got != "measure the volume" {
		t.Errorf("wide trace: %q, want the volume measured", got)
	}
	if got := invented("p", 9.6, 8.1, 11, 5.2, 18, 23, 0.002).Next(); got != (Next{}) {
		t.Errorf("a port that holds: %+v, want nothing to do", got)
	}
	// Metal is the last thing named, after the four steps (docs/model.md §9).
	order := []string{"Dry and clean", "plate down again", "turn the valve", "close the guide off", "Remove metal"}
	said := map[string]bool{}
	words := invented("p", 140, 120, 160, 75, 260, 20, 1).Next().words(said)
	at := -1
	for _, w := range order {
		i := strings.Index(words, w)
		if i <= at {
			t.Errorf("%q stands at %d, not after what comes before it: %s", w, i, words)
		}
		at = i
	}
	if got, want := invented("q", 140, 120, 160, 75, 260, 20, 1).Next().words(said), "Dry and clean the seats and test again. If it still leaks: as above."; got != want {
		t.Errorf("a second port that leaks: %q, want %q", got, want)
	}
}
