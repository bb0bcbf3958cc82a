package report

import (
	"encoding/json"
	"io"
	"math"

	"seatproof/engine"
	"seatproof/unit"
)

// LossSchema names the form of the JSON of the command loss.
const LossSchema = "seatproof/loss/1"

type jsonLoss struct {
	Schema    string             `json:"schema"`
	Engine    map[string]jsonGot `json:"engine"`
	Room      figure             `json:"room_kpa"`
	Cylinders []jsonCylinder     `json:"cylinders"`
	Limit     jsonCostLimit      `json:"limit"`
	Curve     []jsonCurvePoint   `json:"curve"`
	Others    []jsonOther        `json:"other_cylinders"`
	Guessed   []jsonLossGuess    `json:"guessed"`
	Version   string             `json:"version"`
}

type jsonCylinder struct {
	Name     string         `json:"name"`
	Leaks    []jsonLossLeak `json:"leaks"`
	Untold   []string       `json:"untold"`
	Together *jsonInterval  `json:"leak_cm3_min"`
	Cranking *jsonRun       `json:"cranking"`
	Idle     *jsonRun       `json:"idle"`
	Top      *jsonRun       `json:"top_speed"`
	Over     *figure        `json:"over_limit_probability"`
}

type jsonGot struct {
	Value   figure `json:"value"`
	Spread  figure `json:"spread"`
	Guessed bool   `json:"guessed"`
}

type jsonLossLeak struct {
	Name  string       `json:"name"`
	Kind  string       `json:"kind"`
	Flow  jsonInterval `json:"flow_cm3_min"`
	Upper bool         `json:"upper_limit_only"`
}

type jsonRun struct {
	Peak    *jsonPair    `json:"peak_kpa,omitempty"`
	Work    *jsonPair    `json:"work_j,omitempty"`
	Trapped jsonInterval `json:"trapped_g"`
	Less    jsonInterval `json:"trapped_lost_share"`
	Share   jsonInterval `json:"lost_share"`
}

type jsonPair struct {
	Without jsonInterval `json:"without"`
	With    jsonInterval `json:"with"`
}

type jsonCostLimit struct {
	Share   figure       `json:"share"`
	Seep    jsonInterval `json:"seep_cm3_min"`
	Opening jsonInterval `json:"opening_cm3_min"`
}

type jsonCurvePoint struct {
	Flow    figure       `json:"flow_cm3_min"`
	Opening jsonInterval `json:"opening_lost_share"`
	Seep    jsonInterval `json:"seep_lost_share"`
}

type jsonOther struct {
	Swept   figure        `json:"swept_cm3"`
	Share   *jsonInterval `json:"lost_share"`
	Seep    figure        `json:"seep_limit_cm3_min"`
	Opening figure        `json:"opening_limit_cm3_min"`
}

type jsonLossGuess struct {
	Input   string  `json:"input"`
	Widened *figure `json:"widened"`
}

// WriteLossJSON writes one object; figures are in the unit that their name ends
// with.
func WriteLossJSON(w io.Writer, l *Loss, version string) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(l.json(version))
}

// lossUnits are the units of the engine's figures in JSON, by their key.
var lossUnits = map[string]string{"bore": "bore_mm", "stroke": "stroke_mm", "rod": "rod_mm", "ratio": "compression_ratio", "intake_closes": "intake_closes_deg", "cranking": "cranking_r_min", "idle": "idle_r_min", "top_speed": "top_speed_r_min"}

func (l *Loss) json(version string) jsonLoss {
	est := func(e engine.Estimate, k float64) jsonInterval {
		return jsonInterval{figure(e.Median * k), figure(e.Low * k), figure(e.High * k)}
	}
	j := jsonLoss{
		Schema: LossSchema, Version: version, Room: figure(l.Ask.Room * kPa),
		Engine: map[string]jsonGot{}, Cylinders: []jsonCylinder{}, Curve: []jsonCurvePoint{}, Others: []jsonOther{}, Guessed: []jsonLossGuess{},
	}
	for _, in := range lossInputs {
		m := *in.of(&l.Ask.Engine)
		u, _ := unit.UnitOf(in.unit)
		got := jsonGot{Value: figure(u.FromSI(m.Value)), Spread: figure(u.FromSIDifference(m.Spread))}
		for _, k := range l.Ask.Guessed {
			got.Guessed = got.Guessed || k == in.key
		}
		got.Guessed = got.Guessed || l.Ask.Square && (in.key == "bore" || in.key == "stroke")
		j.Engine[lossUnits[in.key]] = got
	}
	limit := func(q, sd float64) jsonInterval {
		return jsonInterval{figure(q * cm3min), figure(q * math.Exp(-1.96*sd) * cm3min), figure(q * math.Exp(1.96*sd) * cm3min)}
	}
	j.Limit = jsonCostLimit{figure(l.Ask.Share), limit(l.Limit.Seep, l.Limit.SeepSD), limit(l.Limit.Opening, l.Limit.OpeningSD)}
	n := 0
	for _, k := range l.Ask.Cylinders {
		c := jsonCylinder{Name: k.Name, Leaks: []jsonLossLeak{}, Untold: append([]string{}, k.Untold...)}
		for _, x := range k.Leaks {
			f := flowOf(x)
			c.Leaks = append(c.Leaks, jsonLossLeak{x.Name, string(x.Kind), *scaled(&f, cm3min), x.Upper})
		}
		if len(k.Leaks) > 0 {
			x := l.Cylinders[n]
			n++
			over := figure(x.Over)
			c.Together, c.Over = scaled(&x.Flow, cm3min), &over
			run := func(r engine.RunLoss) *jsonRun {
				return &jsonRun{Share: est(r.Share, 1), Trapped: est(r.Trapped, 1e3), Less: est(r.TrappedShare, 1)}
			}
			c.Cranking, c.Idle, c.Top = run(x.Cost.Cranking), run(x.Cost.Idle), run(x.Cost.Top)
			c.Cranking.Peak = &jsonPair{est(x.Cost.Cranking.Without, kPa), est(x.Cost.Cranking.With, kPa)}
			c.Idle.Work = &jsonPair{est(x.Cost.Idle.Without, 1), est(x.Cost.Idle.With, 1)}
			c.Top.Work = &jsonPair{est(x.Cost.Top.Without, 1), est(x.Cost.Top.With, 1)}
		}
		j.Cylinders = append(j.Cylinders, c)
	}
	for i, q := range l.Curve.Flows {
		j.Curve = append(j.Curve, jsonCurvePoint{figure(q * cm3min), est(l.Curve.Opening[i], 1), est(l.Curve.Seep[i], 1)})
	}
	for _, o := range l.Others {
		x := jsonOther{Swept: figure(o.Swept * 1e6), Seep: figure(o.Limit.Seep * cm3min), Opening: figure(o.Limit.Opening * cm3min)}
		if l.worst() != nil && !o.Gone {
			e := est(o.Lost, 1)
			x.Share = &e
		}
		j.Others = append(j.Others, x)
	}
	if len(l.Widest) == 0 {
		for _, k := range l.Ask.Guessed {
			j.Guessed = append(j.Guessed, jsonLossGuess{Input: k})
		}
	}
	for _, g := range l.Widest {
		w := figure(g.Widened)
		j.Guessed = append(j.Guessed, jsonLossGuess{g.Key, &w})
	}
	return j
}
