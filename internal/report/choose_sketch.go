package report

import (
	"fmt"
	"html"
	"io"

	"seatproof/check"
)

// WritePlumbing writes a sketch of the plumbing of the best rig as an SVG file.
func WritePlumbing(w io.Writer, c *check.Choice, s Style) error {
	if len(c.Rigs) == 0 {
		return fmt.Errorf("there is no rig to draw")
	}
	_, err := io.WriteString(w, plumbingSketch(c, &c.Rigs[0], s, true))
	return err
}

// plumbingSketch draws the parts of a rig in their order, from the pump down to
// the port. Symbols are plain outlines, in the manner of ISO 14617 where it has
// one: a circle with its triangle for the pump, two triangles point to point for
// the valve.
func plumbingSketch(c *check.Choice, x *check.Candidate, s Style, alone bool) string {
	s.Full = false
	p := &c.Parts
	pump, gauge, hose := p.Pumps[x.Pump], p.Gauges[x.Gauge], p.Hoses[x.Hose]
	type part struct {
		kind, name string
		lines      []string
	}
	tee := part{"tee", "gauge tee", []string{gauge.Name}}
	pipe := part{"hose", "hose", []string{"bore " + mm(hose.Hose.Bore) + ", " + Figure(hose.Hose.Length.Value, 2) + " m"}}
	parts := []part{
		{"pump", "pump", []string{pump.Name, s.anyFlow(firstFlow(pump), 0) + ", to " + s.vacuum(x.Blanked) + " here"}},
		{"trap", "filter or trap", []string{"keeps chips and oil out"}},
		{"valve", "shut-off valve", []string{"closed for the hold"}},
	}
	if x.TeeAtPort() && !x.GaugeAtPump {
		tee.lines = append(tee.lines, "near the plate: the hose takes some")
		parts = append(parts, pipe, tee)
	} else {
		tee.lines = append(tee.lines, "never between pump and valve")
		parts = append(parts, tee, pipe)
	}
	parts = append(parts, part{"plate", "plate and pad", []string{"greased, on the port's side"}}, part{"port", "port", []string{"the vacuum pulls the valve shut"}})

	const (
		width = 360.0
		mid   = 74.0
		pitch = 76.0
		first = 44.0
	)
	top := 0.0
	if alone {
		top = 44
	}
	const mouth = 18.0 // the plate lies on the port
	height := top + first + pitch*float64(len(parts)-2) + mouth + 62
	d := &drawing{s: s}
	words := "From top to bottom: "
	for i, q := range parts {
		if i > 0 {
			words += ", "
		}
		words += q.name
	}
	if alone {
		fmt.Fprintf(d, `<svg xmlns="http://www.w3.org/2000/svg" class="d" role="img" viewBox="0 0 %[1]s %[2]s" width="%[1]s" height="%[2]s" aria-label="%[3]s">`, px(width), px(height), html.EscapeString(words))
		fmt.Fprintf(d, "<title>Plumbing</title><style>\n%s%s</style>", tokenCSS("svg"), drawingCSS)
		fmt.Fprintf(d, `<rect style="fill:var(--paper)" width="%s" height="%s"/>`, px(width), px(height))
		d.text("b", "start", 24, 30, "Plumbing, from the pump down")
	} else {
		fmt.Fprintf(d, `<svg class="d" role="img" viewBox="0 0 %s %s" aria-label="%s">`, px(width), px(height), html.EscapeString(words))
	}
	half := map[string]float64{"pump": 22, "trap": 20, "valve": 12, "tee": 0, "hose": 26, "plate": 8, "port": 12}
	for i, q := range parts {
		y := top + first + pitch*float64(i)
		if q.kind == "port" {
			y += mouth - pitch
			d.symbol(q.kind, mid, y)
			y += 32
		} else {
			d.symbol(q.kind, mid, y)
		}
		if i > 0 && q.kind != "port" { // the line from the part above
			d.line("axis", mid, y-pitch+half[parts[i-1].kind], mid, y-half[q.kind])
		}
		d.text("b", "start", 144, y-6, q.name)
		for k, line := range q.lines {
			d.text("cap", "start", 144, y+11+17*float64(k), shortened(line, 34))
		}
	}
	d.WriteString("</svg>\n")
	return d.String()
}

func firstFlow(p check.PumpPart) float64 {
	if len(p.Pump.Curve) > 0 {
		return p.Pump.Curve[0].Flow
	}
	return p.Pump.FreeFlow.Value
}

// symbol draws one part about x, y.
func (d *drawing) symbol(kind string, x, y float64) {
	path := func(class, format string, a ...any) {
		fmt.Fprintf(d, `<path class="%s" d="`+format+`"/>`, append([]any{class}, a...)...)
	}
	switch kind {
	case "pump":
		fmt.Fprintf(d, `<circle class="o" cx="%s" cy="%s" r="22"/>`, px(x), px(y))
		path("axis", "M%s %sL%s %sL%s %s", px(x-19), px(y-11), px(x), px(y-22), px(x+19), px(y-11))
	case "trap":
		fmt.Fprintf(d, `<rect class="o" x="%s" y="%s" width="28" height="40"/>`, px(x-14), px(y-20))
		path("broke", "M%s %sH%s", px(x-14), px(y), px(x+14))
	case "valve":
		path("o", "M%s %sH%sL%s %sZ", px(x-12), px(y-12), px(x+12), px(x), px(y))
		path("o", "M%s %sH%sL%s %sZ", px(x-12), px(y+12), px(x+12), px(x), px(y))
		path("axis", "M%s %sH%sM%s %sV%s", px(x), px(y), px(x-24), px(x-24), px(y-7), px(y+7))
	case "tee":
		path("axis", "M%s %sH%s", px(x), px(y), px(x-28))
		fmt.Fprintf(d, `<circle class="o" cx="%s" cy="%s" r="17"/>`, px(x-45), px(y))
		fmt.Fprintf(d, `<circle class="bar" cx="%s" cy="%s" r="3.5"/>`, px(x), px(y))
		d.text("b", "middle", x-45, y+4.5, "p")
	case "hose":
		path("axis", "M%s %sC%s %s %s %s %s %sS%s %s %s %s", px(x), px(y-26), px(x), px(y-14), px(x+18), px(y-14), px(x+18), px(y-4), px(x), px(y+10), px(x), px(y+26))
	case "plate":
		fmt.Fprintf(d, `<rect class="o" x="%s" y="%s" width="76" height="8"/>`, px(x-38), px(y-8))
		fmt.Fprintf(d, `<rect class="bar" x="%s" y="%s" width="64" height="6"/>`, px(x-32), px(y))
	case "port":
		// the port's mouth above, its valve below, pulled up onto its seat
		path("axis", "M%s %sV%sH%sV%s", px(x-52), px(y-12), px(y+34), px(x-18), px(y+24))
		path("axis", "M%s %sV%sH%sV%s", px(x+52), px(y-12), px(y+34), px(x+18), px(y+24))
		path("axis", "M%s %sL%s %s", px(x-18), px(y+24), px(x-26), px(y-12))
		path("axis", "M%s %sL%s %s", px(x+18), px(y+24), px(x+26), px(y-12))
		path("o", "M%s %sL%s %sH%sL%s %sZ", px(x-17), px(y+26), px(x-24), px(y+36), px(x+24), px(x+17), px(y+26))
		path("axis two", "M%s %sV%s", px(x), px(y+26), px(y+2))
	}
}
