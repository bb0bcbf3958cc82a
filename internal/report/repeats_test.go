package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"seatproof/leak"
)

// inventedRepeats are three tests of a port and one that was refused.
func inventedRepeats() *Outcome {
	each := []*Outcome{
		invented("cylinder 2 intake", 11, 10, 12, 4, 30, 23, 0.06), invented("cylinder 2 intake", 9.6, 8.8, 10.4, 3.6, 26, 23, 0.04),
		invented("cylinder 2 intake", 7.9, 7.1, 8.7, 3, 22, 23, 0.02), inventedHead()[5],
	}
	for i, name := range []string{"a.csv", "b.csv", "c.csv", "d.csv"} {
		each[i].File, each[i].Port = "traces/"+name, "cylinder 2 intake"
	}
	o := *each[1]
	r := *o.Reading
	r.Leak, r.TestedAgain = flows(9.6, 7.4, 12), flows(9.6, 5.2, 18)
	r.Repeats = &leak.Repeats{Tests: 3, Middle: 1, One: *flows(9.6, 8.8, 10.4), Between: leak.Interval{Median: 0.25, Low: 0.12, High: 0.6}}
	r.Warnings = []leak.Warning{
		{Code: leak.RepeatRefused, Name: "d.csv", Refusal: each[3].Reading.Refusal},
		{Code: leak.Gaps, Count: 2, Name: "a.csv, c.csv"},
	}
	over := 0.002
	o.File, o.Reading, o.Over, o.Verdict = "traces/a.csv, traces/b.csv, traces/c.csv, traces/d.csv", &r, &over, "holds"
	o.Each, o.Middle = each, 1
	return &o
}

func TestRepeatsText(t *testing.T) {
	var b bytes.Buffer
	o := inventedRepeats()
	if err := WriteText(&b, o, Style{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "repeats.txt", b.Bytes())
	want := "holds: 9.6 cm³/min (these tests 7.4 to 12; this port, tested again 5.2 to 18), limit 23, chance of being over 0.2 %; 3 tests"
	if got := o.VerdictLine(Style{}); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	b.Reset()
	if err := WriteTable(&b, append(inventedHead()[:2], o), Style{}); err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"verdict tests cm³/min these tests", "cylinder 2 intake holds 3 9.6 7.4 to 12", "cylinder 1 exhaust holds 1 8.4"} {
		if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), words) {
			t.Errorf("%q is not in the table:\n%s", words, b.String())
		}
	}
}

func TestRepeatsJSON(t *testing.T) {
	var b bytes.Buffer
	if err := WriteJSON(&b, []*Outcome{inventedRepeats()}, "1"); err != nil {
		t.Fatal(err)
	}
	type flow struct{ Median, Low, High float64 }
	var v struct {
		File  string
		Tests int
		Leak  struct {
			Flow flow   `json:"flow_cm3_min"`
			Of   string `json:"interval_of"`
		}
		Between flow `json:"between_test_cv"`
		One     flow `json:"one_test_flow_cm3_min"`
		Repeats []struct {
			File    string
			Tests   int
			Leak    struct{ Flow *flow }
			Repeats []any
			Refusal *struct{ Code string }
		}
	}
	if err := json.Unmarshal(b.Bytes(), &v); err != nil {
		t.Fatal(err)
	}
	if v.Tests != 3 || v.Leak.Of != "these tests" || v.Leak.Flow != (flow{9.6, 7.4, 12}) || v.One != (flow{9.6, 8.8, 10.4}) || v.Between != (flow{0.25, 0.12, 0.6}) {
		t.Errorf("got %+v", v)
	}
	if len(v.Repeats) != 4 || v.Repeats[2].File != "traces/c.csv" || v.Repeats[2].Tests != 1 || v.Repeats[2].Repeats == nil || v.Repeats[3].Refusal == nil {
		t.Errorf("repeats: %+v", v.Repeats)
	}
	// one trace: its own leak, the scatter known beforehand (sigma_b 0.3, 0.12 to
	// 0.8: sqrt(exp(s²) - 1)), no repeats
	b.Reset()
	if err := WriteJSON(&b, inventedHead()[:1], "1"); err != nil {
		t.Fatal(err)
	}
	v.Repeats = nil
	if err := json.Unmarshal(b.Bytes(), &v); err != nil {
		t.Fatal(err)
	}
	if v.Tests != 1 || v.One != v.Leak.Flow || v.Between.Median < 0.306 || v.Between.Median > 0.308 || v.Repeats == nil || len(v.Repeats) != 0 {
		t.Errorf("one trace: %+v", v)
	}
}

// The drawing shows the middle test, the others thin, and stays a drawing; the
// page says what its intervals are of.
func TestRepeatsDrawn(t *testing.T) {
	o := inventedRepeats()
	var b bytes.Buffer
	if err := WritePlot(&b, o, Style{}); err != nil {
		t.Fatal(err)
	}
	wellFormed(t, "repeats", b.Bytes())
	if n := strings.Count(b.String(), `class="thin" style="opacity`); n != 2 {
		t.Errorf("%d other tests drawn, want 2", n)
	}
	b.Reset()
	if err := WritePage(&b, Page{Title: "x"}, []*Outcome{o, inventedHead()[0]}, Style{}); err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{`data-name="tests">3<`, `data-name="tests">1<`, `data-name="these tests"`, `data-name="this trace"`} {
		if !strings.Contains(b.String(), words) {
			t.Errorf("%q is not on the page", words)
		}
	}
}

// Warnings about several tests name them; those of some tests say of which.
func TestRepeatWords(t *testing.T) {
	for _, c := range []struct {
		w    leak.Warning
		want string
	}{
		{leak.Warning{Code: leak.Gaps, Count: 2, Name: "a.csv, c.csv"}, "Of a.csv, c.csv: The recording pauses 2 times."},
		{leak.Warning{Code: leak.RepeatRefused, Name: "d.csv", Refusal: &leak.Refusal{Code: leak.NoPull}}, "d.csv is refused and left out: The port was never pulled down"},
		{leak.Warning{Code: leak.OddRepeat, Name: "b.csv", Count: 4, Figure: 300 * perCm3min, Others: *flows(10, 8, 13)}, "b.csv lies far off the others: 300 cm³/min against 8.0 to 13."},
		{leak.Warning{Code: leak.OddRepeat, Name: "a.csv, b.csv", Count: 2, Figure: 10 * perCm3min, Other: 500 * perCm3min}, "a.csv, b.csv: these differ by more than two tests of one port usually do, 10 and 500 cm³/min."},
		{leak.Warning{Code: leak.UnlikeGauges, Name: "a.csv, b.csv"}, "a.csv, b.csv: these were taken with gauges of another step"},
	} {
		if got := WarningMessage(Style{}, c.w).String(); !strings.HasPrefix(got, c.want) {
			t.Errorf("got  %s\nwant %s ...", got, c.want)
		}
	}
}
