package app

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"seatproof/check"
	"seatproof/gas"
	"seatproof/internal/rigfile"
	"seatproof/rig"
	"seatproof/unit"
)

// show writes a figure in the units of the screen.
func (c *checking) show(f check.Figure) string {
	if f.Dim != unit.PressureDim {
		return f.String()
	}
	digits := 3
	if f.Is.Spread > 0 {
		digits = 2 // of the ±, which rounds the figure too
	}
	return unit.Format(f.Is, f.Dim, c.unit.Name, digits)
}

// value writes a check's value, "" where it has none.
func (c *checking) value(r check.Result) string {
	switch {
	case !r.Value.Known || r.Dim == 0:
		return ""
	case r.Kind == check.KindRigLeak && r.Value.Value == 0 && r.Value.Spread > 0:
		return "less than " + c.show(check.Figure{Is: unit.Exactly(r.Value.Spread), Dim: r.Dim})
	default:
		return c.show(check.Figure{Is: r.Value, Dim: r.Dim})
	}
}

// trusted says how long a check is trusted.
func trusted(r check.Result) string {
	end, ends := r.Until()
	switch {
	case !ends:
		return "until a part it hangs on is changed"
	case r.Trust() == check.TheDay:
		return "the day, " + end.AddDate(0, 0, -1).Format("2 January 2006")
	default:
		return fmt.Sprintf("%d days, to %s", r.Trust(), end.AddDate(0, 0, -1).Format("2 January 2006"))
	}
}

// tell writes what a check gave.
func (c *checking) tell(r check.Result) error {
	out := c.app.Stdout
	if c.job.JSON {
		e := json.NewEncoder(out)
		e.SetEscapeHTML(false)
		e.SetIndent("", "  ")
		return e.Encode(r)
	}
	value := c.value(r)
	if value != "" {
		value = ": " + value
	}
	kind := string(r.Kind)
	if r.Kind == check.KindGauge {
		kind = "gauge error"
	}
	if c.found != nil {
		kind = c.found.Name
	}
	fmt.Fprintf(out, "%s%s\n", kind, value)
	if r.Verdict != check.Found {
		fmt.Fprintf(out, "  %s\n", r.Verdict)
	}
	for _, s := range r.Evidence {
		fmt.Fprintf(out, "  %s\n", s.In(c.show))
	}
	if r.Do != "" {
		fmt.Fprintf(out, "  %s\n", r.Do)
	}
	if c.found != nil {
		fmt.Fprintf(out, "  Line for a catalogue of your own: %s,measured,,,%s,measured %s\n", quoteCSV(c.found.Name),
			unit.Format(c.found.Flow, unit.FlowDim, "cm3/min", 2), c.job.Now.Format("2006-01-02"))
		return nil
	}
	if r.Kind != check.KindPart {
		fmt.Fprintf(out, "  Trusted %s.\n", trusted(r))
	}
	if c.job.Rig != "" && !c.job.Write {
		fmt.Fprintf(out, "  Nothing is written: with --write it goes into %s.\n", filepath.Base(c.job.Rig))
	}
	return nil
}

// quoteCSV writes a cell as RFC 4180 has it, so that it reads back.
func quoteCSV(s string) string {
	if strings.ContainsAny(s, ",\"\n") {
		return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	return s
}

// standings writes where each check of the rig stands, or what can be checked.
func (c *checking) standings() {
	out := c.app.Stdout
	if c.job.Rig == "" {
		fmt.Fprintln(out, "What can be checked, in this order; each by: seatproof rig check WHAT READINGS... [--rig FILE]")
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		for _, x := range checkWays {
			fmt.Fprintf(w, "  %s\t%s\n", x.word, x.takes)
		}
		fmt.Fprintf(w, "  leaks\tno check: what known leaks pass, by name, or all that the catalogue has\n")
		fmt.Fprintf(w, "  faults\tno check: what is likely wrong with the rig, by the traces of a day\n")
		w.Flush()
		return
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, s := range check.Current(c.results, c.job.Now) {
		if s.Result == nil {
			fmt.Fprintf(w, "%s\tnever checked\t\t\n", s.Kind)
			continue
		}
		value := c.value(*s.Result)
		state := "trusted " + trusted(*s.Result)
		if s.Old {
			state = "old: made on " + s.Result.At.Format("2 January 2006") + ", counts with more doubt"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", s.Kind, s.Result.Verdict, value, state)
	}
	w.Flush()
}

// leaks writes what known leaks pass at 50 kPa, in the rig's room.
func (c *checking) leaks() error {
	var all []check.Known
	for _, name := range c.job.Readings {
		k, err := c.known(name)
		if err != nil {
			return err
		}
		all = append(all, k)
	}
	listed := len(all) == 0
	if listed {
		all = append(check.Catalogue(), c.own...)
	}
	pa, ta := check.RoomOf(c.rig)
	w := tabwriter.NewWriter(c.app.Stdout, 0, 0, 2, ' ', 0)
	for _, k := range all {
		note := ""
		tube := k.Way == check.Needle || k.Way == check.Capillary
		if listed && tube && !k.Length.Known {
			k.Length, note = unit.About(20e-3, 0.5e-3), ", if 20 mm long"
		}
		q, err := k.FreeAir(gas.StatedVacuum, pa, ta)
		if err != nil {
			return err
		}
		show := func(x float64) string { return unit.Format(unit.Exactly(x), unit.FlowDim, "cm³/min", 2) }
		low := strings.TrimSuffix(show(q.Low), " cm³/min")
		fmt.Fprintf(w, "%s\t%s\t%s to %s%s\n", k.Name, show(q.Median), low, show(q.High), note)
	}
	return w.Flush()
}

// checksFile is where the checks of a rig file are kept with their dates.
func checksFile(rigFile string) string {
	return strings.TrimSuffix(rigFile, filepath.Ext(rigFile)) + ".checks.jsonl"
}

// readChecks reads the checks kept beside a rig file, none where there is none.
func readChecks(name string) ([]check.Result, error) {
	data, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, &fault{name, err, ""}
	}
	var out []check.Result
	s := bufio.NewScanner(bytes.NewReader(data))
	s.Buffer(nil, 1<<20)
	for line := 1; s.Scan(); line++ {
		if len(bytes.TrimSpace(s.Bytes())) == 0 {
			continue
		}
		var r check.Result
		if err := json.Unmarshal(s.Bytes(), &r); err != nil {
			return nil, &fault{name, fmt.Errorf("line %d: %w", line, err), "put the line right, or take it out"}
		}
		out = append(out, r)
	}
	return out, s.Err()
}

// write puts what was found into the rig file and the check into the file beside
// it: that first, so that no figure stands in the rig file without its check.
func (c *checking) write(r check.Result) error {
	if c.found != nil {
		return &fault{"--write", errors.New("what a known leak passes is no part of the rig"), "put its line into a catalogue of your own"}
	}
	text, err := os.ReadFile(c.job.Rig)
	if err != nil {
		return &fault{"--write", err, ""}
	}
	next := check.Apply(c.stated, []check.Result{r}, c.job.Now)
	switch all := check.Apply(c.stated, append(c.results, r), c.job.Now); r.Kind {
	case check.KindRigLeak: // in the pump's state, by the valve's seep
		next = c.stated
		next.RigLeak = all.RigLeak
	case check.KindVolume: // an earlier, finer one may go on speaking
		next.Volume = all.Volume
		if c.rig.Volume.Known && all.Volume == c.rig.Volume && all.Volume != r.Value && !c.job.JSON {
			fmt.Fprintf(c.app.Stdout, "  The earlier one, %s, is finer and agrees: it goes on speaking.\n", c.show(check.Figure{Is: all.Volume, Dim: unit.VolumeDim}))
		}
	}
	next.Port = c.stated.Port // a head is no part of the rig
	rounded(&next, c.stated)
	edited, err := rigfile.Edit(string(text), next)
	if err != nil {
		return fmt.Errorf("write %s: %w", c.job.Rig, err)
	}
	line, err := json.Marshal(r)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(checksFile(c.job.Rig), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return &fault{"--write", err, ""}
	}
	_, err = f.Write(append(line, '\n'))
	if err := errors.Join(err, f.Close()); err != nil {
		return &fault{"--write", err, ""}
	}
	if edited != string(text) {
		info, err := os.Stat(c.job.Rig)
		if err != nil {
			return &fault{"--write", err, ""}
		}
		if err := replaceFile(c.job.Rig, []byte(edited), info.Mode().Perm()); err != nil {
			return &fault{"--write", err, ""}
		}
	}
	if !c.job.JSON {
		fmt.Fprintf(c.app.Stdout, "  Written to %s and %s.\n", filepath.Base(c.job.Rig), filepath.Base(checksFile(c.job.Rig)))
	}
	return nil
}

// replaceFile puts new contents in a file's place in one step, so that a crash
// leaves the one or the other.
func replaceFile(name string, data []byte, mode fs.FileMode) error {
	tmp, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+"-")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(data)
	if err := errors.Join(err, tmp.Chmod(mode), tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), name)
}

// grams reads a weight of water [kg]: "62 g", "62 ± 0.5 g", "0,06 kg".
func grams(text string) (unit.Measured, bool) {
	text = strings.TrimSpace(text)
	size, number := 0.0, ""
	switch {
	case strings.HasSuffix(text, "kg"):
		size, number = 1, strings.TrimSuffix(text, "kg")
	case strings.HasSuffix(text, "g"):
		size, number = 1e-3, strings.TrimSuffix(text, "g")
	default:
		return unit.Measured{}, false
	}
	q, err := unit.ParseIn(number, unit.LengthDim, "m") // for the figure alone
	if err != nil || q.Unit != "m" {
		return unit.Measured{}, false
	}
	return unit.About(q.Value*size, q.Spread*size), true
}

// cutLast cuts a text at the last sep.
func cutLast(s, sep string) (before, after string, ok bool) {
	if i := strings.LastIndex(s, sep); i >= 0 {
		return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+len(sep):]), true
	}
	return s, "", false
}

func partNamed(words []string) (check.Part, bool) {
	p := check.Part(strings.ToLower(strings.Join(words, " ")))
	switch p {
	case check.PartPump, check.PartGauge, check.PartHose, check.PartPlate, check.PartValve:
		return p, true
	default:
		return "", false
	}
}

// rounded drops the digits of computed figures that mean nothing, so that a person
// can read the rig file: two of the ±, in the unit that the file has. What is as
// stated is left as it is.
func rounded(r *rig.Rig, stated rig.Rig) {
	round := func(m *unit.Measured, was unit.Measured, dim unit.Dimension, in string) {
		if !m.Known || m.Spread == 0 || *m == was {
			return
		}
		if q, err := unit.Parse(unit.Format(*m, dim, in, 2), dim); err == nil {
			*m = q.Measured
		}
	}
	gauge := "kPa"
	if r.Gauge.Unit != "" {
		gauge = r.Gauge.Unit
	}
	round(&r.Pump.Blanked, stated.Pump.Blanked, unit.PressureDim, gauge)
	round(&r.Gauge.Zero, stated.Gauge.Zero, unit.PressureDim, gauge)
	round(&r.Volume, stated.Volume, unit.VolumeDim, "cm³")
	round(&r.RigLeak, stated.RigLeak, unit.FlowDim, "cm³/min")
	round(&r.Pump.FreeFlow, stated.Pump.FreeFlow, unit.FlowDim, "L/min")
	round(&r.Hose.Bore, stated.Hose.Bore, unit.LengthDim, "mm")
	for i := range r.Pump.Curve {
		if slices.Equal(r.Pump.Curve, stated.Pump.Curve) {
			break
		}
		p := &r.Pump.Curve[i]
		if q, err := unit.Parse(unit.Format(unit.Exactly(float64(p.Vacuum)), unit.PressureDim, "kPa", 4), unit.PressureDim); err == nil {
			p.Vacuum = unit.Vacuum(q.Value)
		}
		if q, err := unit.Parse(unit.Format(unit.Exactly(p.Flow), unit.FlowDim, "L/min", 3), unit.FlowDim); err == nil {
			p.Flow = q.Value
		}
	}
	if l := r.Gauge.Line; l != nil && l != stated.Gauge.Line {
		c := *l
		round(&c.Offset, unit.Measured{}, unit.PressureDim, "kPa")
		round(&c.Slope, unit.Measured{}, unit.RatioDim, "%")
		c.Correlation = math.Round(c.Correlation*1000) / 1000
		if q, err := unit.Parse(unit.Format(c.Bow, unit.PressureDim, "kPa", 2), unit.PressureDim); err == nil && c.Bow.Known {
			c.Bow = q.Measured
		}
		r.Gauge.Line = &c
	}
}
