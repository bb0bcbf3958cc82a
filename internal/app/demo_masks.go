package app

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
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

// tellMasks prints which valve of each port with masked tests leaks, by all its
// tests: what the job card of the same head says.
func (a *App) tellMasks(ctx context.Context, q question, h exampleHead, dir fs.FS, plain []*report.Outcome) error {
	masks, err := readMasks(dir)
	if err != nil || len(masks) == 0 {
		return err
	}
	var ports []port
	for _, m := range masks {
		rows := h.rows(m.port)
		if len(rows) == 0 {
			return fmt.Errorf("masks.csv: the example has no port %q", m.port)
		}
		ports = append(ports, port{file: m.file, name: m.port, diameter: h.ports[rows[0]].diameter, keep: new(*trace.Trace),
			open: func() (io.ReadCloser, error) { return dir.Open(m.file) }})
	}
	outcomes, err := a.all(ctx, q, ports)
	if err != nil {
		return err
	}
	job := h.job()
	job.ID = "example"
	r := head.Records{Job: job}
	add := func(name string, o *report.Outcome, places []string) {
		for _, p := range job.Ports {
			if job.PortName(p.ID) != name {
				continue
			}
			c := head.Conditions{Held: rig.HeldOwnSpring, Wet: rig.WetNothing, Guide: head.GuideOpen, State: head.StateAsFound}
			for _, v := range job.Valves {
				if slices.Contains(p.Valves, v.ID) && slices.Contains(places, v.Place) {
					c.Masked = append(c.Masked, v.ID)
				}
			}
			n := len(r.Tests) + 1
			r.Tests = append(r.Tests, head.Tested{Test: head.Test{ID: fmt.Sprint("t", n), JobID: job.ID, PortID: p.ID, At: int64(n), Conditions: c}, Reading: o.Reading})
		}
	}
	for i, m := range masks {
		add(m.port, outcomes[i], m.masked)
	}
	for i, p := range h.ports {
		if slices.ContainsFunc(masks, func(m maskedTest) bool { return m.port == p.name }) {
			add(p.name, plain[i], nil)
		}
	}
	card := head.CardOf(r)
	for _, p := range card.Ports {
		if p.Apart == nil {
			continue
		}
		fmt.Fprintf(a.Stdout, "\n%s, by %d tests, some with a valve masked:\n", p.Name, len(p.Apart.Tests))
		for _, v := range p.Apart.Valves {
			for _, c := range card.Valves {
				if c.ID == v.ID {
					fmt.Fprintf(a.Stdout, "  %-12s %-14s %s cm³/min\n", c.Short, c.Standing.Words(), leakWords(&v.OpeningLeak))
				}
			}
		}
		if p.Apart.Rest != nil {
			fmt.Fprintf(a.Stdout, "  %-12s %-14s %s cm³/min\n", "what is left", "", leakWords(p.Apart.Rest))
		}
	}
	return nil
}

// leakWords writes the leak of one opening: "91 (71 to 130)" or "less than 6".
func leakWords(o *head.OpeningLeak) string {
	fig := func(q float64) string { return report.Figure(q*6e7, 2) }
	if o.UpperOnly {
		return "less than " + fig(o.Leak.High)
	}
	return fig(o.Leak.Median) + " (" + fig(o.Leak.Low) + " to " + fig(o.Leak.High) + ")"
}
