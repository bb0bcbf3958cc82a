package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/internal/report"
	"seatproof/internal/rigfile"
	"seatproof/leak"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// ReadJob is what a person asks of the command read. Texts are as typed.
type ReadJob struct {
	Files        []string
	Rig          string // rig file; "": none
	BlankedTrace string // trace of the rig on a blank, for the blanked reading
	JSON         bool
	Full         bool
	Strict       bool
	Plot         string // SVG file, or a folder where it ends with a slash
	Seat         string // "27 mm x 0.3 mm"
	PortVolume   string // "95 ± 30 cm3"
	Limit        string // "20 cm3/min", or "workmanship"
	Bore         string // of the engine: the cost limit counts too
	Stroke       string // with Bore
	Ratio        string // with Bore
	Valves       string // with Bore: heads of a cylinder's valves, "intake 27, 27 mm; exhaust 23, 23 mm"
	Held         string
	Column       string
	Columns      string
	Unit         string // of vacuums on the screen
	ShutOff      string // "12.3 s": when the pump was shut off, if not to be found
	SamePort     bool   // the files are tests of one port, read together
	Repeats      string // folder of the shop's own repeats; "": none
	Now          time.Time
}

// question is a ReadJob with its texts understood.
type question struct {
	rig    rig.Rig
	held   bool // said on the command line
	seat   *leak.Seat
	off    *float64 // s
	limit  limitRule
	strict bool
	trace  trace.ReadOptions
	style  report.Style

	scatter *leak.Scatter  // between tests; nil: the common one
	checks  []check.Result // of the rig, kept beside its file
}

// Read reads traces and writes what they say: a few lines for one, a table for
// several, or JSON. Several tests of one port (SamePort) make one answer. Errors are written to Stderr. It stops when ctx ends.
func (a *App) Read(ctx context.Context, job ReadJob) Exit {
	q, err := a.understand(ctx, job)
	if err != nil {
		a.complain(err)
		return Wrong
	}
	if job.SamePort {
		if err := namedTwice(job.Files); err != nil {
			a.complain(err)
			return Wrong
		}
	}
	if job.Repeats != "" {
		work := func(p []port) ([]*report.Outcome, error) {
			return a.all(ctx, question{rig: q.rig, held: q.held, trace: q.trace, style: q.style}, p)
		}
		if err := a.learn(&q, job.Repeats, work, job.Files); err != nil {
			a.complain(err)
			if ctx.Err() != nil {
				return Stopped
			}
			return Wrong
		}
	}
	work := make([]port, len(job.Files))
	for i, name := range job.Files {
		work[i] = port{file: name, open: func() (io.ReadCloser, error) { return os.Open(name) }}
		if q.seat != nil {
			work[i].diameter = q.seat.Diameter
		}
		if job.SamePort {
			work[i].keep = new(*trace.Trace)
		}
	}
	if job.Rig == "" {
		fmt.Fprintln(a.Stderr, "seatproof: no rig file given (--rig): what it would say is guessed wide, or left out")
	}
	outcomes, err := a.all(ctx, q, work)
	if err != nil {
		a.complain(err)
		return Stopped
	}
	exit := Answered
	if job.SamePort && len(outcomes) > 1 {
		port, err := together(q, outcomes, kept(work), work[0].diameter)
		if err != nil {
			a.complain(err)
			return Wrong
		}
		for _, o := range outcomes {
			if o.Err != nil {
				exit = Wrong
				if port.Err == nil || o.Err != port.Err {
					a.complain(o.Err)
				}
			}
		}
		outcomes = []*report.Outcome{port}
	}
	if len(q.checks) > 0 { // who checks a rig is told what is missing or old, once
		for _, o := range outcomes {
			if g := check.Worth(o.Reading, q.rig, q.checks, job.Now); len(g) > 0 {
				o.Worth = g[0].Words
			}
		}
	}
	if err := a.write(job, q, outcomes); err != nil {
		a.complain(err)
		return Wrong
	}
	for _, o := range outcomes {
		exit = worse(exit, exitOf(o))
		if o.Err != nil {
			a.complain(o.Err)
		}
	}
	return exit
}

// kept returns the recordings that were kept, nil where there was none to read.
func kept(work []port) []*trace.Trace {
	traces := make([]*trace.Trace, len(work))
	for i, p := range work {
		traces[i] = *p.keep
	}
	return traces
}

func exitOf(o *report.Outcome) Exit {
	switch o.State() {
	case report.Unreadable:
		return Wrong
	case report.Refused:
		return Unanswered
	default:
		return Answered
	}
}

// write writes the outcomes as the job asks.
func (a *App) write(job ReadJob, q question, outcomes []*report.Outcome) error {
	var err error
	switch {
	case job.JSON:
		err = report.WriteJSON(a.Stdout, outcomes, a.Version)
	case len(outcomes) == 1 && outcomes[0].Err != nil:
		// Said on Stderr, once.
	case len(outcomes) == 1:
		err = report.WriteText(a.Stdout, outcomes[0], q.style)
	default:
		err = report.WriteTable(a.Stdout, outcomes, q.style)
	}
	if err != nil {
		return fmt.Errorf("write the answer: %w", err)
	}
	if job.Plot == "" {
		return nil
	}
	files := make([]string, len(outcomes))
	for i, o := range outcomes {
		files[i] = o.FirstFile()
	}
	for i, name := range plotNames(job.Plot, files) {
		if outcomes[i].Err != nil {
			continue
		}
		if err := writeFile(name, func(w io.Writer) error { return report.WritePlot(w, outcomes[i], q.style) }); err != nil {
			return &fault{"--plot", err, "name a file or folder that can be written"}
		}
	}
	return nil
}

// plotNames returns the names of the SVG files: the name given for one trace,
// name-1.svg, name-2.svg for several, and, in a folder, the traces' own names.
func plotNames(plot string, files []string) []string {
	names := make([]string, len(files))
	folder := strings.HasSuffix(plot, "/") || strings.HasSuffix(plot, string(filepath.Separator))
	taken := map[string]bool{}
	for i, f := range files {
		switch {
		case folder:
			base := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
			name := base
			for n := 2; taken[name]; n++ {
				name = fmt.Sprintf("%s-%d", base, n)
			}
			taken[name] = true
			names[i] = filepath.Join(plot, name+".svg")
		case len(files) == 1:
			names[i] = plot
		default:
			ext := filepath.Ext(plot)
			names[i] = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(plot, ext), i+1, ext)
		}
	}
	return names
}

// writeFile makes a file, and the folder it is in, and fills it.
func writeFile(name string, fill func(io.Writer) error) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	if err := fill(f); err != nil {
		f.Close()
		return fmt.Errorf("write %s: %w", name, err)
	}
	return f.Close()
}

// understand turns the job's texts into values.
func (a *App) understand(ctx context.Context, job ReadJob) (question, error) {
	q := question{
		strict: job.Strict,
		style:  report.Style{Full: job.Full},
		trace:  trace.ReadOptions{Column: job.Column, Columns: job.Columns},
	}
	if e := filepath.Ext(job.Plot); e != "" && e != ".svg" && !strings.HasSuffix(job.Plot, "/") {
		return q, &fault{"--plot", fmt.Errorf("drawings are SVG, and %q ends in %s", job.Plot, e), "name it .svg, or a folder ending in /"}
	}
	if len(job.Files) == 0 {
		return q, &fault{"read", errors.New("no trace named"), "name one or more files"}
	}
	if job.Unit != "" {
		u, ok := report.UnitNamed(job.Unit)
		if !ok {
			return q, &fault{"--unit", fmt.Errorf("unknown vacuum unit %q", job.Unit), "take one of " + strings.Join(report.VacuumUnits, ", ")}
		}
		q.style.Unit = u
	}
	if job.Rig != "" {
		r, err := readRig(job.Rig)
		if err != nil {
			return q, err
		}
		if q.checks, err = readChecks(checksFile(job.Rig)); err != nil {
			return q, err
		}
		q.rig = check.Apply(r, q.checks, job.Now)
	}
	if job.PortVolume != "" {
		v, err := unit.Parse(job.PortVolume, unit.VolumeDim)
		if err != nil {
			return q, &fault{"--port-volume", err, ""}
		}
		if !(v.Value >= 0) { // 0: a blank
			return q, &fault{"--port-volume", fmt.Errorf("%s is no volume", job.PortVolume), "give it as in \"95 ± 30 cm3\""}
		}
		q.rig.Port.Volume = v.Measured
	}
	if job.ShutOff != "" {
		v, err := unit.Parse(job.ShutOff, unit.TimeDim)
		if err != nil {
			return q, &fault{"--shut-off", err, ""}
		}
		q.off = &v.Value
	}
	if job.Held != "" {
		h, ok := heldNamed(job.Held)
		if !ok {
			return q, &fault{"--held", fmt.Errorf("unknown %q", job.Held), "take one of nothing, thumb, light-spring, own-spring"}
		}
		q.rig.Port.Held, q.held = h, true
	}
	if job.Seat != "" {
		d, c, err := unit.ParseSeat(job.Seat)
		if err != nil {
			return q, &fault{"--seat", err, ""}
		}
		q.seat = &leak.Seat{Diameter: d.Value, Contact: c.Value}
	}
	switch {
	case job.Limit == "":
	case strings.EqualFold(strings.TrimSpace(job.Limit), "workmanship"):
		if q.seat == nil && job.Bore == "" {
			return q, &fault{"--limit", errors.New("the workmanship limit goes by the seat's diameter, and none is given"), "give --seat \"27 mm x 0.3 mm\" too"}
		}
		q.limit.workmanship = true
	default:
		l, err := unit.Parse(job.Limit, unit.FlowDim)
		if err != nil {
			return q, &fault{"--limit", err, "write a leak rate, such as \"20 cm3/min\", or the word workmanship"}
		}
		if !(l.Value > 0) {
			return q, &fault{"--limit", fmt.Errorf("%s can't be a limit", job.Limit), "it must be above zero"}
		}
		if l.Spread > 0 {
			return q, &fault{"--limit", fmt.Errorf("%s has a ±, and a limit is a line", job.Limit), "leave the ± out"}
		}
		q.limit.flow = l.Value
	}
	if job.BlankedTrace != "" {
		if err := takeBlanked(ctx, &q, job.BlankedTrace); err != nil {
			return q, err
		}
	}
	return q, job.takeEngine(&q)
}

func readRig(name string) (rig.Rig, error) {
	f, err := os.Open(name)
	if err != nil {
		return rig.Rig{}, &fault{"--rig", err, "name the rig's own file, such as rig.toml"}
	}
	defer f.Close()
	return rigfile.Read(f, name)
}

// takeBlanked puts the steady reading of a trace taken on a blank in the place
// of the rig file's blanked reading.
func takeBlanked(ctx context.Context, q *question, name string) error {
	f, err := os.Open(name)
	if err != nil {
		return &fault{"--blanked-trace", err, "name a trace of the rig on a blank"}
	}
	defer f.Close()
	t, err := trace.Read(stoppable{ctx, f}, q.trace)
	if err != nil {
		return &fault{"--blanked-trace", fmt.Errorf("%s: %w", name, err), ""}
	}
	r := leak.Read(t, q.rig, leak.Options{})
	if r.Steady == nil {
		why := "it shows no steady reading"
		if r.Refusal != nil {
			why = report.RefusalMessage(q.style, *r.Refusal).String()
		}
		return &fault{"--blanked-trace", fmt.Errorf("%s: %s", name, why), "record the pump running on a blank until the gauge stands still"}
	}
	v := r.Steady.Vacuum
	q.rig.Pump.Blanked = unit.About(v.Median, max(v.High-v.Median, v.Median-v.Low, q.rig.Pump.Blanked.Spread))
	q.rig.Pump.RatedAt = unit.Measured{}
	return nil
}

// heldNamed returns what may hold a valve, by its name in files and flags.
func heldNamed(name string) (rig.Held, bool) {
	switch h := rig.Held(strings.ToLower(strings.TrimSpace(name))); h {
	case rig.HeldNothing, rig.HeldThumb, rig.HeldLightSpring, rig.HeldOwnSpring:
		return h, true
	default:
		return "", false
	}
}
