package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/unit"
)

// wallWords are the card's fixed sentences.
var wallWords = struct{ question, fuel, fuelWhy string }{
	"Does the port hold?",
	"Never pump a port wet with fuel: ",
	"its vapour goes through the motor.",
}

// figure writes a vacuum of whole steps in the card's unit: in halves and
// quarters where a needle's scale has them, else in the decimals its step needs.
func (c WallCard) figure(v float64) string {
	u, _ := unit.UnitOf(c.Unit)
	x, step := v/u.Factor, c.Step/u.Factor
	if c.Needle {
		if _, ok := fraction(step); ok {
			if f, ok := fraction(x); ok {
				return f
			}
		}
	}
	decimals := 0
	for s := step; decimals < 3 && math.Abs(s-math.Round(s)) > 0.01; decimals++ {
		s *= 10
	}
	return strconv.FormatFloat(x, 'f', decimals, 64)
}

// Figure writes a vacuum with the card's unit.
func (c WallCard) Figure(v float64) string { return c.figure(v) + " " + c.Unit }

// ValveWords says which valves a kind of port has.
func ValveWords(l check.CardLine) string {
	n := map[int]string{1: "one valve", 2: "two valves", 3: "three valves", 4: "four valves"}[len(l.Valves)]
	if n == "" {
		n = strconv.Itoa(len(l.Valves)) + " valves"
	}
	var sizes []string
	for _, d := range l.Valves {
		if s := strconv.FormatFloat(math.Round(d*1e4)/10, 'f', -1, 64); len(sizes) == 0 || sizes[len(sizes)-1] != s {
			sizes = append(sizes, s)
		}
	}
	words := n + ", " + strings.Join(sizes, " and ") + " mm"
	if l.Guessed {
		words += ", volume guessed"
	}
	return words
}

// PortWords says which valves a kind of port has, and which limit it stands on.
func PortWords(l check.CardLine) string {
	return strings.TrimSuffix(ValveWords(l)+"; "+LimitWords(l), "; ")
}

// LimitWords says which limit a kind of port stands on: "limit 14 cm³/min a valve:
// cost, as a seep".
func LimitWords(l check.CardLine) string {
	by, ok := l.Rules.Decides(0)
	if !ok {
		return ""
	}
	words := "limit " + Figure(l.One*cm3min, 2) + " cm³/min"
	if len(l.Valves) > 1 {
		words += " a valve"
	}
	words += ": " + by.Kind.Words()
	if l.Instead != "" {
		words += " in place of the one chosen"
	}
	if by.Kind == limit.ByCost {
		words += ", as a seep"
	}
	if len(l.Others) > 0 {
		words += ", other valves guessed"
	}
	return words
}

// whyNoReading says why a card has no reading for a kind of port.
func (c WallCard) whyNoReading(l check.CardLine) string {
	if math.IsNaN(l.Drop) {
		return "Alone it can’t tell: the pump’s flow is not known."
	}
	u, _ := unit.UnitOf(c.Unit)
	return "Alone it can’t tell: the limit is " + Figure(l.Drop/u.Factor, 2) + " " + c.Unit + " below the blank."
}

func (c WallCard) losesWords(lose float64) string {
	if lose == 0 {
		return "loses"
	}
	return "loses no more than"
}

func byWords(h rig.Held) string {
	if h == rig.HeldThumb {
		return ", thumb on"
	}
	return ""
}

// otherHold says the same for the other way of keeping the valves down.
func (c WallCard) otherHold(h check.CardHold) string {
	by := "With a thumb on each valve: "
	if h.By != rig.HeldThumb {
		by = "With a light spring: "
	}
	switch {
	case h.Lose == nil:
		return by + seconds(h.For) + " can’t tell."
	case *h.Lose == 0:
		by += "nothing in " + seconds(h.For)
	default:
		by += "no more than " + c.figure(*h.Lose) + " in " + seconds(h.For)
	}
	if h.Over != nil {
		by += "; leaks over " + c.figure(*h.Over)
	}
	return by + "."
}

// metWords says which figures a port must meet.
func (c WallCard) metWords() string {
	both := false
	for _, l := range c.Ports {
		both = both || l.Reading != nil
	}
	if both {
		return "Both large figures met: "
	}
	return "Loses no more than the large figure: "
}

// airWords says what air the card is good for.
func (c WallCard) airWords() string {
	return fmt.Sprintf("%.0f to %.0f kPa", math.Ceil(c.AirLow/1e3-0.05), math.Floor(c.AirHigh/1e3+0.05))
}

// lapseWords says when the card is no longer good.
func (c WallCard) lapseWords() string {
	words := "when gauge, pump, hose, plate or a fitting is changed"
	if c.Lapses != "" {
		return c.Lapses + ", or " + words
	}
	return words + "; check the gauge each month"
}

// Lines says the card in sentences: one for the blank, one a kind of port.
func (c WallCard) Lines() []string {
	blank := "The blank must reach " + c.Figure(c.Blank.Reach)
	if c.Blank.Lose != nil {
		blank += " and lose no more than " + c.Figure(*c.Blank.Lose) + " in " + seconds(c.Blank.For)
	}
	out := []string{blank + "."}
	for _, l := range c.Ports {
		out = append(out, c.Line(l))
	}
	for _, w := range []string{c.insteadWords(), c.othersWords()} {
		if w != "" {
			out = append(out, w)
		}
	}
	return out
}

// Line says one kind of port in a sentence.
func (c WallCard) Line(l check.CardLine) string {
	var parts []string
	if l.Reading != nil {
		parts = append(parts, "not below "+c.Figure(*l.Reading)+" with the pump on")
	} else {
		parts = append(parts, "from "+c.Figure(l.From)+" or deeper")
	}
	h := l.Holds[0]
	switch {
	case h.Lose == nil:
		parts = append(parts, "the hold can’t tell in "+seconds(h.For))
	case *h.Lose == 0:
		parts = append(parts, "loses nothing in "+seconds(h.For))
	default:
		parts = append(parts, "loses no more than "+c.Figure(*h.Lose)+" in "+seconds(h.For))
	}
	if h.Over != nil {
		parts = append(parts, "leaks over "+c.Figure(*h.Over))
	}
	if l.Below != nil {
		parts = append(parts, "leaks if it stands below "+c.Figure(*l.Below))
	}
	if w := LimitWords(l); w != "" {
		parts = append(parts, w)
	}
	return l.Name + ", " + ValveWords(l) + ": " + strings.Join(parts, "; ") + "."
}

// CardRow is a figure of a card with the words about it.
type CardRow struct {
	Name  string `json:"name"`  // "loses no more than"
	Value string `json:"value"` // "1 inHg"; "" where the rig can't tell
	Words string `json:"words"` // "in 30 s, pump off"
	Large bool   `json:"large"` // it decides by itself
}

// Rows are the figures of one kind of port, as a sheet shows them.
func (c WallCard) Rows(l check.CardLine) []CardRow {
	var out []CardRow
	if l.Reading != nil {
		out = append(out, CardRow{"not below", c.Figure(*l.Reading), "with the pump on", true})
	} else {
		out = append(out, CardRow{"begin at no less than", c.Figure(l.From), c.whyNoReading(l), false})
	}
	h := l.Holds[0]
	switch {
	case h.Lose == nil:
		out = append(out, CardRow{"the hold can’t tell", "", "not in " + seconds(h.For) + " on this rig", false})
	case *h.Lose == 0:
		out = append(out, CardRow{"loses", "nothing", "in " + seconds(h.For) + ", pump off" + byWords(h.By), true})
	default:
		out = append(out, CardRow{"loses no more than", c.Figure(*h.Lose), "in " + seconds(h.For) + ", pump off" + byWords(h.By), true})
	}
	below := ""
	if l.Below != nil {
		below = "standing below " + c.Figure(*l.Below)
	}
	switch {
	case h.Over != nil && below != "":
		out = append(out, CardRow{"leaks over", c.Figure(*h.Over), "lost, or " + below, false})
	case h.Over != nil:
		out = append(out, CardRow{"leaks over", c.Figure(*h.Over), "lost", false})
	case below != "":
		out = append(out, CardRow{"leaks", "", below + " with the pump on", false})
	}
	if len(l.Holds) > 1 {
		out = append(out, CardRow{"otherwise", "", c.otherHold(l.Holds[1]), false})
	}
	return out
}

// othersWords says which valves of the cylinder were guessed; "" for none.
func (c WallCard) othersWords() string {
	for _, l := range c.Ports {
		if n := len(l.Others); n > 0 {
			words := "The cylinder's other valves were not named: taken as " + strconv.Itoa(n) + " of " + Figure(l.Others[0]*1e3, 2) + " mm, which share what it can spare. Name both kinds of port."
			return words
		}
	}
	return ""
}

// insteadWords says which limit that was chosen the card does not stand on; ""
// where it does.
func (c WallCard) insteadWords() string {
	for _, l := range c.Ports {
		if l.Instead != "" {
			return "Not by the limit chosen for this head, " + l.Instead + ". Workmanship and cost stand here in its place."
		}
	}
	return ""
}

// Guessed says what of the card was guessed, and which limit it could not take;
// empty where there is neither.
func (c WallCard) Guessed() []string {
	out := []string{}
	for _, w := range []string{c.insteadWords(), c.othersWords()} {
		if w != "" {
			out = append(out, w)
		}
	}
	if c.Card.Guessed {
		out = append(out, "What one division of the gauge is was guessed: put it on the rig's sheet.")
	}
	if len(c.Guesses) > 0 {
		out = append(out, "Guessed, wide: "+strings.Join(c.Guesses, ", ")+". Known better, the figures come nearer to the limit.")
	}
	return out
}
