package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/rigfile"
	"seatproof/internal/store"
	"seatproof/internal/store/archive"
	"seatproof/internal/store/mem"
	"seatproof/rig"
	"seatproof/unit"
)

// RigCardJob is what a person asks of the command rig card.
type RigCardJob struct {
	Rig        string // rig file; "": the head's own rig in the records
	Head       string // number or identity in the records, or a file that export wrote
	Valves     string // "27, 27 mm", or by kinds: "intake 27, 27 mm; exhaust 23, 23 mm"
	PortVolume string // with Valves
	Bore       string // of the engine, with Valves: the cost limit counts too
	Stroke     string // with Bore
	Ratio      string // with Bore
	Held       string
	Unit       string
	Blanked    string // today's, instead of the rig file's
	Strict     bool
	Data       string
	To         string // file.pdf; "": wall-card.pdf
	Now        time.Time
}

// RigCard makes a wall card and says its figures in a few lines.
func (a *App) RigCard(ctx context.Context, job RigCardJob) Exit {
	if err := a.rigCard(ctx, job); err != nil {
		a.complain(err)
		return Wrong
	}
	return Answered
}

func (a *App) rigCard(ctx context.Context, job RigCardJob) error {
	if job.To == "" {
		job.To = "wall-card.pdf"
	}
	if !strings.EqualFold(filepath.Ext(job.To), ".pdf") {
		return &fault{"--to " + job.To, errors.New("a wall card is a PDF"), "name a file that ends in .pdf"}
	}
	ask := check.CardJob{Unit: job.Unit, Strict: job.Strict}
	var ok bool
	if ask.Held, ok = heldNamed(job.Held); !ok && job.Held != "" {
		return &fault{"--held " + job.Held, errors.New("this is no way to hold a valve"), "nothing, thumb, light-spring or own-spring"}
	}
	if job.Unit != "" {
		u, ok := report.UnitNamed(job.Unit)
		if !ok {
			return &fault{"--unit " + job.Unit, errors.New("this is no unit of vacuum"), strings.Join(report.VacuumUnits, ", ")}
		}
		ask.Unit = u.Name
	}
	card := report.WallCard{Version: a.Version, Date: dayWords(job.Now)}
	var err error
	if job.Rig != "" {
		if ask.Rig, err = readRig(job.Rig); err != nil {
			return err
		}
		card.Rig = ask.Rig.Name
		results, err := readChecks(checksFile(job.Rig))
		if err != nil {
			return err
		}
		leanOn(results, job.Now, &ask, &card)
	}
	switch {
	case job.Head != "" && job.Valves != "":
		return &fault{"--valves", errors.New("a head was named as well"), "give one of the two"}
	case job.Head != "" && job.Bore+job.Stroke+job.Ratio != "":
		return &fault{"--bore", errors.New("a head was named, which says that itself"), "put the figure right on the head's sheet Sizes, or leave --head out"}
	case job.Head != "":
		err = a.cardHead(ctx, job, &ask, &card)
	case job.Valves != "":
		if job.Rig == "" {
			return &fault{"--rig", errors.New("no rig was named"), "name its rig file, as in --rig rig.toml"}
		}
		if ask.Ports, err = a.cardValves(job, ask.Rig); err == nil {
			ask.Engine, err = job.engine()
			if err == nil {
				err = job.fits(ask)
			}
			ask.Engine.Others = report.CardOthers(ask.Ports)
		}
	default:
		return &fault{"--head", errors.New("no head and no valves were named"), "--head with its number or an exported file, or --valves \"27, 27 mm\""}
	}
	if err != nil {
		return err
	}
	if job.Blanked != "" {
		q, err := unit.Parse(job.Blanked, unit.PressureDim)
		if err != nil {
			return &fault{"--blanked", err, ""}
		}
		ask.Rig.Pump.Blanked, ask.Rig.Pump.RatedAt = q.Measured, unit.Measured{}
	}
	if card.Card, err = check.MakeCard(ask); err != nil {
		return err
	}
	if err := wholeFile(job.To, func(w io.Writer) error { return report.WriteWallCardPDF(w, card) }); err != nil {
		return &fault{"--to " + job.To, err, ""}
	}
	for _, l := range card.Lines() {
		fmt.Fprintln(a.Stdout, l)
	}
	fmt.Fprintf(a.Stdout, "Written to %s: one page, A5.\n", job.To)
	return nil
}

// cardHead takes ports, and where no rig was named the rig, from a head.
func (a *App) cardHead(ctx context.Context, job RigCardJob, ask *check.CardJob, card *report.WallCard) error {
	from := func(s store.Store, asked string) error {
		j, err := findJob(ctx, s, asked)
		if err != nil {
			return err
		}
		if job.Rig == "" {
			if err := cardRig(ctx, s, j.RigID, job.Now, ask, card); err != nil {
				return err
			}
		}
		ask.Ports, ask.Engine = report.CardPorts(&j, ask.Rig), report.EngineLimit(&j)
		card.Title, card.Number, card.Invented = j.Title, j.Number, j.Invented
		return nil
	}
	f, err := os.Open(job.Head)
	if errors.Is(err, os.ErrNotExist) { // a number, then
		err := withRecords(ctx, job.Data, false, func(s store.Store) error { return from(s, job.Head) })
		if errors.Is(err, errNoRecords) {
			return &fault{"--head " + job.Head, errors.New("no such file, and no records to look in"), "name a file that export wrote, or --data FOLDER"}
		}
		return err
	}
	if err != nil {
		return &fault{"--head " + job.Head, err, ""}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return &fault{"--head " + job.Head, err, ""}
	}
	if info.IsDir() {
		return &fault{"--head " + job.Head, errors.New("this is a folder"), "name a file that export wrote, or a head's number"}
	}
	s := mem.New()
	defer s.Close()
	in, err := archive.Import(ctx, s, f, info.Size(), archive.Options{NewID: newID})
	if err != nil {
		return &fault{"--head " + job.Head, err, "name a file that export wrote"}
	}
	return from(s, in.JobID)
}

// engine reads the engine that a card is for; none without a bore.
func (job *RigCardJob) engine() (check.Engine, error) {
	l := LossJob{Bore: job.Bore, Stroke: job.Stroke, Ratio: job.Ratio}
	if job.Bore == "" {
		if job.Stroke+job.Ratio != "" {
			return check.Engine{}, &fault{"--bore", errors.New("stroke or compression ratio are given, and no bore"), "give it too"}
		}
		return check.Engine{}, nil
	}
	e, err := l.askedEngine()
	if err != nil {
		return check.Engine{}, err
	}
	var out check.Engine
	out.Bore, out.Stroke, out.Ratio = e.Bore, e.Stroke, e.CompressionRatio
	return out, nil
}

// fits refuses valves that the bore has no room for, and an engine that can't be,
// by the flags that say them.
func (job *RigCardJob) fits(ask check.CardJob) error {
	e := ask.Engine
	if !e.Bore.Known {
		return nil
	}
	for _, p := range ask.Ports {
		for _, d := range p.Valves {
			if d >= e.Bore.Value {
				return &fault{"--valves", fmt.Errorf("a valve of %s does not fit a bore of %s", unit.Format(unit.Exactly(d), unit.LengthDim, "mm", 3), unit.Format(e.Bore, unit.LengthDim, "mm", 3)), "check both"}
			}
		}
	}
	if r := e.Ratio; r.Known && !(r.Value >= 2 && r.Value <= 40) {
		return &fault{"--ratio " + job.Ratio, errors.New("this is no compression ratio of an engine"), "give it as 9.5, from 2 to 40"}
	}
	return nil
}

// cardValves takes ports from their valves' sizes.
func (a *App) cardValves(job RigCardJob, r rig.Rig) ([]check.CardPort, error) {
	if job.PortVolume != "" {
		q, err := unit.Parse(job.PortVolume, unit.VolumeDim)
		if err != nil {
			return nil, &fault{"--port-volume", err, ""}
		}
		r.Port.Volume, r.Port.VolumeGuessed = q.Measured, false
	}
	ports, err := report.CardValves(job.Valves, r)
	if err != nil {
		return nil, &fault{"--valves", err, report.CardValvesHint}
	}
	return ports, nil
}

// cardRig takes a head's rig from the records.
func cardRig(ctx context.Context, s store.Store, id string, now time.Time, ask *check.CardJob, card *report.WallCard) error {
	if id == "" {
		return &fault{"--rig", errors.New("the head names no rig"), "--rig FILE"}
	}
	rec, err := s.Get(ctx, store.KindRig, id)
	if err != nil {
		return &fault{"--rig", err, "--rig FILE"}
	}
	kept, err := store.Read[head.Rig](rec)
	if err != nil {
		return err
	}
	card.Rig = kept.Is.Name
	if ask.Rig, err = rigfile.Read(strings.NewReader(kept.Is.File), kept.Is.Name); err != nil {
		return err
	}
	made, err := s.List(ctx, store.Query{Kind: store.KindCheck})
	if err != nil {
		return err
	}
	var results []check.Result
	for _, r := range made {
		e, err := store.Read[head.Check](r)
		var res check.Result
		if err == nil && e.Is.RigID == id && len(e.Is.Result) > 0 && json.Unmarshal(e.Is.Result, &res) == nil {
			results = append(results, res)
		}
	}
	leanOn(results, now, ask, card)
	return nil
}

// leanOn takes a rig as its checks say it is, and says until when they do.
func leanOn(results []check.Result, now time.Time, ask *check.CardJob, card *report.WallCard) {
	ask.Rig = check.Apply(ask.Rig, results, now)
	card.Lapses = report.CardLapses(check.Current(results, now))
}

func dayWords(t time.Time) string { return t.Format("2 January 2006") }

// job is the example as a head: an inline one of four valves a cylinder, as
// bookInExample books it in.
func (h exampleHead) job() head.Job {
	scheme := head.Scheme{Form: head.FormInline, Valves: 4, Bore: unit.Exactly(72e-3), Stroke: unit.Exactly(81.8e-3)}
	for i, p := range h.ports {
		if h.rows(p.name)[0] == i && strings.HasSuffix(p.name, string(head.Intake)) {
			scheme.Cylinders++
		}
		if strings.HasSuffix(p.name, string(head.Intake)) {
			scheme.IntakeHead = unit.Exactly(p.diameter)
		} else {
			scheme.ExhaustHead = unit.Exactly(p.diameter)
		}
	}
	j, _ := head.Layout(scheme) // the example's own figures; a fault leaves no ports, which the card refuses
	return j
}
