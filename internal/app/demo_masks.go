package app

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
)

// maskedTest is a test of a port with some of its valves sealed off.
type maskedTest struct {
	file, port string
	masked     []string // places: "left", "right"
}

// readMasks reads masks.csv: a header and one line a test, file, port and the
// places of the valves masked ("left and right"). None is no fault.
func readMasks(dir fs.FS) ([]maskedTest, error) {
	const name = "masks.csv"
	f, err := dir.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows := csv.NewReader(f)
	rows.Comment, rows.FieldsPerRecord = '#', 3
	all, err := rows.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	var out []maskedTest
	for i, row := range all {
		if i > 0 {
			out = append(out, maskedTest{row[0], row[1], strings.Split(row[2], " and ")})
		}
	}
	return out, nil
}

// readMasked reads the masked tests of the example.
func (a *App) readMasked(ctx context.Context, q question, h exampleHead, dir fs.FS) ([]maskedTest, []*report.Outcome, error) {
	masks, err := readMasks(dir)
	if err != nil || len(masks) == 0 {
		return nil, nil, err
	}
	var ports []port
	for _, m := range masks {
		rows := h.rows(m.port)
		if len(rows) == 0 {
			return nil, nil, fmt.Errorf("masks.csv: the example has no port %q", m.port)
		}
		ports = append(ports, port{file: m.file, name: m.port, diameter: h.ports[rows[0]].diameter, keep: new(*trace.Trace),
			open: func() (io.ReadCloser, error) { return dir.Open(m.file) }})
	}
	outcomes, err := a.all(ctx, q, ports)
	return masks, outcomes, err
}

// cardOf is the job card of the example: what the sheets make of the same tests. Its
// tests are the rows of ports.csv by their number, "0" the first.
func (h exampleHead) cardOf(j head.Job, q question, plain []*report.Outcome, masks []maskedTest, masked []*report.Outcome) *head.Card {
	r := head.Records{Job: j, Cost: q.limit.costs.find, Pump: q.limit.pump}
	add := func(id, name string, o *report.Outcome, places []string) {
		p := j.PortNamed(name)
		if p == nil {
			return
		}
		c := head.Conditions{Held: rig.HeldOwnSpring, Wet: rig.WetNothing, Guide: head.GuideOpen, State: head.StateAsFound}
		for _, v := range j.Valves {
			if slices.Contains(p.Valves, v.ID) && slices.Contains(places, v.Place) {
				c.Masked = append(c.Masked, v.ID)
			}
		}
		at := startedAt([]byte("# started: "+o.Started), int64(len(r.Tests)))
		r.Tests = append(r.Tests, head.Tested{Test: head.Test{ID: id, JobID: j.ID, PortID: p.ID, At: at, Conditions: c}, Reading: o.Reading})
	}
	for i, p := range h.ports {
		add(strconv.Itoa(i), p.name, plain[i], nil)
	}
	for i, m := range masks {
		add("masked "+strconv.Itoa(i), m.port, masked[i], m.masked)
	}
	return head.CardOf(r)
}

// byPort puts the tests of each port together, in the order of the first of each,
// and judges them as the job card does: those that it counts, or all where it counts
// none.
func (h exampleHead) byPort(q question, card *head.Card, outcomes []*report.Outcome) ([]*report.Outcome, []report.PortRead, error) {
	var out []*report.Outcome
	of := map[string]*report.Outcome{}
	for i, p := range h.ports {
		rows := h.rows(p.name)
		if rows[0] != i {
			continue
		}
		c := cardOfPort(card, p.name)
		if counted := slices.DeleteFunc(slices.Clone(rows), func(k int) bool { return c == nil || !slices.Contains(c.Counted, strconv.Itoa(k)) }); len(counted) > 0 {
			rows = counted
		}
		o := outcomes[rows[0]]
		if len(rows) > 1 {
			var each []*report.Outcome
			var traces []*trace.Trace
			for _, k := range rows {
				each, traces = append(each, outcomes[k]), append(traces, *h.ports[k].keep)
			}
			var err error
			if o, err = together(q, each, traces, p.diameter); err != nil {
				return nil, nil, fmt.Errorf("ports.csv: %s: %w", p.name, err)
			}
		}
		if c != nil && o.Err == nil {
			takeCard(o, card, c)
			of[c.ID] = o
		}
		out = append(out, o)
	}
	var read []report.PortRead
	for i := range card.Ports {
		c := &card.Ports[i]
		o := of[c.ID]
		if o != nil && !o.Answered() {
			o = nil
		}
		read = append(read, report.PortRead{Card: c, Outcome: o})
	}
	return out, read, nil
}

func cardOfPort(c *head.Card, name string) *head.PortCard {
	for i := range c.Ports {
		if c.Ports[i].Name == name {
			return &c.Ports[i]
		}
	}
	return nil
}

// takeCard gives an outcome what the job card says of its port. A verdict that tests
// with valves masked settle is the port's.
func takeCard(o *report.Outcome, card *head.Card, p *head.PortCard) {
	if !o.Answered() {
		return
	}
	o.Take(p.Judged())
	if p.Reading != nil {
		o.Reading = p.Reading
	}
	switch p.Standing {
	case head.Holds:
		o.Verdict = limit.Holds
	case head.Leaks:
		o.Verdict = limit.Leaks
	}
	if p.Standing != head.Holds && p.Next.Do != "" {
		o.Step = &p.Next
	}
	if a := report.ApartOf(card, p); len(a.Openings) > 0 {
		o.Apart = &a
	}
}
