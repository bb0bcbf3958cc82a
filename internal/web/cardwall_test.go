package web

import (
	"bytes"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"
	"time"

	"seatproof/check"
	"seatproof/internal/rigfile"
	"seatproof/internal/study"
	"seatproof/trace"
)

const needleRig = `name = "12 V pump, needle"
volume = "62 ± 3 cm3"
rig_leak = "0.6 ± 0.3 cm3/min"
[port]
volume = "95 ± 20 cm3"
[pump]
free_flow = "10 L/min"
blanked = "22.9 ± 0.3 inHg"
[gauge]
kind = "needle"
unit = "inHg"
division = "0.5 inHg"
class = 1.6
[air]
pressure = "100.6 kPa"
temperature = "20 °C"
`

// A rig's card is for the head that names it, for another, or for valves that are
// typed; the page is a PDF.
func TestWallCard(t *testing.T) {
	b := newBed(t)
	r := call(t, b, "POST", "rigs", obj{"name": "needle", "file": needleRig}, 201)
	id := at(t, r, "rig.id").(string)
	none := call(t, b, "GET", "rigs/"+id+"/card", nil, 200)
	if at(t, none, "card.pdf") != "" || len(at(t, none, "card.ports").([]any)) != 0 {
		t.Errorf("no head and no valves: %v", at(t, none, "card"))
	}
	h := call(t, b, "POST", "heads", obj{"number": "W-1", "rig": id, "layout": layout4}, 201)
	c := call(t, b, "GET", "rigs/"+id+"/card", nil, 200)
	if at(t, c, "card.head") != at(t, h, "head.id") {
		t.Errorf("for head %v, want the one that names the rig", at(t, c, "card.head"))
	}
	if n := len(at(t, c, "card.ports").([]any)); n != 2 {
		t.Fatalf("%d kinds of port, want 2", n)
	}
	if got := at(t, c, "card.blank").(string); got != "The blank must reach 22½ inHg and lose no more than ½ inHg in 60 s." {
		t.Errorf("blank: %s", got)
	}
	if got := at(t, c, "card.ports.0.rows.1"); got.(obj)["name"] != "loses no more than" || !strings.HasSuffix(got.(obj)["value"].(string), " inHg") || got.(obj)["large"] != true {
		t.Errorf("second figure: %v", got)
	}
	if svg := at(t, c, "card.svg").(string); !strings.Contains(svg, "Does the port hold?") {
		t.Error("the drawing is no card")
	}
	res, err := http.Get(b.URL + "/api/" + at(t, c, "card.pdf").(string))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	pdf, err := io.ReadAll(res.Body)
	if err != nil || res.Header.Get("Content-Type") != "application/pdf" || !bytes.HasPrefix(pdf, []byte("%PDF-")) || !strings.Contains(res.Header.Get("Content-Disposition"), "wall-card") {
		t.Errorf("%v: %s, %q", err, res.Header, pdf[:min(len(pdf), 40)])
	}
	own := call(t, b, "GET", "rigs/"+id+"/card?held=own-spring&valves=27,%2027%20mm", nil, 200)
	if rows := at(t, own, "card.ports.0.rows").([]any); len(rows) != 3 {
		t.Errorf("own springs need no second way: %v", rows)
	}
	if bad := call(t, b, "GET", "rigs/"+id+"/card?valves=thirty", nil, 422); at(t, bad, "error.fields.0.field") != "valves" {
		t.Errorf("valves that are none: %v", bad)
	}
	bare := call(t, b, "POST", "rigs", obj{"name": "bare"}, 201)
	if bad := call(t, b, "GET", "rigs/"+at(t, bare, "rig.id").(string)+"/card?valves=27%20mm", nil, 422); !strings.Contains(at(t, bad, "error.what").(string), "blanked reading") {
		t.Errorf("a rig of which nothing is known: %v", bad)
	}
}

// What was recorded on a rig on a day tells its likely fault, in the gauge's own
// unit; a day without recordings tells nothing.
func TestRigFaults(t *testing.T) {
	b := newBed(t)
	d, err := study.DrawDay(check.FaultFitting, rand.New(rand.NewPCG(3, 3)))
	if err != nil {
		t.Fatal(err)
	}
	d.Rig.Gauge.Unit = "inHg"
	var file strings.Builder
	if err := rigfile.Write(&file, d.Rig); err != nil {
		t.Fatal(err)
	}
	r := call(t, b, "POST", "rigs", obj{"name": "study rig", "file": file.String()}, 201)
	way := "rigs/" + at(t, r, "rig.id").(string)
	if got := call(t, b, "GET", way+"/faults", nil, 200); len(at(t, got, "faults").([]any)) != 0 {
		t.Errorf("a rig on which nothing was recorded: %v", got)
	}
	when := time.Now().Add(-time.Minute).UnixMilli()
	for _, p := range d.Pulls {
		if p.On != check.OnABlank {
			continue
		}
		var text bytes.Buffer
		if err := trace.Write(&text, p.Trace); err != nil {
			t.Fatal(err)
		}
		blob, err := b.keeper.AddBlob(t.Context(), "blank.csv", "text/csv", &text)
		if err != nil {
			t.Fatal(err)
		}
		call(t, b, "POST", way+"/check/rig-leak", obj{"traces": []string{blob.ID}, "at": when}, 201)
		when += 1000
	}
	got := call(t, b, "GET", way+"/faults?day="+time.UnixMilli(when).Format(time.DateOnly), nil, 200)
	if len(at(t, got, "faults").([]any)) == 0 || at(t, got, "faults.0.code") != string(check.FaultFitting) {
		t.Fatalf("found %v, want %s", got, check.FaultFitting)
	}
	if e := at(t, got, "faults.0.evidence.0").(string); !strings.Contains(e, "cm³/min") || at(t, got, "faults.0.do") == "" {
		t.Errorf("told as %v", at(t, got, "faults.0"))
	}
	call(t, b, "GET", way+"/faults?day=yesterday", nil, 422)
}

// A card follows what its rig's checks say now: a blanked reading of yesterday that
// is trusted for a week from now on moves the blank's line.
func TestWallCardFollowsTrust(t *testing.T) {
	now := time.Date(2026, 3, 2, 10, 0, 0, 0, time.Local)
	b := bedOn(t, Config{Keeper: NewMemory(), Version: "test", Now: func() time.Time { return now }})
	id := at(t, call(t, b, "POST", "rigs", obj{"name": "needle", "file": needleRig}, 201), "rig.id").(string)
	call(t, b, "POST", "rigs/"+id+"/check/blanked", obj{"rows": []any{obj{"pull": "21 inHg"}, obj{"pull": "21.1 inHg"}, obj{"pull": "20.9 inHg"}}}, 201)
	blanked := standsFor(t, call(t, b, "GET", "rigs/"+id+"/check", nil, 200), check.KindBlanked)
	now = now.AddDate(0, 0, 1)
	blank := func() string {
		return at(t, call(t, b, "GET", "rigs/"+id+"/card?valves=27,+27+mm", nil, 200), "card.blank").(string)
	}
	old := blank()
	call(t, b, "PUT", "checks/"+blanked["id"].(string), obj{"days": 7}, 200)
	if is := blank(); is == old || !strings.Contains(is, "20½ inHg") {
		t.Errorf("with the reading trusted the card says %q, before %q", is, old)
	}
}
