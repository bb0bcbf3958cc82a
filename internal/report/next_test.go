package report

import (
	"bytes"
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/leak"
)

// warned is a port of each verdict, warned of so much.
func warned(over float64, codes ...leak.WarningCode) *Outcome {
	o := invented("cylinder 3 intake", 28, 26, 31, 17, 46, 23, over)
	for _, c := range codes {
		o.Reading.Warnings = append(o.Reading.Warnings, leak.Warning{Code: c, Figure: 10})
	}
	return o
}

// What puts the figure in doubt is seen to before anything else, whatever the
// verdict; the verdict's word stays.
func TestWarningAsksFirst(t *testing.T) {
	want := map[leak.WarningCode]string{
		leak.WetPort: "dry the port", leak.FallStops: "dry the port", leak.HoldBreaks: "wipe seat", leak.Oiled: "wipe seat",
		leak.Slowing: "hold a blank", leak.Drift: "wait",
	}
	if n := len(head.Doubts()); n != len(want) {
		t.Errorf("%d codes in order, want %d", n, len(want))
	}
	for code, step := range want {
		for over, word := range map[float64]string{0.002: "holds", 0.5: "can't tell yet", 0.999: "leaks"} {
			o := warned(over, leak.Gaps, code)
			n := o.Next()
			if !strings.HasPrefix(n.Step, step) || n.Reason == "" {
				t.Errorf("%s, %s: %+v, want a step that begins %q, and why", code, word, n, step)
			}
			if (n.Then != "") != (word == "leaks") {
				t.Errorf("%s, %s: then %q", code, word, n.Then)
			}
			line := o.VerdictLine(Style{})
			if !strings.HasPrefix(line, word+": ") || strings.HasSuffix(line, "; "+n.Step) != (word != "leaks") {
				t.Errorf("%s, %s: %s", code, word, line)
			}
		}
		if o := warned(0.002, code); !o.retest() {
			t.Errorf("%s: holds, and need not be tested again", code)
		}
		o := warned(0.002, code)
		if o.Verdict = ""; o.Next() != (Next{}) {
			t.Errorf("%s: a port that was not judged: %+v", code, o.Next())
		}
	}
	// Oil may hide a leak; a liquid shows one that is none.
	for _, c := range []struct {
		codes []leak.WarningCode
		want  leak.WarningCode
	}{
		{[]leak.WarningCode{leak.FallStops, leak.Slowing}, leak.FallStops},
		{[]leak.WarningCode{leak.Drift, leak.Slowing}, leak.Slowing},
		{[]leak.WarningCode{leak.FallStops, leak.HoldBreaks}, leak.HoldBreaks},
		{[]leak.WarningCode{leak.Oiled, leak.WetPort}, leak.WetPort},
		{[]leak.WarningCode{leak.Gaps, leak.BareValves, leak.LawMisfit}, ""},
	} {
		if got := warned(0.5, c.codes...).asks(); got != c.want {
			t.Errorf("%v: %q asks, want %q", c.codes, got, c.want)
		}
	}
	if o := warned(0.002, leak.Gaps); o.retest() || o.Next() != (Next{}) {
		t.Errorf("a pause in the recording: %+v, want nothing to do", o.Next())
	}
}

// Table, text and page say that a port that holds must be tested again, and the
// step once; a card of the page stands alone and says it too.
func TestRetestIsSaid(t *testing.T) {
	o := warned(0.002, leak.FallStops)
	var table, text, page bytes.Buffer
	if err := WriteTable(&table, []*Outcome{o, inventedHead()[0]}, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := WriteText(&text, o, Style{}); err != nil {
		t.Fatal(err)
	}
	if err := WritePage(&page, Page{Title: "x"}, []*Outcome{o, inventedHead()[0]}, Style{}); err != nil {
		t.Fatal(err)
	}
	plain := func(b bytes.Buffer) string { return strings.Join(strings.Fields(b.String()), " ") }
	for _, words := range []string{"cylinder 3 intake holds, retest", "cylinder 3 intake holds, but test it again: dry the port"} {
		if !strings.Contains(plain(table), words) {
			t.Errorf("%q is not in the table:\n%s", words, table.String())
		}
	}
	for name, said := range map[string]string{"table": plain(table), "text": plain(text)} {
		if n := strings.Count(strings.ToLower(said), "dry the port"); n != 1 {
			t.Errorf("the %s says %d times to dry the port:\n%s", name, n, said)
		}
	}
	if n := strings.Count(page.String(), `class="again">retest<`); n != 2 {
		t.Errorf("the page marks the port %d times, want in its row and on its card", n)
	}
	if n := strings.Count(page.String(), "Dry the port"); n != 2 {
		t.Errorf("the page says %d times to dry the port, want in the list and on the card", n)
	}
}

// A hold that broke is drawn with a line where it did.
func TestBreakIsDrawn(t *testing.T) {
	for _, c := range []struct {
		code leak.WarningCode
		want int
	}{{leak.HoldBreaks, 1}, {leak.FallStops, 0}} {
		var b bytes.Buffer
		if err := WritePlot(&b, warned(0.999, c.code), Style{}); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, string(c.code), b.Bytes())
		if n := strings.Count(b.String(), `class="broke"`); n != c.want || strings.Contains(b.String(), "broke after 10 s") != (n > 0) {
			t.Errorf("%s: %d lines, want %d", c.code, n, c.want)
		}
	}
}

func TestEachWords(t *testing.T) {
	if got, want := inventedRepeats().eachWords(Style{}), "11, 9.6, 7.9 cm³/min; 1 test without a figure"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := inventedHead()[0].eachWords(Style{}); got != "" {
		t.Errorf("one trace: %q", got)
	}
}
