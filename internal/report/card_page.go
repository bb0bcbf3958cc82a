package report

import (
	"io"
	"math"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/rig"
)

// WallCard is a wall card as it is printed: the figures and what stands beside.
type WallCard struct {
	*check.Card
	Title    string // "Inline three, twelve valves"
	Number   string // the head's own
	Rig      string
	Date     string // on which it was made
	Lapses   string // until when what it leans on is trusted; "" where no check says
	Invented bool   // an example, marked so
	Version  string
}

// MostKinds is how many kinds of port one page has room for.
const MostKinds = 4

// Sizes of a wall card [mm], A5.
const (
	cardWide, cardHigh = 148.0, 210.0
	cardFrame          = 5.3
	cardLeft           = 9.6
	cardRight          = cardWide - cardLeft
	cardText           = 4.1
	cardCap            = 3.4
)

// WriteWallCardPDF writes the card as a PDF of one A5 page. The error is the
// writer's, or says that the card has more kinds of port than a page holds.
func WriteWallCardPDF(w io.Writer, c WallCard) error {
	a, err := c.draw()
	if err != nil {
		return err
	}
	return a.pdf(w, pdfAbout{"Wall card, " + c.Title, "What each kind of port must hold on this rig: " + c.Rig, c.Version})
}

// WallCardSVG draws the same for a sheet.
func WallCardSVG(c WallCard) (string, error) {
	a, err := c.draw()
	if err != nil {
		return "", err
	}
	return a.svg("Wall card: " + strings.Join(c.Lines(), " ")), nil
}

// draw lays the page out.
func (c WallCard) draw() (*art, error) {
	if len(c.Ports) > MostKinds {
		return nil, &TooManyKinds{len(c.Ports)}
	}
	a := &art{width: cardWide, height: cardHigh, measure: rulerOnce().width}
	a.box(ink, 0.42, cardFrame, cardFrame, cardWide-2*cardFrame, cardHigh-2*cardFrame)
	y := c.top(a)
	foot := c.foot(a)
	key := 34.5
	if len(c.Ports) > 2 {
		key = 28
	}
	room := foot - key - y
	n := float64(len(c.Ports))
	const gap = 2.6
	high := math.Min(39.5, room/n-gap)
	for _, l := range c.Ports {
		c.port(a, l, y, high)
		y += high + gap
	}
	c.key(a, foot-key+1.5, key/34.5)
	return a, nil
}

// TooManyKinds says that a page can't hold so many kinds of port.
type TooManyKinds struct{ Kinds int }

func (e *TooManyKinds) Error() string {
	return "wall card: " + strconv.Itoa(e.Kinds) + " kinds of port, and a page holds " + strconv.Itoa(MostKinds) + "; leave some out, or make a card for each side of the head"
}

// top draws how to use it, the sketch and what the blank must do.
func (c WallCard) top(a *art) float64 {
	a.text(cardLeft, 16, run{wallWords.question, 8.4, true, ink})
	y := 22.4
	y = a.words(cardLeft, y, 82, 4.9, run{"Plate over the ", 3.8, false, ink}, run{"port’s mouth", 3.8, true, ink}, run{", never on the chamber. " + c.heldWords(), 3.8, false, ink})
	c.sketch(a, 93, 10)
	y = math.Max(y, 40)
	y = a.words(cardLeft, y+0.6, cardRight-cardLeft, 4.6, run{wallWords.fuel, 3.6, true, accent}, run{wallWords.fuelWhy, 3.6, false, ink}) - 4.6
	y += 2.8
	a.line(ink, 0.35, artPoint{cardLeft, y}, artPoint{cardRight, y})
	y += 6.2
	reach := c.figure(c.Blank.Reach)
	runs := []run{{"First, the blank. ", cardText, true, ink}, {"It must reach ", cardText, false, ink}, {reach + " " + c.Unit, 5.4, true, ink}}
	if c.Blank.Lose != nil {
		runs = append(runs, run{" and lose no more than ", cardText, false, ink}, run{c.figure(*c.Blank.Lose), 5.4, true, ink}, run{" in " + seconds(c.Blank.For) + ".", cardText, false, ink})
	} else {
		runs = append(runs, run{" and hold it.", cardText, false, ink})
	}
	runs = append(runs, run{" If not, mend the rig before you blame a valve.", cardText, false, ink})
	y = a.words(cardLeft, y, cardRight-cardLeft, 5.8, runs...)
	return y - 1.6
}

// sketch draws which side the plate goes on: head, port, valve, plate, hose.
func (c WallCard) sketch(a *art, x, y float64) {
	a.box(ink, 0.45, x, y+5, 24, 18.5)
	stem := x + 14
	a.line(ink, 0.9, artPoint{stem, y}, artPoint{stem, y + 21})
	a.filled(ink, artPoint{stem - 7, y + 20.4}, artPoint{stem + 7, y + 20.4}, artPoint{stem + 4.6, y + 23.5}, artPoint{stem - 4.6, y + 23.5})
	a.dashed(ink, 0.32, artPoint{x + 24, y + 10}, artPoint{stem + 1, y + 10}, artPoint{stem - 3, y + 12}, artPoint{stem - 5, y + 16}, artPoint{stem - 5.4, y + 20})
	a.dashed(ink, 0.32, artPoint{x + 24, y + 17.6}, artPoint{stem + 6.5, y + 17.6}, artPoint{stem + 5.4, y + 18.4}, artPoint{stem + 5.2, y + 20})
	a.filled(accent, corners(x+24, y+7.2, 2.6, 13.2)...)
	a.text(x+27.4, y+6, run{"plate", 3.4, true, accent})
	a.line(ink, 0.9, artPoint{x + 26.6, y + 13.8}, artPoint{x + 40.5, y + 13.8})
	a.filled(ink, artPoint{x + 40.2, y + 11.8}, artPoint{x + 45.4, y + 13.8}, artPoint{x + 40.2, y + 15.8})
	a.text(x+28.4, y+11.6, run{"to pump", 3.4, false, ink})
	a.text(x+stem-x-6.5, y+27, run{"chamber", 3.4, false, ink2})
}

// port draws the box of one kind of port.
func (c WallCard) port(a *art, l check.CardLine, y, high float64) {
	s := math.Max(math.Min(1, high/38.5), 0.6)
	wide := cardRight - cardLeft
	head := 9.2 * s
	a.box(ink, 0.45, cardLeft, y, wide, high)
	a.line(ink, 0.35, artPoint{cardLeft, y + head}, artPoint{cardRight, y + head})
	a.text(cardLeft+3.4, y+6.5*s, run{l.Name, 5.8 * s, true, ink})
	words, size := PortWords(l), 3.7*math.Max(s, 0.85)
	if room := wide - 10 - a.measure(l.Name, 5.8*s, true); a.measure(words, size, false) > room { // a long name
		size *= math.Max(0.7, room/a.measure(words, size, false))
	}
	a.right(cardRight-3.4, y+6.5*s, run{words, size, false, ink})
	strip := 0.0
	tight := len(c.Ports) > 3 // then each way of holding wants a card of its own
	if len(l.Holds) > 1 && !tight {
		strip = 5.2 * s
		a.line(ink, 0.18, artPoint{cardLeft, y + high - strip}, artPoint{cardRight, y + high - strip})
		a.text(cardLeft+3.4, y+high-1.6*s, run{c.otherHold(l.Holds[1]), 3.1 * s, false, ink})
	}
	c1, c2 := cardLeft+47, cardLeft+93
	for _, x := range []float64{c1, c2} {
		a.line(ink, 0.35, artPoint{x, y + head}, artPoint{x, y + high - strip})
	}
	text, big, small := 3.7*s, 10.4*s, 6.8*s
	low := y + head
	unit := func(size float64) run { return run{" " + c.Unit, size, true, ink} }
	x := cardLeft + 3.4
	if l.Reading != nil {
		a.text(x, low+5*s, run{"not below", text, false, ink})
		a.text(x, low+14.6*s, run{c.figure(*l.Reading), big, true, ink}, unit(4.6*s))
		a.text(x, low+19.6*s, run{"with the pump on", text, false, ink})
	} else {
		a.text(x, low+5*s, run{"begin at no less than", text, false, ink})
		a.text(x, low+12.6*s, run{c.figure(l.From), small, true, ink}, unit(4.2*s))
		if !tight {
			a.words(x, low+16.6*s, 42, 3.5*s, run{c.whyNoReading(l), 2.9 * s, false, ink2})
		} else {
			a.text(x, low+17.6*s, run{"alone it can’t tell", text, false, ink2})
		}
	}
	x = c1 + 3.4
	h := l.Holds[0]
	if h.Lose != nil {
		a.text(x, low+5*s, run{c.losesWords(*h.Lose), text, false, ink})
		if *h.Lose > 0 {
			a.text(x, low+14.6*s, run{c.figure(*h.Lose), big, true, ink}, unit(4.6*s))
		} else {
			a.text(x, low+13.8*s, run{"nothing", 7.4 * s, true, ink})
		}
		a.text(x, low+19.8*s, run{"in ", text, false, ink}, run{seconds(h.For), 4.6 * s, true, ink}, run{", pump off" + byWords(h.By), text, false, ink})
	} else {
		a.words(x, low+7*s, 40, 5*s, run{"the hold can’t tell on this rig, not in " + seconds(h.For), text, false, ink})
	}
	x = c2 + 3
	fine := 3 * s
	if tight {
		fine = text
	}
	switch {
	case h.Over != nil && l.Below != nil:
		a.text(x, low+5*s, run{"leaks over", text, false, ink})
		a.text(x, low+12.6*s, run{c.figure(*h.Over), small, true, ink}, unit(4.2*s))
		a.text(x, low+16.6*s, run{"lost, or standing", fine, false, ink})
		a.text(x, low+20.1*s, run{"below " + c.figure(*l.Below) + " " + c.Unit, fine, false, ink})
	case h.Over != nil:
		a.text(x, low+5*s, run{"leaks over", text, false, ink})
		a.text(x, low+12.6*s, run{c.figure(*h.Over), small, true, ink}, unit(4.2*s))
		a.text(x, low+16.6*s, run{"lost", fine, false, ink})
	case l.Below != nil:
		a.text(x, low+5*s, run{"leaks below", text, false, ink})
		a.text(x, low+12.6*s, run{c.figure(*l.Below), small, true, ink}, unit(4.2*s))
		a.text(x, low+16.6*s, run{"with the pump on", fine, false, ink})
	default:
		a.words(x, low+5*s, 32, 4.6*s, run{"leaks if the pump never gets there", text, false, ink})
	}
}

// key draws what each outcome means, s its scale.
func (c WallCard) key(a *art, y, s float64) {
	size, row := 8.6*s, 11*s
	x := cardLeft + size + 4
	text, bold := cardText*s, 4.8*s
	a.hatch(Holds, cardLeft, y, size)
	a.text(x, y+5.7*s, run{c.metWords(), text, false, ink}, run{"holds", bold, true, ink})
	y += row
	a.hatch(CantTellYet, cardLeft, y, size)
	a.words(x, y+3.6*s, cardRight-x, 4.7*s, run{"In between: ", 3.8 * s, false, ink}, run{"can’t tell yet.", 4.4 * s, true, ink}, run{" Dry, clean, plate down again, valves turned and dropped. Test again.", 3.8 * s, false, ink})
	y += row
	a.hatch(Leaks, cardLeft, y, size)
	end := a.text(x, y+5.7*s, run{"Over the third figure, or never gets there: ", text, false, accent})
	w := a.measure("leaks", bold, true)
	a.filled(accent, corners(end, y+s, w+3, 6.6*s)...)
	a.text(end+1.5, y+5.8*s, run{"leaks", bold, true, sheet})
}

// foot draws the title block and returns where it begins.
func (c WallCard) foot(a *art) float64 {
	const row = 9.6
	left, right := cardFrame, cardWide-cardFrame
	y := cardHigh - cardFrame - 3*row
	c1, c2 := left+69, left+103
	a.line(ink, 0.45, artPoint{left, y}, artPoint{right, y})
	for i := 1; i < 3; i++ {
		a.line(ink, 0.25, artPoint{left, y + float64(i)*row}, artPoint{right, y + float64(i)*row})
	}
	for _, x := range []float64{c1, c2} {
		a.line(ink, 0.25, artPoint{x, y}, artPoint{x, y + 2*row})
	}
	cell := func(x, y, wide float64, name, bold, words string) {
		a.text(x+2.2, y+3.6, run{name, 2.7, false, ink2})
		size := 3.3
		for size > 2 && a.measure(bold, size, true)+a.measure(words, size, false) > wide-3.6 {
			size -= 0.1
		}
		a.text(x+2.2, y+7.9, run{bold, size, true, ink}, run{words, size, false, ink})
	}
	title := ", " + c.Title
	if c.Title == "" {
		title = ""
	}
	if c.Invented {
		title += ", invented example"
	}
	cell(left, y, c1-left, "Title", "Wall card", title)
	cell(c1, y, c2-c1, "Head no.", "", orDash(c.Number))
	cell(c2, y, right-c2, "Sheet", "", "1 / 1, A5")
	cell(left, y+row, c1-left, "Rig", "", orDash(c.Rig))
	cell(c1, y+row, c2-c1, "Good for air", "", c.airWords())
	cell(c2, y+row, right-c2, "Date", "", orDash(c.Date))
	cell(left, y+2*row, right-left, "Lapses", "", c.lapseWords())
	return y
}

func orDash(s string) string {
	if strings.TrimSpace(s) == "" {
		return "–"
	}
	return s
}

// heldWords says how the valves are kept on their seats.
func (c WallCard) heldWords() string {
	switch c.Ports[0].Holds[0].By {
	case rig.HeldOwnSpring:
		return "Seats dry and clean, own springs fitted."
	case rig.HeldNothing:
		return "Seats dry and clean, springs off."
	}
	return "Seats dry and clean, springs off, a light spring or a thumb on each valve."
}
