package report

import (
	"encoding/xml"
	"io"
	"strconv"
	"strings"
	"testing"

	"seatproof/head"
	"seatproof/unit"
)

// said is a text of a drawing with the box that it fills [px].
type said struct {
	words                    string
	left, right, top, bottom float64
}

// saidIn reads a drawing's texts; turned ones, which stand in the metal, are left
// out.
func saidIn(t *testing.T, svg string) (texts []said, width, height float64) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	sizes := map[string]float64{"verdict": verdictSize, "tight": tightSize, "side": sideSize}
	var now *said
	var size, x float64
	var middle bool
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return texts, width, height
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			at := map[string]string{}
			for _, a := range e.Attr {
				at[a.Name.Local] = a.Value
			}
			number := func(name string) float64 {
				v, err := strconv.ParseFloat(at[name], 64)
				if err != nil {
					t.Fatalf("%s of %s: %v", name, e.Name.Local, err)
				}
				return v
			}
			switch {
			case e.Name.Local == "svg":
				width, height = number("width"), number("height")
			case e.Name.Local == "text" && at["transform"] == "":
				size = nameSize
				for _, class := range strings.Fields(at["class"]) {
					if s, ok := sizes[class]; ok {
						size = s
					}
				}
				x, middle = number("x"), at["text-anchor"] == "middle"
				now = &said{top: number("y") - 0.75*size, bottom: number("y") + 0.22*size}
			}
		case xml.CharData:
			if now != nil {
				now.words += string(e)
			}
		case xml.EndElement:
			if e.Name.Local == "text" && now != nil {
				w := wide(now.words, size)
				if now.left = x; middle {
					now.left -= w / 2
				}
				now.right = now.left + w
				texts = append(texts, *now)
				now = nil
			}
		}
	}
}

// Whatever the layout, the width and what is to be said, no two words of a
// drawing touch, none leaves it, and none stands on the metal or on a centre line.
func TestPlanWordsNeverTouch(t *testing.T) {
	figures := []PlanPort{
		{State: Holds, Figure: "less than 12 cm³/min"}, {State: Leaks, Figure: "1400 cm³/min"}, {State: CantTellYet, Figure: "28 cm³/min"},
		{State: Lapsed, Figure: "worked on since"}, {State: Refused}, {}, {State: Holds, Figure: "6.7 cm³/min", Retest: true},
	}
	for _, s := range []head.Scheme{
		{Cylinders: 1, Valves: 2}, {Cylinders: 1, Valves: 4}, {Cylinders: 2, Valves: 4, Form: head.FormFlat, Bank: 1}, {Cylinders: 3, Valves: 4},
		{Cylinders: 4, Valves: 2}, {Cylinders: 4, Valves: 3, Exhaust: head.PortPairs}, {Cylinders: 4, Valves: 5}, {Cylinders: 6, Valves: 4},
		{Cylinders: 4, Valves: 2, Form: head.FormVee, Bank: 2, Count: head.CountTurns, Intake: head.PortPairs, Exhaust: head.PortCentre},
		{Cylinders: 4, Valves: 4, Intake: head.PortValve, Exhaust: head.PortValve}, {Cylinders: 6, Valves: 5, Intake: head.PortValve, Exhaust: head.PortValve},
		{Cylinders: 4, Valves: 2, Intake: head.PortCentre, SameSide: true}, {Cylinders: 8, Valves: 4},
	} {
		s.Bore = unit.Exactly(80e-3)
		j, _ := head.Layout(s)
		for lie := range 8 {
			j.Lie = head.Lie{Said: true, ChambersUp: lie&1 > 0, FirstLeft: lie&2 > 0, IntakeAway: lie&4 > 0, Landmark: "timing chain"}
			for _, at := range []struct {
				width float64
				words PlanWords
			}{{810, PlanFull}, {1000, PlanFull}, {570, PlanFull}, {390, PlanShort}, {320, PlanShort}} {
				pl := Plan{Job: j, Width: at.width, Words: at.words, Ports: map[string]PlanPort{}}
				for i, p := range j.Ports {
					said := figures[(i+lie)%len(figures)]
					said.Link = "#" + p.ID
					pl.Ports[p.ID] = said
				}
				svg := pl.SVG()
				texts, width, height := saidIn(t, svg)
				if len(texts) < 2 {
					t.Fatalf("%+v, %v px: %d texts", s, at.width, len(texts))
				}
				scale, _ := pl.sheetScale(head.PlanOf(&j))
				edge := pl.arranged()
				for i, a := range texts {
					if a.left < 0 || a.right > width || a.top < 0 || a.bottom > height {
						t.Fatalf("%+v, %v px: %q leaves the drawing: %+v of %v × %v", s, at.width, a.words, a, width, height)
					}
					if low, high := edge.top-pastOutline*scale, height-edge.bottom+pastOutline*scale; a.bottom > low && a.top < high {
						t.Fatalf("%+v, %v px: %q stands on the metal or a centre line: %+v, want above %.1f or below %.1f", s, at.width, a.words, a, low, high)
					}
					for _, b := range texts[:i] {
						if a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom {
							t.Fatalf("%+v, lie %d, %v px: %q and %q touch", s, lie, at.width, a.words, b.words)
						}
					}
				}
				for _, p := range j.Ports {
					if strings.Count(svg, `href="#`+p.ID+`"`) != 1 {
						t.Fatalf("%+v, %v px: port %s is no way to its sheet", s, at.width, p.ID)
					}
				}
			}
		}
	}
}

// arranged is how the words of a plan are arranged.
func (pl Plan) arranged() words {
	p := head.PlanOf(&pl.Job)
	in := inked{Plan: pl, plan: p}
	in.scale, in.left = pl.sheetScale(p)
	return in.arrange()
}

// The widths are those of the typeface: a browser measured 134.6 px for these
// words at 15 px and 160.6 at 26 px for the longest verdict, in the bold; pairs of
// letters are set a little closer than the table knows.
func TestWide(t *testing.T) {
	for _, c := range []struct {
		words      string
		size, want float64
	}{{"Cylinder 1 exhaust", 15, 134.6}, {"can’t tell yet", 26, 160.6}} {
		if got := wide(c.words, c.size); got < c.want-1.5 || got > c.want+1.5 {
			t.Errorf("%q at %v px is %.1f px wide, want %.1f", c.words, c.size, got, c.want)
		}
	}
}
