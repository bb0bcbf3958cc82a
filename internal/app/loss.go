package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"seatproof/gas"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/store"
	"seatproof/internal/store/archive"
	"seatproof/internal/store/mem"
	"seatproof/internal/web"
	"seatproof/leak"
	"seatproof/trace"
	"seatproof/unit"
)

// Loss says what leaks cost a cylinder: cranking peak, charge, work, the limit and
// the curve; of a head each cylinder in turn. Errors are written to Stderr.
func (a *App) Loss(ctx context.Context, job LossJob) Exit {
	l, style, err := a.lossOf(ctx, &job)
	if err == nil {
		err = a.writeLoss(job, l, style)
	}
	var unanswered *unansweredError
	switch {
	case errors.As(err, &unanswered):
		a.complain(err)
		return Unanswered
	case err != nil:
		a.complain(err)
		if ctx.Err() != nil {
			return Stopped
		}
		return Wrong
	}
	return Answered
}

// unansweredError is a trace that carries no answer, and so costs nobody knows what.
type unansweredError struct{ what string }

func (e *unansweredError) Error() string { return e.what }

// lossOf understands the job and reckons.
func (a *App) lossOf(ctx context.Context, job *LossJob) (*report.Loss, report.Style, error) {
	style := report.Style{Full: job.Full}
	if job.Unit != "" {
		u, ok := report.UnitNamed(job.Unit)
		if !ok {
			return nil, style, &fault{"--unit", fmt.Errorf("unknown unit of pressure %q", job.Unit), "take one of " + strings.Join(report.VacuumUnits, ", ")}
		}
		style.Unit, style.Asked = u, true
	}
	if e := filepath.Ext(job.Chart); job.Chart != "" && !strings.EqualFold(e, ".svg") {
		return nil, style, &fault{"--chart " + job.Chart, errors.New("drawings are SVG"), "name a file that ends in .svg"}
	}
	share, err := job.askedShare()
	if err != nil {
		return nil, style, err
	}
	if job.Head != "" {
		l, err := a.headLoss(ctx, job, share)
		return l, style, err
	}
	if job.Cylinder != 0 {
		return nil, style, &fault{"--cylinder", errors.New("no head is named"), "give --head too"}
	}
	e, err := job.askedEngine()
	if err != nil {
		return nil, style, err
	}
	for _, f := range e.Validate() { // those that are left are odd, and may be so
		fmt.Fprintln(a.Stderr, "seatproof: "+lossFlags[f.Field]+": "+f.What+maybe(f.Maybe))
	}
	ask := report.LossAsk{Share: share}
	ask.Engine, ask.Guessed = report.EngineGiven(&e)
	ask.Square = strings.TrimSpace(job.Swept) != ""
	if job.Seat != "" {
		d, c, err := unit.ParseSeat(job.Seat)
		if err != nil {
			return nil, style, &fault{"--seat", err, ""}
		}
		if d.Value >= e.Bore.Value {
			return nil, style, &fault{"--seat", fmt.Errorf("a seat of %s does not fit a bore of %s", unit.Format(d, unit.LengthDim, "mm", 3), unit.Format(e.Bore, unit.LengthDim, "mm", 3)), "check both"}
		}
		ask.Engine.SeatWidth, ask.Engine.Contact = report.SeatOf(d, c)
	}
	ask.Room, ask.Temp = gas.SeaLevelPressure, 293.15
	switch {
	case len(job.Leaks) > 0 && len(job.Traces) > 0:
		return nil, style, &fault{"--leak", errors.New("traces are named as well"), "give leak rates, or traces to read them from"}
	case len(job.Traces) > 0:
		if err := a.tracedLeaks(ctx, job, &ask); err != nil {
			return nil, style, err
		}
	default:
		if job.Rig != "" || job.SamePort {
			return nil, style, &fault{"--rig", errors.New("no trace is named to read with it"), "name the traces, or leave it out"}
		}
		leaks, err := job.askedLeaks()
		if err != nil {
			return nil, style, err
		}
		ask.Cylinders = []report.LossCylinder{{Leaks: leaks}}
	}
	if job.Air != "" {
		p, err := askedFigure("--air", job.Air, unit.PressureDim)
		if err != nil {
			return nil, style, err
		}
		if !(p.Value >= 55e3 && p.Value <= 110e3) {
			return nil, style, &fault{"--air", fmt.Errorf("%s is no air pressure on the ground", job.Air), "give it as it is here, 60 to 105 kPa"}
		}
		ask.Room = p.Value
	}
	l, err := report.LossOf(ask)
	if err != nil {
		return nil, style, lossFault(err)
	}
	return l, style, nil
}

func maybe(was string) string {
	if was == "" {
		return ""
	}
	return ": " + was + "?"
}

// lossFault says what package engine refused.
func lossFault(err error) error { return &fault{"loss", err, ""} }

// tracedLeaks reads the leaks of a cylinder's ports from traces.
func (a *App) tracedLeaks(ctx context.Context, job *LossJob, ask *report.LossAsk) error {
	if len(job.Kinds) > 0 {
		return &fault{"--kind", errors.New("a trace says itself how its leak flows, as far as it can"), "leave it out"}
	}
	q, err := a.understand(ctx, ReadJob{Files: job.Traces, Rig: job.Rig, Seat: job.Seat, Now: job.Now})
	if err != nil {
		return err
	}
	if err := namedTwice(job.Traces); err != nil {
		return err
	}
	work := make([]port, len(job.Traces))
	for i, name := range job.Traces {
		work[i] = port{file: name, open: func() (io.ReadCloser, error) { return os.Open(name) }, keep: new(*trace.Trace)}
		if q.seat != nil {
			work[i].diameter = q.seat.Diameter
		}
	}
	if job.Rig == "" {
		fmt.Fprintln(a.Stderr, "seatproof: no rig file given (--rig): what it would say is guessed wide, or left out")
	}
	outcomes, err := a.all(ctx, q, work)
	if err != nil {
		return err
	}
	if job.SamePort && len(outcomes) > 1 {
		one, err := together(q, outcomes, kept(work), work[0].diameter)
		if err != nil {
			return err
		}
		outcomes = []*report.Outcome{one}
	}
	if err := onePortEach(outcomes); err != nil {
		return err
	}
	var c report.LossCylinder
	for _, o := range outcomes {
		if o.Err != nil {
			return o.Err
		}
		r := o.Reading
		name := o.Port
		if name == "" {
			name = filepath.Base(o.FirstFile())
		}
		var middle *leak.Reading
		if o.Middle < len(o.Each) {
			middle = o.Each[o.Middle].Reading
		}
		l := report.LeakOf(name, r, middle, strings.Contains(strings.ToLower(name), string(head.Intake)))
		if !o.Answered() || len(l.Draws) == 0 {
			why := o.Why(report.Style{})
			words := why.String()
			if o.Answered() {
				words = "the volume of rig and port and the pump are not known, so that only a rate of fall can be told; say them in a rig file and name it: --rig FILE"
				if job.Rig != "" {
					words = "the rig file says neither the volume of rig and port nor the pump's free flow, so that only a rate of fall can be told; give one of them there"
				}
			}
			return &unansweredError{o.File + ": it carries no leak rate, so nobody can say what it costs: " + words}
		}
		c.Leaks = append(c.Leaks, l)
		ask.Room, ask.Temp = r.Room, r.RoomTemp
	}
	ask.Cylinders = []report.LossCylinder{c}
	return nil
}

// onePortEach refuses several traces that name one port: leaks of a cylinder's ports
// are added up, and those of one port again are not.
func onePortEach(outcomes []*report.Outcome) error {
	seen := map[string]string{}
	for _, o := range outcomes {
		name := strings.Join(strings.Fields(strings.ToLower(o.Port)), " ")
		if name == "" {
			continue
		}
		if first, ok := seen[name]; ok {
			return &fault{"loss", fmt.Errorf("%s and %s both say that they are of %s, and leaks of different ports are added up", first, o.FirstFile(), o.Port), "give --same-port to read tests of one port together; leave out those made with a valve masked, which are no tests of the whole port"}
		}
		seen[name] = o.FirstFile()
	}
	return nil
}

// headLoss reckons the cylinders of a head, from an exported file or the records.
func (a *App) headLoss(ctx context.Context, job *LossJob, share float64) (*report.Loss, error) {
	for _, x := range []struct{ flag, text string }{
		{"--bore", job.Bore}, {"--stroke", job.Stroke}, {"--swept", job.Swept}, {"--rod", job.Rod}, {"--ratio", job.Ratio}, {"--chamber", job.Chamber}, {"--intake-closes", job.IntakeCloses},
		{"--cranking", job.Cranking}, {"--idle", job.Idle}, {"--top-speed", job.TopSpeed}, {"--seat", job.Seat}, {"--air", job.Air}, {"--rig", job.Rig},
		{"--leak", strings.Join(job.Leaks, " ")}, {"trace", strings.Join(job.Traces, " ")},
	} {
		if x.text != "" {
			return nil, &fault{x.flag, errors.New("a head is named, which says that itself"), "put the figure right on the head's sheet Sizes, or leave --head out"}
		}
	}
	var l *report.Loss
	from := func(s store.Store, asked string) error {
		j, err := findJob(ctx, s, asked)
		if err != nil {
			return err
		}
		sheets, err := web.New(a.sheetsOn(s, nil))
		if err != nil {
			return err
		}
		l, err = sheets.LossOf(ctx, j.ID, job.Cylinder, share)
		return err
	}
	f, err := os.Open(job.Head)
	if errors.Is(err, os.ErrNotExist) { // a number, then
		err := withRecords(ctx, job.Data, false, func(s store.Store) error { return from(s, job.Head) })
		if errors.Is(err, errNoRecords) {
			return nil, &fault{"--head " + job.Head, errors.New("no such file, and no records to look in"), "name a file that export wrote, or --data FOLDER"}
		}
		return l, err
	}
	if err != nil {
		return nil, &fault{"--head " + job.Head, err, ""}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, &fault{"--head " + job.Head, err, ""}
	}
	if info.IsDir() {
		return nil, &fault{"--head " + job.Head, errors.New("this is a folder"), "name a file that export wrote, or a head's number"}
	}
	s := mem.New()
	defer s.Close()
	in, err := archive.Import(ctx, s, f, info.Size(), archive.Options{NewID: newID})
	if err != nil {
		return nil, &fault{"--head " + job.Head, err, "name a file that export wrote"}
	}
	err = from(s, in.JobID)
	return l, err
}

// writeLoss writes what was reckoned.
func (a *App) writeLoss(job LossJob, l *report.Loss, style report.Style) error {
	write := func() error { return report.WriteLoss(a.Stdout, l, style) }
	if job.JSON {
		write = func() error { return report.WriteLossJSON(a.Stdout, l, a.Version) }
	}
	if err := write(); err != nil || job.Chart == "" {
		return err
	}
	if err := writeFile(job.Chart, func(w io.Writer) error { return report.WriteLossChart(w, l, style) }); err != nil {
		return &fault{"--chart " + job.Chart, err, "name a file that can be written"}
	}
	return nil
}
