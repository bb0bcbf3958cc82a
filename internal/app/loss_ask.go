package app

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/leak"
	"seatproof/unit"
)

// LossJob is what a person asks of the command loss. Texts are as typed.
type LossJob struct {
	Traces   []string // recordings of the cylinder's ports, one each
	Rig      string   // rig file of the recordings; "": none
	SamePort bool     // the recordings are tests of one port
	Leaks    []string // "60 ± 10 cm3/min", one for each port of the cylinder
	Kinds    []string // how they flow, opening, seep or not-known: none, one for all, or one for each leak

	Bore, Stroke, Swept, Rod, Ratio, Chamber string
	IntakeCloses, Cranking, Idle, TopSpeed   string

	Seat     string // "27 mm x 0.3 mm"
	Share    string // that all valves of a cylinder may cost; "": the head's, else 2 %
	Air      string
	Head     string // number or identity in the records, or a file that export wrote
	Cylinder int    // of the head; 0: all
	Data     string
	JSON     bool
	Full     bool
	Chart    string // SVG file
	Unit     string // of pressures
	Now      time.Time
}

// What speeds a crankshaft can have; beyond, a figure is a slip. Common practice,
// no source.
const (
	slowest = 20 * 2 * math.Pi / 60    // rad/s
	fastest = 22000 * 2 * math.Pi / 60 // rad/s
)

// askedEngine reads the engine's figures. Each must be one by itself, and those of
// a cylinder must go together.
func (job *LossJob) askedEngine() (head.Engine, error) {
	e := head.Engine{Cylinders: 1}
	for _, f := range []struct {
		flag, text string
		dim        unit.Dimension
		to         *unit.Measured
	}{
		{"--bore", job.Bore, unit.LengthDim, &e.Bore},
		{"--stroke", job.Stroke, unit.LengthDim, &e.Stroke},
		{"--rod", job.Rod, unit.LengthDim, &e.Rod},
		{"--intake-closes", job.IntakeCloses, unit.AngleDim, &e.IntakeCloses},
		{"--cranking", job.Cranking, unit.SpeedDim, &e.Cranking},
		{"--idle", job.Idle, unit.SpeedDim, &e.Idle},
		{"--top-speed", job.TopSpeed, unit.SpeedDim, &e.TopSpeed},
	} {
		m, err := askedFigure(f.flag, f.text, f.dim)
		if err != nil {
			return e, err
		}
		*f.to = m
		if v := m.Value; f.dim == unit.SpeedDim && m.Known && (v < slowest || v > fastest) {
			return e, &fault{f.flag, fmt.Errorf("%s is no speed of a crankshaft", strings.TrimSpace(f.text)), "give it in r/min, from 20 to 22000"}
		}
	}
	var swept unit.Measured
	var err error
	if swept, err = askedFigure("--swept", job.Swept, unit.VolumeDim); err != nil {
		return e, err
	}
	switch {
	case swept.Known && (e.Bore.Known || e.Stroke.Known):
		return e, &fault{"--swept", errors.New("bore or stroke is given as well, and both say the same thing"), "give bore and stroke, or what the piston sweeps"}
	case swept.Known && !(swept.Value >= 5e-6 && swept.Value <= 5e-3):
		return e, &fault{"--swept", fmt.Errorf("%s is no cylinder", strings.TrimSpace(job.Swept)), "give what one piston sweeps, from 5 cm3 to 5 L: the engine's size over its cylinders"}
	case swept.Known:
		// bore and stroke alike: d = (4 V/pi)^(1/3), and the ± of V = pi/4 d² d parted
		// so that it comes out again
		d := math.Cbrt(4 / math.Pi * swept.Value)
		s := swept.Spread / swept.Value / math.Sqrt(5) * d
		e.Bore, e.Stroke = unit.About(d, s), unit.About(d, s)
	}
	if e.CompressionRatio, err = job.askedRatio(); err != nil {
		return e, err
	}
	chamber, err := askedFigure("--chamber", job.Chamber, unit.VolumeDim)
	switch {
	case err != nil:
		return e, err
	case !chamber.Known:
	case e.CompressionRatio.Known:
		return e, &fault{"--chamber", errors.New("a compression ratio is given as well, and both say the same thing"), "give one of the two"}
	case !e.Bore.Known || !e.Stroke.Known:
		return e, &fault{"--chamber", errors.New("it makes a compression ratio with bore and stroke only"), "give both, or --ratio"}
	default:
		if e.CompressionRatio, err = ratioOf(e.Bore, e.Stroke, chamber); err != nil {
			return e, &fault{"--chamber", err, "give what is left above the piston at its top, a tenth of what it sweeps as a rule"}
		}
	}
	if !e.Bore.Known {
		if e.Stroke.Known {
			return e, &fault{"--bore", errors.New("a stroke alone makes no cylinder"), "give the bore too"}
		}
		return e, &fault{"loss", errors.New("nothing says how large the cylinder is"), "give --bore \"72 mm\", or --swept \"300 cm3\", or --head"}
	}
	for _, f := range e.Validate() {
		if f.Ask { // odd, and a person may mean it: said with the answer
			continue
		}
		return e, &fault{lossFlags[f.Field], errors.New(f.What), maybeIt(f.Maybe)}
	}
	return e, nil
}

func maybeIt(was string) string {
	if was == "" {
		return ""
	}
	return "was it " + was + "?"
}

// lossFlags are the flags of an engine's fields.
var lossFlags = map[string]string{
	"bore": "--bore", "stroke": "--stroke", "rod": "--rod", "compression_ratio": "--ratio", "intake_closes": "--intake-closes",
	"cranking": "--cranking", "idle": "--idle", "top_speed": "--top-speed",
}

// askedFigure reads a figure that may be left out.
func askedFigure(flag, text string, dim unit.Dimension) (unit.Measured, error) {
	if strings.TrimSpace(text) == "" {
		return unit.Measured{}, nil
	}
	q, err := unit.Parse(text, dim)
	if err != nil {
		return unit.Measured{}, &fault{flag, err, ""}
	}
	if !(q.Value > 0) {
		return unit.Measured{}, &fault{flag, fmt.Errorf("%s can't be", strings.TrimSpace(text)), "it must be above zero"}
	}
	if q.Spread >= q.Value {
		return unit.Measured{}, &fault{flag, fmt.Errorf("the ± of %s is as large as the figure", strings.TrimSpace(text)), "leave the figure out: it is guessed then"}
	}
	return q.Measured, nil
}

// askedRatio reads the compression ratio: 9.5, 9.5:1, 9.5 ± 0.3.
func (job *LossJob) askedRatio() (unit.Measured, error) {
	text := strings.TrimSpace(job.Ratio)
	if text == "" {
		return unit.Measured{}, nil
	}
	if a, b, ok := strings.Cut(text, ":"); ok && strings.TrimSpace(b) == "1" {
		text = strings.TrimSpace(a)
	}
	q, err := unit.ParseIn(text, unit.RatioDim, "1")
	if err != nil {
		return unit.Measured{}, &fault{"--ratio", err, "write it as 9.5"}
	}
	if !(q.Value > 1) {
		return unit.Measured{}, &fault{"--ratio", fmt.Errorf("a compression ratio of %s leaves no room above the piston to compress into", job.Ratio), "it is above 1, as 9.5"}
	}
	return q.Measured, nil
}

// ratioOf returns the compression ratio of a cylinder and what is left above the
// piston [m³]: 1 + swept/left.
func ratioOf(bore, stroke, left unit.Measured) (unit.Measured, error) {
	swept := math.Pi / 4 * bore.Value * bore.Value * stroke.Value
	if left.Value >= swept {
		return unit.Measured{}, fmt.Errorf("%s cm³ above the piston is more than the %s cm³ that it sweeps: nothing is compressed", unit.Significant(left.Value*1e6, 3), unit.Significant(swept*1e6, 3))
	}
	r := swept / left.Value
	rel := math.Sqrt(4*sq(bore.Spread/bore.Value) + sq(stroke.Spread/stroke.Value) + sq(left.Spread/left.Value))
	return unit.About(1+r, r*rel), nil
}

func sq(x float64) float64 { return x * x }

// askedLeaks makes draws of leaks that were given as figures.
func (job *LossJob) askedLeaks() ([]report.LossLeak, error) {
	kinds, err := job.askedKinds()
	if err != nil {
		return nil, err
	}
	var all []report.LossLeak
	tight := true
	for i, text := range job.Leaks {
		q, err := unit.Parse(text, unit.FlowDim)
		if err != nil {
			return nil, &fault{"--leak", err, "write a leak rate at 50 kPa vacuum, such as \"60 ± 10 cm3/min\""}
		}
		if !(q.Value >= 0) {
			return nil, &fault{"--leak", fmt.Errorf("a leak of %s can't be", strings.TrimSpace(text)), "give one above zero, or 0 for a port that is tight"}
		}
		tight = tight && q.Value == 0
		name := ""
		if len(job.Leaks) > 1 {
			name = "leak " + strconv.Itoa(i+1)
		}
		all = append(all, report.LossLeak{Name: name, Kind: kinds[i], Draws: report.LeakDraws(q.Measured, kinds[i])})
	}
	if tight && len(all) > 0 {
		none := strings.TrimSpace(job.Leaks[0])
		return nil, &fault{"--leak", fmt.Errorf("a leak of %s costs nothing", none), "give one above zero; 0 is taken for a tight port beside one that leaks"}
	}
	return all, nil
}

// askedKinds reads how each leak flows.
func (job *LossJob) askedKinds() ([]leak.Kind, error) {
	n := len(job.Leaks)
	if k := len(job.Kinds); k > 1 && k != n {
		return nil, &fault{"--kind", fmt.Errorf("it is given %d times, and --leak %d times", k, n), "give one for all leaks, or one for each in their order"}
	}
	out := make([]leak.Kind, max(n, len(job.Kinds)))
	for i := range out {
		text := ""
		switch len(job.Kinds) {
		case 0:
		case 1:
			text = job.Kinds[0]
		default:
			text = job.Kinds[i]
		}
		var err error
		if out[i], err = askedKind(text); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// askedKind reads how a leak flows.
func askedKind(text string) (leak.Kind, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "", "not-known", "not known":
		return leak.KindUnresolved, nil
	case "opening":
		return leak.KindOpening, nil
	case "seep":
		return leak.KindSeep, nil
	}
	return "", &fault{"--kind " + text, errors.New("a leak does not flow so"), "opening, seep or not-known"}
}

// askedShare reads what all valves of a cylinder may cost; 0: the usual share.
func (job *LossJob) askedShare() (float64, error) {
	if strings.TrimSpace(job.Share) == "" {
		return 0, nil
	}
	q, err := unit.ParseIn(job.Share, unit.RatioDim, "%")
	if err != nil {
		return 0, &fault{"--share", err, "write it as \"2 %\""}
	}
	if !(q.Value >= 0.001 && q.Value <= 0.5) {
		return 0, &fault{"--share", fmt.Errorf("%s can't be a limit", job.Share), "from 0.1 % to 50 % of the cranking pressure"}
	}
	return q.Value, nil
}
