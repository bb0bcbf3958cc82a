package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"seatproof/check"
	"seatproof/internal/report"
	"seatproof/internal/rigfile"
	"seatproof/internal/web"
)

// RigChooseJob is what a person asks of the command rig choose. Texts are as
// typed.
type RigChooseJob struct {
	Parts  string // parts list
	JSON   bool
	Full   bool
	Unit   string // of vacuums
	Chart  string // SVG file: reading against leak
	Ranges string // SVG file: leaks told apart
	Sketch string // SVG file
	Rig    string // rig file to write of the best
	Head   string // file that an export wrote: its ports in the place of the list's
}

// RigChoose weighs the rigs that a list of parts can make, best first, and says
// why; chart and sketch go to files. Errors are written to Stderr.
func (a *App) RigChoose(ctx context.Context, job RigChooseJob) Exit {
	fail := func(err error) Exit {
		a.complain(err)
		return Wrong
	}
	style := report.Style{Full: job.Full}
	if job.Unit != "" {
		u, ok := report.UnitNamed(job.Unit)
		if !ok {
			return fail(&fault{"--unit", fmt.Errorf("unknown vacuum unit %q", job.Unit), "take one of " + strings.Join(report.VacuumUnits, ", ")})
		}
		style.Unit = u
	}
	f, err := os.Open(job.Parts)
	if err != nil {
		return fail(&fault{"parts list", err, "docs/rig.md has one to begin with"})
	}
	defer f.Close()
	parts, err := rigfile.ReadParts(f, job.Parts)
	if err != nil {
		return fail(err)
	}
	if job.Head != "" {
		j, err := exportedHead(ctx, job.Head)
		if err != nil {
			return fail(&fault{"--head", err, "seatproof export writes one"})
		}
		if parts.Ports = web.ChoosePorts(&j); len(parts.Ports) == 0 {
			return fail(&fault{"--head " + job.Head, errors.New("none of its ports has a valve"), ""})
		}
		if !parts.Engine.Bore.Known {
			parts.Engine = report.EngineLimit(&j)
		}
	}
	choice, err := check.Choose(parts)
	if err != nil {
		return fail(&fault{job.Parts, err, ""})
	}
	chosen := report.Choice(choice, style)
	if job.JSON {
		enc := json.NewEncoder(a.Stdout)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		err = enc.Encode(chosen)
	} else {
		err = report.WriteChoice(a.Stdout, chosen, style)
	}
	if err != nil {
		return fail(err)
	}
	for _, d := range []struct {
		flag, name string
		fill       func(io.Writer) error
	}{
		{"--chart", job.Chart, func(w io.Writer) error { return report.WriteChoiceChart(w, choice, style) }},
		{"--ranges", job.Ranges, func(w io.Writer) error { return report.WriteChoiceRanges(w, choice, style) }},
		{"--rig", job.Rig, func(w io.Writer) error { return rigfile.Write(w, choice.Rig(&choice.Rigs[0])) }},
		{"--sketch", job.Sketch, func(w io.Writer) error { return report.WritePlumbing(w, choice, style) }},
	} {
		if d.name == "" || len(choice.Rigs) == 0 {
			continue
		}
		if err := writeFile(d.name, d.fill); err != nil {
			return fail(&fault{d.flag + " " + d.name, err, "name a file that can be written"})
		}
	}
	if len(choice.Rigs) == 0 {
		return Unanswered
	}
	return Answered
}
