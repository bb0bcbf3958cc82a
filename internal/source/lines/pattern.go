package lines

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"

	"seatproof/internal/source"
	"seatproof/trace"
	"seatproof/unit"
)

// Pick says which figure of a line is meant: by its name or, counted from 1, by
// its number. The zero Pick means none.
type Pick struct {
	Name   string
	Number int
}

func (p Pick) none() bool { return p.Name == "" && p.Number == 0 }

// String writes the pick as an option has it.
func (p Pick) String() string {
	if p.Name != "" {
		if _, err := strconv.Atoi(p.Name); err == nil {
			return `"` + p.Name + `"` // a name that is a number, as in "1: 78.3"
		}
		return p.Name
	}
	return strconv.Itoa(p.Number)
}

// Pattern says how the lines of a device are read: which figure is the
// pressure, which the clock. It is learned by [Learn], or written by hand as
// options of an address; what the figures mean is the [source.Scale]'s.
type Pattern struct {
	Value    Pick
	Time     Pick          // zero: the lines bear no time
	TimeUnit unit.UnitInfo // of Time, where the line says none; zero for stamps
	Of       int           // how many figures a line has; 0: as many as are needed
	Starts   string        // what its lines begin with; "" anything
	Comma    bool          // decimals are behind a comma
	Parts    bool          // commas part thousands
	Glued    bool          // names may be written right before their numbers
}

// PatternOptions are the options that a Pattern is written as.
func PatternOptions() []source.Option {
	return []source.Option{
		{Key: "value", Words: "which figure of a line is the pressure", Hint: "its number or its name, as in value=2 or value=vac; left out: learned from the first lines"},
		{Key: "time", Words: "which figure is the device's own clock", Hint: "its number or its name; left out: none"},
		{Key: "time_unit", Words: "unit of that clock", Hint: "s, ms or us"},
		{Key: "of", Words: "how many figures a line has", Hint: "other lines are left out"},
		{Key: "starts", Words: "what its lines begin with", Hint: "as in starts=$PRES; other lines are left out"},
		{Key: "decimal", Words: "decimal mark", Default: "point", Choice: []string{"point", "comma"}},
		{Key: "thousands", Words: "commas part thousands, as in 1,013.2", Default: "no", Choice: []string{"no", "yes"}},
		{Key: "glued", Words: "names stand right before numbers, as in P78.3", Default: "no", Choice: []string{"no", "yes"}},
	}
}

// Options writes the pattern as options.
func (p Pattern) Options() map[string]string {
	o := map[string]string{"value": p.Value.String()}
	if !p.Time.none() {
		o["time"] = p.Time.String()
		if p.TimeUnit.Name != "" {
			o["time_unit"] = p.TimeUnit.Name
		}
	}
	if p.Of > 0 {
		o["of"] = strconv.Itoa(p.Of)
	}
	if p.Starts != "" {
		o["starts"] = p.Starts
	}
	if p.Comma {
		o["decimal"] = "comma"
	}
	if p.Parts {
		o["thousands"] = "yes"
	}
	if p.Glued {
		o["glued"] = "yes"
	}
	return o
}

// String writes the pattern as part of an address: "time=1,time_unit=ms,value=2".
func (p Pattern) String() string {
	_, options, _ := strings.Cut(source.Address{Options: p.Options()}.String(), "#")
	return options
}

// PatternOf reads the options of a Pattern. known is false where they say
// nothing of which figure is meant, so that it must be learned. The error is a
// *source.Fault.
func PatternOf(a source.Address) (p Pattern, known bool, err error) {
	fault := func(key, what, hint string) (Pattern, bool, error) {
		return Pattern{}, false, &source.Fault{Source: a.Bare(), Key: key, What: what, Hint: hint}
	}
	pick := func(key string) (Pick, error) {
		text, ok := a.Options[key]
		if !ok {
			return Pick{}, nil
		}
		if n, err := strconv.Atoi(text); err == nil {
			if n < 1 || n > mostFigures {
				return Pick{}, errors.New("is no number of a figure")
			}
			return Pick{Number: n}, nil
		}
		if text = strings.Trim(text, `"`); text == "" {
			return Pick{}, errors.New("is empty")
		}
		return Pick{Name: steps.ReplaceAllString(text, ".$1")}, nil
	}
	if p.Value, err = pick("value"); err != nil {
		return fault("value", err.Error(), "say the number or the name of the figure, as in value=2")
	}
	if p.Time, err = pick("time"); err != nil {
		return fault("time", err.Error(), "say the number or the name of the figure, as in time=1")
	}
	if p.Value.none() && !p.Time.none() {
		return fault("value", "is not said, though time is", "say both, as in value=2,time=1")
	}
	if !p.Value.none() && p.Value == p.Time {
		return fault("time", "is the figure that is the pressure as well", "name another or none")
	}
	if text, ok := a.Options["time_unit"]; ok {
		h := trace.ParseHeading("time (" + text + ")")
		if !h.HasUnit || h.Unit.Dim != unit.TimeDim {
			return fault("time_unit", fmt.Sprintf("%q is no unit of time", text), "say s, ms or us")
		}
		p.TimeUnit = h.Unit
	}
	if text, ok := a.Options["of"]; ok {
		if p.Of, err = strconv.Atoi(text); err != nil || p.Of < 1 || p.Of > mostFigures {
			return fault("of", "is no number of figures", "as in of=3")
		}
		if p.Of < max(p.Value.Number, p.Time.Number) {
			return fault("of", "is less than the number of the figure that is meant", "count all figures of a line")
		}
	}
	p.Starts = a.Options["starts"]
	for key, is := range map[string]struct {
		into *bool
		yes  string
		no   string
	}{"decimal": {&p.Comma, "comma", "point"}, "glued": {&p.Glued, "yes", "no"}, "thousands": {&p.Parts, "yes", "no"}} {
		switch text, ok := a.Options[key]; {
		case !ok || strings.EqualFold(text, is.no):
		case strings.EqualFold(text, is.yes):
			*is.into = true
		default:
			return fault(key, fmt.Sprintf("%q is neither %s nor %s", text, is.no, is.yes), "say one of them")
		}
	}
	if p.Comma && p.Parts {
		return fault("thousands", "and decimals can't both be behind a comma", "keep one")
	}
	return p, !p.Value.none(), nil
}

// steps are those of a JSON path in brackets: a[0].b is a.0.b.
var steps = regexp.MustCompile(`\[(\d+)\]`)

// mostFigures is how many figures of a line can be told apart.
const mostFigures = 200

// Reading is what a line said.
type Reading struct {
	Value   float64
	Unit    unit.UnitInfo // where the line itself has a unit of pressure; Name "" if not
	Clock   float64       // s, NaN: none
	Missing bool          // the line is right, but a word stands for the figure
}

// What may be wrong with a line.
var (
	// ErrOther says that a line is of another kind: it lacks what the
	// pattern's lines begin with or the name that is meant.
	ErrOther = errors.New("it is another kind of line")
	// ErrShape says that a line has not the figures that it should have.
	ErrShape = errors.New("it has not the figures that it should have")
	// ErrBinary says that a line is no text.
	ErrBinary = errors.New("it is no text")
)

// Parser reads lines by a Pattern. It is for one goroutine.
type Parser struct {
	Pattern Pattern
	scan    scanner
	starts  []byte
	value   []byte
	time    []byte
}

// Parser returns a Parser of the pattern.
func (p Pattern) Parser() *Parser {
	return &Parser{
		Pattern: p, scan: p.scanner(),
		starts: []byte(p.Starts), value: plainName([]byte(p.Value.Name)), time: plainName([]byte(p.Time.Name)),
	}
}

// scanner returns one with the pattern's settings.
func (p Pattern) scanner() scanner {
	s := scanner{dec: '.', glued: p.Glued, parts: p.Parts, units: newUnitCache()}
	if p.Comma {
		s.dec = ','
	}
	return s
}

// Parse reads one line without its end. The error is [ErrOther], [ErrShape] or
// [ErrBinary].
func (p Pattern) Parse(line []byte) (Reading, error) { return p.Parser().Parse(line) }

// Parse reads one line without its end.
func (p *Parser) Parse(line []byte) (Reading, error) {
	if !isText(line) {
		return Reading{}, ErrBinary
	}
	if len(p.starts) > 0 && !bytes.HasPrefix(trim(line), p.starts) {
		return Reading{}, ErrOther
	}
	figs := p.scan.scan(line)
	if n := p.Pattern.Of; n > 0 && len(figs) != n {
		return Reading{}, ErrShape
	}
	v, err := find(figs, p.Pattern.Value, p.value)
	if err != nil {
		return Reading{}, err
	}
	r := Reading{Value: v.x, Clock: math.NaN(), Missing: !v.some}
	if v.unit != nil {
		if h := p.scan.units.heading(v.unit); h.HasUnit && h.Unit.Dim == unit.PressureDim {
			r.Unit = h.Unit
		}
	}
	if p.Pattern.Time.none() {
		return r, nil
	}
	t, err := find(figs, p.Pattern.Time, p.time)
	if err != nil {
		return Reading{}, ErrShape
	}
	switch {
	case !t.some:
	case t.stamp:
		r.Clock = t.x
	default:
		u := p.Pattern.TimeUnit
		if t.unit != nil {
			if h := p.scan.units.heading(t.unit); h.HasUnit && h.Unit.Dim == unit.TimeDim {
				u = h.Unit
			}
		}
		if u.Name != "" {
			r.Clock = u.ToSI(t.x)
		}
	}
	return r, nil
}

// find returns the figure that is meant.
func find(figs []figure, p Pick, name []byte) (*figure, error) {
	if p.Name == "" {
		if p.Number > len(figs) {
			return nil, ErrShape
		}
		return &figs[p.Number-1], nil
	}
	for i := range figs {
		if bytes.EqualFold(figs[i].name, []byte(p.Name)) {
			return &figs[i], nil
		}
	}
	for i := range figs {
		if sameName(figs[i].name, name) || figs[i].label != nil && sameName(figs[i].label, name) {
			return &figs[i], nil
		}
	}
	return nil, ErrOther
}

// sameName compares a name as written with a plain one: case, blanks, brackets
// and quotes do not matter; nor does the way to it, in JSON, where the plain one
// has none.
func sameName(written, plain []byte) bool {
	if len(written) == 0 || len(plain) == 0 {
		return false
	}
	if bytes.IndexByte(plain, '.') < 0 {
		if i := bytes.LastIndexByte(written, '.'); i >= 0 && i < len(written)-1 {
			written = written[i+1:]
		}
	}
	i := 0
	for _, c := range written {
		if c = plainByte(c); c == 0 {
			continue
		}
		if i >= len(plain) || c != plain[i] {
			return false
		}
		i++
	}
	return i == len(plain)
}

func plainName(b []byte) []byte {
	var out []byte
	for _, c := range b {
		if c = plainByte(c); c != 0 {
			out = append(out, c)
		}
	}
	return out
}

// plainByte returns a byte of a name without case, 0 for one that does not
// matter.
func plainByte(c byte) byte {
	switch c {
	case ' ', '(', ')', '[', ']', '"', '\'', '#', '$':
		return 0
	}
	return lower(c)
}

// unitCache finds units without looking twice.
type unitCache struct{ known map[string]trace.Heading }

func newUnitCache() *unitCache { return &unitCache{known: map[string]trace.Heading{}} }

// heading returns what a word says as a unit, with or without brackets.
func (u *unitCache) heading(w []byte) trace.Heading {
	if h, ok := u.known[string(w)]; ok {
		return h
	}
	h := headingOfUnit(string(w))
	if len(u.known) < 1000 {
		u.known[string(w)] = h
	}
	return h
}

// is says whether a word is a unit of anything, or what a sensor puts out.
func (u *unitCache) is(w []byte) bool {
	h := u.heading(w)
	return h.HasUnit || h.Raw
}

func headingOfUnit(w string) trace.Heading {
	if len(w) > 24 {
		return trace.Heading{}
	}
	// a lone degree sign of an old encoding
	w = strings.ToValidUTF8(w, "°")
	w = strings.Trim(w, "()[]\"' ")
	if strings.HasPrefix(w, "Hg") || strings.HasPrefix(w, "H2O") {
		w = "in" + w
	}
	h := trace.ParseHeading("(" + w + ")")
	if !h.HasUnit {
		return h
	}
	if h.Unit.Dim == unit.PressureDim || len(w) > 1 {
		return h
	}
	// of one letter only those that stand behind figures: T is the next name
	if !strings.Contains("sCFKmhV%°", w) {
		return trace.Heading{}
	}
	return h
}

// optionsText writes options as they are typed.
func optionsText(o map[string]string) string {
	keys := make([]string, 0, len(o))
	for k := range o {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for i, k := range keys {
		keys[i] = k + "=" + o[k]
	}
	return strings.Join(keys, ",")
}
