package report

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"sync"

	"seatproof/leak"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

// The typeface, B612 (SIL Open Font License 1.1, font/OFL.txt).
var (
	//go:embed font/b612-latin-400-normal.woff2
	regular []byte
	//go:embed font/b612-latin-700-normal.woff2
	bold []byte
)

// Page is what stands on a page beside its ports.
type Page struct {
	Title    string // "Inline three, twelve valves"
	Number   string // the head's own
	Document string // "Job card"
	Invented bool   // an example, marked so
	Rig      string
	Air      string // "100.9 kPa, 19 °C"
	Date     string // of the tests, as written in the traces
	Version  string
	Else     *Elsewhere // what the leaks cost and show elsewhere; nil: not said
}

// titleField is a field of the title block.
type titleField struct{ Class, Name, Words string }

type pageCount struct {
	Swatch template.HTML
	N      int
	Class  string
	Word   template.HTML
}

type pageDetail struct {
	Name  string
	Words template.HTML
}

type pagePort struct {
	ID, Name, Class                   string
	Word                              template.HTML
	Swatch, SwatchLarge               template.HTML
	Leak, Trace, Again, Limit, Chance string
	Of                                string // what Trace is of: this trace, these tests
	Tests                             int
	Long                              bool // Leak is words, not a figure
	Retest                            bool // it holds, but is to be tested again
	Why                               template.HTML
	Intervals, Plot                   template.HTML
	Detail                            []pageDetail
	Notes                             []template.HTML
	Reason                            template.HTML // of the verdict, where both limits count
	Apart                             *pageApart
}

// pageApart is what tests with valves masked tell of a port.
type pageApart struct {
	Title, Tests, Clash template.HTML
	Openings            []pageOpening
}

type pageOpening struct {
	Name, Word, Says template.HTML
	Class            string
	Swatch           template.HTML
	Leak, Interval   template.HTML
}

type pageNext struct {
	First        bool
	Name         string
	State, Words template.HTML
}

type pageData struct {
	Page
	Subtitle, OneLine string
	Style             template.CSS
	Hatches           template.HTML
	Counts            []pageCount
	Rows, Cards       []pagePort
	Several           bool // some port has more than one test
	Next              []pageNext
	Once              []template.HTML
	Limits            *pageSide
	Sides             []*pageSide
	Cautions          []string
	TitleBlock        []titleField
}

var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Parse(pageHTML))
})

// cautions stand on the page once.
var cautions = []string{
	"Fuel and solvents: never pump a port that is wet with fuel, its vapour goes through the pump's motor. Use a liquid of high flash point for a cross-check, away from flames, heaters and running motors, and keep it off the skin.",
	"Springs under load fly: wear eye protection when a valve is taken out. Glass and thin boxes can fall in under vacuum.",
	"A verdict says how this port held today, not that the engine is good. The seat may leak less in service, where tens of bar press it. The engine maker's service manual comes first.",
}

// otherCautions stand on a page that forecasts other tests.
var otherCautions = []string{
	"Compressed air turns the crank with force unless the piston stands at top dead centre and the crank is held: secure it, leave no spanner on it, open the supply slowly. Before the engine is cranked: fuel and ignition off, hands and clothes clear of belts and fan.",
}

// WritePage writes a page that stands alone: counts, the ports worst first,
// what to do next, a drawing of each trace, cautions and a title block.
func WritePage(w io.Writer, p Page, all []*Outcome, s Style) error {
	answered, unanswered := WorstFirst(all)
	ports := append(append([]*Outcome{}, answered...), unanswered...)
	d := pageData{Page: p, Hatches: template.HTML(hatchDefs), Cautions: cautions}
	d.Subtitle = p.Document
	if p.Invented {
		d.Subtitle += ", invented example"
	}
	var one []string
	for _, part := range []string{d.Subtitle, p.Rig, p.Air, p.Date} {
		if part != "" {
			one = append(one, part)
		}
	}
	d.OneLine = strings.Join(one, ", ")
	font := func(weight int, file []byte) string {
		return fmt.Sprintf("@font-face{font-family:B612;font-weight:%d;src:url(data:font/woff2;base64,%s) format(\"woff2\")}\n", weight, base64.StdEncoding.EncodeToString(file))
	}
	d.Style = template.CSS(font(400, regular) + font(700, bold) + tokenCSS(":root") + drawingCSS + pageCSS)
	d.Counts = counts(ports)
	held, sameHeld := heldOf(answered)
	if sameHeld && len(answered) > 0 {
		d.Once = append(d.Once, typographic("Valves held by "+HeldWords(held)+"."))
	}
	shared := map[string]bool{}
	if len(answered) > 1 {
		for _, n := range sharedNotes(answered, func(o *Outcome, w leak.Warning) string { return warnIn(o, s, w).String() }, s) {
			if len(n.ports) == len(answered) {
				d.Once = append(d.Once, typographic(n.words))
				shared[n.words] = true
			}
		}
	}
	for i, o := range ports {
		port := newPort(o, s, fmt.Sprintf("port-%d", i+1), shared)
		d.Rows = append(d.Rows, port)
		d.Several = d.Several || port.Tests > 1
		card := port
		card.Swatch = port.SwatchLarge
		if o.Answered() {
			card.Why = ""
		} else {
			card.Why = typographic(o.Why(s).String())
		}
		d.Cards = append(d.Cards, card)
	}
	d.Next = pageSteps(ports)
	if t := limitsTable(ports, s); len(t.Rows) > 0 {
		d.Limits = t.page("limits")
	}
	if p.Else != nil {
		for _, t := range p.Else.tables(s) {
			d.Sides = append(d.Sides, t.page(""))
		}
		d.Cautions = append(slices.Clone(cautions), otherCautions...)
	}
	d.TitleBlock = titleBlock(p)
	return pageTemplate().Execute(w, d)
}

// pageSteps lists what to do next. A reason is given once; the next port in the
// same state needs the step only.
func pageSteps(ports []*Outcome) []pageNext {
	var out []pageNext
	said := map[string]bool{}
	for _, o := range ports {
		n := o.Next()
		if n.Step == "" {
			continue
		}
		next := pageNext{First: len(out) == 0, Name: sentence(o.Name()), State: typographic(string(o.State()))}
		switch {
		case o.State() == Refused || o.State() == Unreadable:
			next.State = "was " + next.State
			next.Words = typographic(n.Reason)
		case o.retest():
			next.State += ", but test it again"
			fallthrough
		default:
			next.Words = typographic(n.words(said))
		}
		out = append(out, next)
	}
	return out
}

func titleBlock(p Page) []titleField {
	or := func(s string) string {
		if s == "" {
			return "not said"
		}
		return s
	}
	owner := "not said"
	if p.Invented {
		owner = "invented example"
	}
	return []titleField{
		{"w", "Title", p.Title}, {"", "Head no.", or(p.Number)},
		{"h", "Legal owner", owner}, {"h", "Document type", or(p.Document)}, {"h", "Sheet", "1, with all ports"},
		{"h", "Rig", or(p.Rig)}, {"h", "Air", or(p.Air)}, {"h", "Date of tests", or(p.Date)},
		{"h", "Made by", "seatproof " + p.Version}, {"h", "Approved by", "not yet"}, {"h", "Scale", "none"},
	}
}

// counts says how many ports are in which state, in the order of the board.
func counts(ports []*Outcome) []pageCount {
	var out []pageCount
	for _, st := range []State{Holds, Leaks, CantTellYet, NoVerdict, Refused, Unreadable} {
		n := 0
		for _, o := range ports {
			if o.State() == st {
				n++
			}
		}
		if n == 0 {
			continue
		}
		word := string(st)
		if n > 1 {
			switch st {
			case Holds:
				word = "hold"
			case Leaks:
				word = "leak"
			}
		}
		out = append(out, pageCount{template.HTML(swatch(st, 0, 0, 34)), n, class(st), typographic(word)})
	}
	return out
}

func class(st State) string {
	if st == Leaks {
		return "leaks"
	}
	return ""
}

func newPort(o *Outcome, s Style, id string, shared map[string]bool) pagePort {
	p := pagePort{
		Reason: typographic(o.reason(s)), Apart: pageApartOf(o),
		ID: id, Name: sentence(o.Name()), Class: class(o.State()), Word: typographic(string(o.State())),
		Swatch:      template.HTML(swatch(o.State(), 0, 0, 28)),
		SwatchLarge: template.HTML(swatch(o.State(), 0, 0, 40)),
		Plot:        template.HTML(plot(o, s, cardPlot)),
		Of:          o.of(), Tests: o.Tests(), Retest: o.retest(),
	}
	if !o.Answered() {
		p.Why = typographic(o.Why(s).What)
		if len(o.Sketch.All) == 0 {
			p.Plot = ""
		}
		return p
	}
	r := o.Reading
	if r.Leak == nil {
		p.Why = typographic(o.VerdictLine(s) + ".")
	} else {
		p.Leak, p.Again = leakCell(o, s), againCell(o, s)
		p.Trace, p.Limit, p.Chance, p.Long = "–", "–", "–", r.UpperLimitOnly
		if !r.UpperLimitOnly {
			p.Trace = s.between(*r.Leak, cm3min)
		} else {
			p.Trace = leakCell(o, s)
		}
		if o.Limit != nil {
			p.Limit = s.flow(o.Limit.Flow)
		}
		if o.Over != nil {
			p.Chance = keepTogether(Chance(*o.Over))
		}
		p.Intervals = template.HTML(intervals(o, s))
	}
	if words := o.eachWords(s); words != "" {
		p.Detail = append(p.Detail, pageDetail{"each test", typographic(words)})
	}
	for _, row := range append(o.shortLimits(s), detail(o, s)...) {
		if row[0] != "stated at" {
			p.Detail = append(p.Detail, pageDetail{row[0], typographic(row[1])})
		}
	}
	for _, w := range r.Warnings {
		if words := warnIn(o, s, w).String(); !shared[words] {
			p.Notes = append(p.Notes, typographic(words))
		}
	}
	for _, g := range guesses(o, s) {
		if words := "Guessed " + g + "."; !shared[words] {
			p.Notes = append(p.Notes, typographic(words))
		}
	}
	return p
}

// pageApartOf is which opening of a port leaks; nil where no test tells.
func pageApartOf(o *Outcome) *pageApart {
	if o.Apart == nil {
		return nil
	}
	a := &pageApart{Title: typographic(o.Apart.Title), Tests: typographic(o.Apart.Tests), Clash: typographic(o.Apart.Clash)}
	for _, x := range o.Apart.Openings {
		p := pageOpening{Name: typographic(x.Name), Word: typographic(x.Word), Says: typographic(x.Says), Class: class(x.State), Leak: typographic(x.Leak), Interval: typographic(x.Interval)}
		if x.State != "" {
			p.Swatch = template.HTML(swatch(x.State, 0, 0, 28))
		}
		a.Openings = append(a.Openings, p)
	}
	return a
}

// lower begins a sentence in lower case, as it follows a colon.
func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// sentence begins a word in upper case.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// keepTogether lets no line break between a figure and the word after it, which
// mostly is its unit.
func keepTogether(s string) string {
	var b strings.Builder
	for i, r := range s {
		if r == ' ' && i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
			r = '\u00a0'
		}
		b.WriteRune(r)
	}
	return b.String()
}

// typographic escapes words and sets their apostrophes, and the cube of cm³,
// which the typeface has too small.
func typographic(s string) template.HTML {
	s = template.HTMLEscapeString(strings.ReplaceAll(s, "'", "’"))
	s = keepTogether(s)
	return template.HTML(strings.ReplaceAll(s, "³", "<sup>3</sup>"))
}
