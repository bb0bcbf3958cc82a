package rigfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"seatproof/check"
	"seatproof/rig"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Form is a parts list as a form holds it: of each kind of part ("pump", "gauge",
// "hose", "port", "air", "engine", and "" for what stands at the top) its items, of each its
// keys with their texts. Several figures for one thing are parted by " / ".
type Form map[string][]map[string]string

// ReadParts reads a parts list, the file of the command rig choose; name is what
// messages call it. As of a rig file, everything wrong is told at once, as
// [Faults], with line and column; docs/rig.md has its keys.
func ReadParts(r io.Reader, name string) (check.Parts, error) {
	data, err := io.ReadAll(io.LimitReader(r, longestFile+1))
	if err != nil {
		return check.Parts{}, partsFaults(Faults{{Problem: "it can't be read: " + err.Error(), Cause: err}}, name)
	}
	if problem := unfit(data); problem != "" {
		return check.Parts{}, partsFaults(Faults{{Problem: strings.ReplaceAll(problem, "a rig file", "a parts list")}}, name)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	doc, fault := parseDocument(data)
	if fault != nil {
		return check.Parts{}, partsFaults(Faults{fault}, name)
	}
	l := newList()
	l.document(doc)
	return l.done(name)
}

// FillParts reads a parts list out of a form. The key of a fault names list, item
// and key: "pump.0.free_flow".
func FillParts(form Form) (check.Parts, error) {
	l := newList()
	for _, kind := range append([]string{"", "air", "engine"}, listed...) {
		for i, item := range form[kind] {
			if blank(item) {
				continue
			}
			l.begin(kind, place{})
			l.index, l.form = i, true
			for _, k := range sortedKeys(item) {
				text := strings.TrimSpace(item[k])
				if text == "" {
					continue
				}
				key := k
				if kind != "" {
					key = kind + "." + strconv.Itoa(i) + "." + k
				}
				l.set(kind, k, key, value{kind: unstable.String, text: text}, place{})
			}
		}
	}
	return l.done("")
}

// blank says whether nothing was typed into an item.
func blank(item map[string]string) bool {
	for _, t := range item {
		if strings.TrimSpace(t) != "" {
			return false
		}
	}
	return true
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// listed are the parts of which there may be several.
var listed = []string{"pump", "gauge", "hose", "port"}

// list gathers a parts list.
type list struct {
	parts  check.Parts
	top    rig.Rig // what a rig file calls the same
	item   rig.Rig // figures of the item at hand that a rig file has too
	kind   string
	at     place
	index  int    // of the item in its list, in a form
	form   bool   // it comes from a form
	late   *value // accuracy of the gauge at hand, which waits for its span
	faults Faults
}

func newList() *list { return &list{kind: "none"} }

// done closes the list.
func (l *list) done(name string) (check.Parts, error) {
	l.end()
	l.parts.Air, l.parts.RigLeak = l.top.Air, l.top.RigLeak
	for _, n := range []struct {
		kind string
		n    int
	}{{"pump", len(l.parts.Pumps)}, {"gauge", len(l.parts.Gauges)}, {"hose", len(l.parts.Hoses)}, {"port", len(l.parts.Ports)}} {
		if n.n == 0 && l.form {
			l.faults = append(l.faults, &Fault{Key: n.kind, Problem: "there is no " + n.kind + " to choose from: add one"})
			continue
		}
		if n.n == 0 && len(l.faults) == 0 {
			l.faults = append(l.faults, &Fault{Key: n.kind, Problem: "there is none to choose from: add a table [[" + n.kind + "]]"})
		}
	}
	if len(l.faults) > 0 {
		return check.Parts{}, partsFaults(l.faults, name)
	}
	return l.parts, nil
}

// partsFaults names the file and sorts.
func partsFaults(fs Faults, name string) error {
	for _, f := range fs {
		f.File, f.what = name, "parts list"
	}
	slices.SortStableFunc(fs, func(a, b *Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return fs
}

func (l *list) add(at place, key string, err error) {
	var point *pointError
	var figure *figureError
	switch {
	case errors.As(err, &point) && point.at.line > 0:
		at = point.at
	case errors.As(err, &figure) && figure.at.line > 0:
		at = figure.at
	}
	l.faults = append(l.faults, &Fault{Line: at.line, Column: at.column, Key: key, Problem: err.Error(), Cause: err})
}

// document walks a file: an entry belongs to the table whose header came last.
func (l *list) document(doc document) {
	known := append([]string{"air", "engine"}, listed...)
	next := 0
	unknown := map[string]bool{}
	begin := func(upTo int) {
		for ; next < len(doc.tables) && doc.tables[next].start <= upTo; next++ {
			t := doc.tables[next]
			if !t.inline {
				l.begin(t.key, t.at)
			}
			switch {
			case insideOf(unknown, t.key):
			case !slices.Contains(known, t.key):
				unknown[t.key] = true
				l.add(t.at, "", fmt.Errorf("unknown table [%s]%s", t.key, didYouMean(t.key, known, "[%s]")))
			case !slices.Contains(listed, t.key) && t.listed:
				l.add(t.at, "", fmt.Errorf("there is one [%s] only: write it in single brackets", t.key))
			case slices.Contains(listed, t.key) && !t.listed:
				l.add(t.at, "", fmt.Errorf("there may be several: write it in double brackets, [[%s]]", t.key))
			}
		}
	}
	for _, e := range doc.entries {
		begin(e.start)
		kind, key, ok := strings.Cut(e.key, ".")
		if !ok {
			kind, key = "", e.key
		}
		switch {
		case insideOf(unknown, e.key):
		case slices.Contains(known, e.key):
			l.add(e.at, e.key, fmt.Errorf("it is a table: write [[%s]] on a line of its own, and its keys below", e.key))
		default:
			l.set(kind, key, e.key, e.value, e.at)
		}
	}
	begin(1 << 40)
}

// begin closes the item at hand and opens another.
func (l *list) begin(kind string, at place) {
	l.end()
	l.kind, l.at, l.item, l.late = kind, at, rig.Rig{}, nil
	switch kind {
	case "pump":
		l.parts.Pumps = append(l.parts.Pumps, check.PumpPart{})
	case "gauge":
		l.parts.Gauges = append(l.parts.Gauges, check.GaugePart{})
	case "hose":
		l.parts.Hoses = append(l.parts.Hoses, check.HosePart{})
	case "port":
		l.parts.Ports = append(l.parts.Ports, check.PortPart{})
	}
}

// end takes the item at hand over, and says what it lacks.
func (l *list) end() {
	key := func(field string) string {
		if l.form {
			return l.kind + "." + strconv.Itoa(l.index) + "." + field
		}
		return l.kind + "." + field
	}
	lacks := func(field, what string) {
		if len(l.faults) == 0 {
			l.add(l.at, key(field), fmt.Errorf("it lacks %s", what))
		}
	}
	unnamed := func(name *string, n int) {
		if *name == "" {
			*name = l.kind + " " + strconv.Itoa(n)
		}
	}
	switch l.kind {
	case "pump":
		p := &l.parts.Pumps[len(l.parts.Pumps)-1]
		unnamed(&p.Name, len(l.parts.Pumps))
		p.Pump.Curve, p.Pump.RatedAt = l.item.Pump.Curve, l.item.Pump.RatedAt
		if len(p.Flows) > 0 {
			p.Pump.FreeFlow.Known = true
		}
		switch {
		case len(p.Pump.Curve) >= 2:
		case !p.Pump.FreeFlow.Known:
			lacks("free_flow", "its flow, free_flow or curve")
		case !p.Pump.Blanked.Known && p.End.Value == 0:
			lacks("blanked", "how deep it pulls, blanked or end_pressure")
		}
	case "gauge":
		g := &l.parts.Gauges[len(l.parts.Gauges)-1]
		unnamed(&g.Name, len(l.parts.Gauges))
		if l.late != nil {
			if err := finishAccuracy(&l.item, *l.late); err != nil {
				l.add(l.late.at, key("accuracy"), err)
			}
		}
		g.Gauge = l.item.Gauge
		switch x := g.Gauge; {
		case x.Division == 0 && x.Resolution == 0:
			lacks("division", "what it can show, division of a needle or resolution of a sensor")
		case x.Class != 0 && x.Accuracy.Known:
			l.add(l.at, key("class"), fmt.Errorf("accuracy is given as well, and both say the same thing: keep the one that is on the gauge"))
		}
		for _, step := range []float64{g.Gauge.Division, g.Gauge.Resolution} {
			if err := coarse(l.item, step); err != nil {
				l.add(l.at, key("division"), err)
			}
		}
	case "hose":
		h := &l.parts.Hoses[len(l.parts.Hoses)-1]
		unnamed(&h.Name, len(l.parts.Hoses))
		h.Hose = l.item.Hose
		if !h.Hose.Bore.Known || !h.Hose.Length.Known {
			lacks("bore", "bore or length")
		}
	case "engine":
		if e := &l.parts.Engine; !e.Bore.Known {
			lacks("bore", "its bore, without which no cost limit can be found")
		} else if e.Rod.Known && e.Stroke.Known && e.Rod.Value <= e.Stroke.Value/2 {
			l.add(l.at, key("rod"), fmt.Errorf("a rod of %.4g mm does not reach round a stroke of %.4g mm: measure it from eye to eye", e.Rod.Value*1e3, e.Stroke.Value*1e3))
		}
	case "port":
		p := &l.parts.Ports[len(l.parts.Ports)-1]
		unnamed(&p.Name, len(l.parts.Ports))
		p.Volume = l.item.Port.Volume
		switch {
		case !p.Volume.Known && len(p.Heads) == 0:
			lacks("valves", "volume, or valves to guess it from")
		case p.Limit == 0 && len(p.Heads) == 0:
			lacks("valves", "limit, or valves for the workmanship limit")
		}
	}
	l.kind = "none"
}
