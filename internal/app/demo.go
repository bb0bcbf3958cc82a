package app

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/rigfile"
	"seatproof/trace"
	"seatproof/unit"
)

// DemoJob is what a person asks of the command demo.
type DemoJob struct {
	From string // folder of the example head
	Out  string // folder for the results
}

// Demo reads every port of an example head, prints the table and writes
// readings.json, one drawing a port and index.html. That a trace of the
// example is refused is part of the example, and no failure.
func (a *App) Demo(ctx context.Context, ask DemoJob) Exit {
	fail := func(err error) Exit {
		a.complain(err)
		return Wrong
	}
	dir := os.DirFS(ask.From)
	h, err := readHead(dir)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			err = &fault{"--from " + ask.From, err, "run it where the folder examples lies, or name a folder with ports.csv, rig.toml and the traces"}
		}
		return fail(err)
	}
	r, err := dir.Open("rig.toml")
	if err != nil {
		return fail(&fault{"--from " + ask.From, err, "the folder needs a rig file"})
	}
	job := h.job()
	job.ID = "example"
	q := question{}
	q.rig, err = rigfile.Read(r, filepath.Join(ask.From, "rig.toml"))
	r.Close()
	if err != nil {
		return fail(err)
	}
	q.limit = limitRule{head: &job, pump: pumpHere(q.rig), costs: new(costs), port: func(name string) (*head.Port, error) {
		if p := job.PortNamed(name); p != nil {
			return p, nil
		}
		return nil, fmt.Errorf("the example's head has no port %q", name)
	}}
	for i := range h.ports {
		name := h.ports[i].file
		h.ports[i].open = func() (io.ReadCloser, error) { return dir.Open(name) }
		h.ports[i].keep = new(*trace.Trace)
	}
	outcomes, err := a.all(ctx, q, h.ports)
	if err != nil {
		a.complain(err)
		return Stopped
	}
	masks, masked, err := a.readMasked(ctx, q, h, dir)
	if err != nil {
		return fail(err)
	}
	card := h.cardOf(job, q, outcomes, masks, masked)
	outcomes, ports, err := h.byPort(q, card, outcomes)
	if err != nil {
		return fail(err)
	}
	fmt.Fprintf(a.Stdout, "%s, an invented example: %d ports\n\n", h.title, len(outcomes))
	if err := report.WriteTable(a.Stdout, outcomes, q.style); err != nil {
		return fail(err)
	}
	other, err := elsewhere(&job, ports, q.rig, q.style)
	if err != nil {
		return fail(err)
	}
	if err := report.WriteElsewhere(a.Stdout, other, q.style); err != nil {
		return fail(err)
	}
	wall, err := a.writeDemo(ask.Out, h, q, outcomes, other)
	if err != nil {
		return fail(&fault{"--out " + ask.Out, err, "name a folder that can be written"})
	}
	fmt.Fprintf(a.Stdout, "\nWritten to %s: index.html (open it in a browser), readings.json, %s%d drawings.\n", ask.Out, wall, len(outcomes))
	for _, o := range outcomes {
		if o.Err != nil {
			return Wrong
		}
		for _, e := range o.Each {
			if e.Err != nil {
				return Wrong
			}
		}
	}
	return Answered
}

// writeDemo writes the pages of the demo, and says what it calls its wall card:
// "" where there is none.
func (a *App) writeDemo(out string, h exampleHead, q question, outcomes []*report.Outcome, other *report.Elsewhere) (wall string, err error) {
	page := report.Page{
		Title: h.title, Number: h.number, Document: "Job card", Invented: true,
		Rig: q.rig.Name, Air: airWords(q), Version: a.Version, Else: other,
	}
	for _, o := range outcomes {
		if day, _, _ := strings.Cut(o.Started, "T"); day > page.Date {
			page.Date = day
		}
	}
	files := map[string]func(io.Writer) error{
		"index.html":    func(w io.Writer) error { return report.WritePage(w, page, outcomes, q.style) },
		"readings.json": func(w io.Writer) error { return report.WriteJSON(w, outcomes, a.Version) },
	}
	for _, o := range outcomes {
		if o.Err == nil {
			name := o.FirstFile()
			files[strings.TrimSuffix(name, filepath.Ext(name))+".svg"] = func(w io.Writer) error { return report.WritePlot(w, o, q.style) }
		}
	}
	if card, err := demoCard(h, q, page); err != nil { // the rest is written all the same
		fmt.Fprintf(a.Stdout, "\nNo wall card: %s.\n", strings.TrimPrefix(err.Error(), "wall card: "))
	} else {
		wall = "wall-card.pdf (for the wall), "
		files["wall-card.pdf"] = func(w io.Writer) error { return report.WriteWallCardPDF(w, card) }
	}
	var all []error
	for name, fill := range files {
		all = append(all, writeFile(filepath.Join(out, name), fill))
	}
	return wall, errors.Join(all...)
}

// demoCard is the wall card of the example's rig and head.
func demoCard(h exampleHead, q question, page report.Page) (report.WallCard, error) {
	job := h.job()
	card := report.WallCard{Title: h.title, Number: h.number, Rig: page.Rig, Date: page.Date, Invented: true, Version: page.Version}
	if t, err := time.Parse(time.DateOnly, page.Date); err == nil {
		card.Date = dayWords(t)
	}
	var err error
	card.Card, err = check.MakeCard(check.CardJob{Rig: q.rig, Ports: report.CardPorts(&job, q.rig)})
	return card, err
}

// airWords says what air the tests were made in.
func airWords(q question) string {
	var parts []string
	if p := q.rig.Air.Pressure; p.Known {
		p.Spread = 0
		parts = append(parts, unit.Format(p, unit.PressureDim, "kPa", 4))
	}
	if t := q.rig.Air.Temperature; t.Known {
		t.Spread = 0
		parts = append(parts, unit.Format(t, unit.TemperatureDim, "°C", 2))
	}
	return strings.Join(parts, ", ")
}

// exampleHead is what ports.csv says.
type exampleHead struct {
	title, number string
	ports         []port
}

// rows returns which rows name a port.
func (h exampleHead) rows(name string) []int {
	var rows []int
	for i, p := range h.ports {
		if p.name == name {
			rows = append(rows, i)
		}
	}
	return rows
}

// readHead reads ports.csv: comment lines "# title ..." and "# number ...",
// then a header and one line a test: file, port, valve diameter in mm. Several
// lines of one port are its repeats.
func readHead(dir fs.FS) (exampleHead, error) {
	const name = "ports.csv"
	h := exampleHead{title: "Example head"}
	f, err := dir.Open(name)
	if err != nil {
		return h, err
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return h, fmt.Errorf("%s: %w", name, err)
	}
	lines := bufio.NewScanner(strings.NewReader(string(text)))
	for lines.Scan() {
		if s, ok := strings.CutPrefix(lines.Text(), "# title "); ok {
			h.title = strings.TrimSpace(s)
		}
		if s, ok := strings.CutPrefix(lines.Text(), "# number "); ok {
			h.number = strings.TrimSpace(s)
		}
	}
	rows := csv.NewReader(strings.NewReader(string(text)))
	rows.Comment = '#'
	rows.FieldsPerRecord = 3
	rows.TrimLeadingSpace = true
	for first := true; ; first = false {
		row, err := rows.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return h, fmt.Errorf("%s: %w", name, err)
		}
		if first {
			continue
		}
		d, err := unit.ParseIn(row[2], unit.LengthDim, "mm")
		if err != nil {
			line, column := rows.FieldPos(2)
			return h, fmt.Errorf("%s: line %d, column %d: valve diameter: %w", name, line, column, err)
		}
		for _, k := range h.rows(row[1]) {
			if h.ports[k].diameter != d.Value {
				line, column := rows.FieldPos(2)
				return h, fmt.Errorf("%s: line %d, column %d: %s has another valve diameter here than in a line above; its tests must agree", name, line, column, row[1])
			}
		}
		h.ports = append(h.ports, port{file: row[0], name: row[1], diameter: d.Value})
	}
	if len(h.ports) == 0 {
		return h, fmt.Errorf("%s: no port in it; one line a test: file, port, valve diameter in mm", name)
	}
	return h, nil
}
