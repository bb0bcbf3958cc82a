package report

import (
	"fmt"
	"strings"
)

// token is a colour of the sheet, by what it is for.
type token string

// The colours. Dark is the blueprint negative: same tokens, same lines. Accent
// is kept for what leaks, for limits and for the one thing to do.
const (
	paper  token = "paper"
	sheet  token = "sheet"
	ink    token = "ink"
	ink2   token = "ink2" // captions, units
	rule   token = "rule" // lines that separate; never words
	hair   token = "hair" // grid and row lines: decoration only
	accent token = "red"
)

// colours gives the light and the dark value of each token, in the order they
// are written.
var colours = []struct {
	name        token
	light, dark string
}{
	{paper, "#F4F2EA", "#0B2239"},
	{sheet, "#FCFBF7", "#102C48"},
	{ink, "#14202B", "#EDF4FA"},
	{ink2, "#46525C", "#B5C7D6"},
	{rule, "#7A848B", "#7592AB"},
	{hair, "#CFCFC6", "#26486A"},
	{accent, "#A92A0E", "#FFB84D"},
}

// tokenCSS returns the custom properties of all colours, light, dark and
// printed (where paper and sheet are white).
func tokenCSS(root string) string {
	var light, dark strings.Builder
	for _, c := range colours {
		fmt.Fprintf(&light, "--%s:%s;", c.name, c.light)
		fmt.Fprintf(&dark, "--%s:%s;", c.name, c.dark)
	}
	return fmt.Sprintf("%[1]s{color-scheme:light dark;%[2]s}\n"+
		"@media screen and (prefers-color-scheme:dark){%[1]s{%[3]s}}\n"+
		"@media print{%[1]s{--paper:#fff;--sheet:#fff}}\n", root, light.String(), dark.String())
}

// drawingCSS styles what the drawings of this package are made of. Line kinds
// are those of ISO 128: wide outlines, narrow lines, long dash and dot.
const drawingCSS = `.d{font-family:B612,"DejaVu Sans",Verdana,sans-serif;font-variant-numeric:tabular-nums}
.d text{fill:var(--ink);font-size:13px}
.d .cap{fill:var(--ink2)}
.d .b{font-weight:700}
.d .acc{fill:var(--red)}
.d .on{fill:var(--sheet);font-weight:700}
.d .plate{fill:var(--red)}
.d .halo{stroke:var(--paper);stroke-width:5;stroke-linejoin:round;paint-order:stroke}
.d .grid{stroke:var(--hair);stroke-width:1;fill:none}
.d .axis{stroke:var(--ink);stroke-width:1.5;fill:none}
.d .two{stroke-width:2}
.d .thin{stroke:var(--ink);stroke-width:1;fill:none;stroke-linejoin:round}
.d .fit{stroke:var(--ink);stroke-width:2.6;fill:none}
.d .band{fill:var(--ink);fill-opacity:.17}
.d .part{stroke:var(--rule);stroke-width:1}
.d .broke{stroke:var(--ink2);stroke-width:1;stroke-dasharray:6 3.5}
.d .mark{fill:var(--sheet);stroke:var(--ink);stroke-width:1.5}
.d .bar{fill:var(--ink)}
.d .limit{stroke:var(--red);stroke-width:2;stroke-dasharray:22 4 4 4;fill:none}
.d .here{fill:var(--ink);fill-opacity:.08}
.o{fill:var(--sheet);stroke:var(--ink);stroke-width:1.5}
.o.leaks{stroke:var(--red)}
.o.none{stroke-dasharray:5 3.5}
.x{stroke:var(--ink);stroke-width:2;fill:none}
.p-holds{stroke:var(--ink);stroke-width:1.2}
.p-leaks{stroke:var(--red);stroke-width:2.6;fill:none}
.p-open{fill:var(--ink)}
.h-holds{fill:url(#holds)}
.h-leaks{fill:url(#leaks)}
.h-open{fill:url(#open)}
.h-lapsed{fill:url(#lapsed)}
.p-lapsed{stroke:var(--ink);stroke-width:1.3;fill:none}
.plan text{fill:var(--ink);font-family:B612,"DejaVu Sans",Verdana,sans-serif;font-size:15px}
.plan .cap{fill:var(--ink2)}
.plan .verdict{font-size:26px;font-weight:700}
.plan .tight{font-size:18px}
.plan .side{font-size:13px;fill:var(--ink2)}
.plan .b{font-weight:700;fill:var(--ink)}
.plan .onhole{stroke:var(--paper);stroke-width:5;paint-order:stroke}
.plan .figure{font-size:15px;font-weight:700}
.plan .unit{font-weight:400;fill:var(--ink)}
.plan .acc{fill:var(--red)}
.plan .on{fill:var(--sheet)}
.plan .plate{fill:var(--red)}
.plan .metal{fill:var(--sheet);stroke:var(--ink);stroke-width:2.2}
.plan .hole{fill:var(--paper);stroke:var(--ink);stroke-width:1}
.plan .bore{fill:var(--sheet);stroke:var(--ink);stroke-width:2.2}
.plan .passage{stroke:var(--ink);stroke-width:1.2;stroke-dasharray:6 3.5}
.plan .crotch{fill:none;stroke:var(--ink);stroke-width:1.2;stroke-dasharray:6 3.5}
.plan .crotch.leaks{stroke:var(--red)}
.plan .valve{fill:var(--sheet);stroke:var(--ink);stroke-width:2.2}
.plan .seat{stroke:var(--ink);stroke-width:1}
.plan .passage.leaks,.plan .valve.leaks,.plan .seat.leaks,.plan .mouth.leaks{stroke:var(--red)}
.plan .valve.none{stroke-dasharray:5 3.5}
.plan .mouth{stroke:var(--ink);stroke-width:5}
.plan .centre{stroke:var(--ink2);stroke-width:.8;stroke-dasharray:16 3 3 3;fill:none}
.plan .x{stroke:var(--ink);stroke-width:2}
.plan .target{fill:transparent}
.plan .arrow,.plan .passage.here,.plan .valve.here{fill:var(--red);stroke:none}
.mini .metal,.mini .bore,.mini .valve{stroke-width:1.5}
.plan a:focus{outline:none}
.plan a:focus-visible .target{stroke:var(--red);stroke-width:4}
.soft{opacity:.42}
`

// hatchDefs are the patterns that stand for states, in pixels that don't grow
// with the drawing: holds, unbroken lines at 45°, 1.2 wide on 7; leaks, lines
// crossed, 2.6 wide on 6.5; can't tell yet, dots 3.5 across in a square net at
// 45° on 7.
const hatchDefs = `<defs>
<pattern id="holds" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="p-holds" d="M3.5 0V7"/></pattern>
<pattern id="leaks" width="6.5" height="6.5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="p-leaks" d="M3.25 0V6.5M0 3.25H6.5"/></pattern>
<pattern id="open" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><circle class="p-open" cx="3.5" cy="3.5" r="1.75"/></pattern>
</defs>`

// swatch draws a square of the state's hatch, size pixels wide, at x, y. The
// word always stands beside it, so it is hidden from a screen reader.
func swatch(st State, x, y, size float64) string {
	box := func(class string) string {
		return fmt.Sprintf(`<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, px(x+.75), px(y+.75), px(size-1.5), px(size-1.5))
	}
	switch st {
	case Holds:
		return box("o") + box("h-holds")
	case Leaks:
		return box("o leaks") + box("h-leaks")
	case CantTellYet:
		return box("o") + box("h-open")
	case NoVerdict:
		return box("o none")
	default: // refused, unreadable: crossed corner to corner
		a, b := px(x+.75), px(y+.75)
		c, d := px(x+size-.75), px(y+size-.75)
		return box("o") + fmt.Sprintf(`<path class="x" d="M%s %sL%s %sM%s %sL%s %s"/>`, a, b, c, d, c, b, a, d)
	}
}

// px writes a coordinate with two decimals at most.
func px(x float64) string {
	s := fmt.Sprintf("%.2f", x)
	s = strings.TrimRight(s, "0")
	s = strings.TrimSuffix(s, ".")
	if s == "-0" {
		return "0"
	}
	return s
}
