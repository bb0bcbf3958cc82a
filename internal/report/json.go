package report

import (
	"encoding/json"
	"io"
	"math"
	"strconv"

	"seatproof/leak"
	"seatproof/limit"
)

// Schema names the form of the JSON that [WriteJSON] writes.
const Schema = "seatproof/reading/1"

// figure is a number of the JSON: six significant digits, and null for what is
// not a number.
type figure float64

func (f figure) MarshalJSON() ([]byte, error) {
	x := float64(f)
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, x, 'g', 6, 64), nil
}

type jsonInterval struct {
	Median figure `json:"median"`
	Low    figure `json:"low"`
	High   figure `json:"high"`
}

type jsonRange struct {
	Low  figure `json:"low"`
	High figure `json:"high"`
}

type jsonLeak struct {
	AtVacuum       figure        `json:"at_vacuum_kpa"`
	Flow           *jsonInterval `json:"flow_cm3_min"`
	UpperLimitOnly bool          `json:"upper_limit_only"`
	IntervalOf     string        `json:"interval_of"`
}

type jsonSteady struct {
	Vacuum *figure       `json:"vacuum_kpa"`
	Flow   *jsonInterval `json:"flow_cm3_min"`
}

type jsonPhase struct {
	Name string `json:"name"`
	From figure `json:"from_s"`
	To   figure `json:"to_s"`
}

type jsonBudget struct {
	Input string `json:"input"`
	Share figure `json:"share"`
}

type jsonMessage struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// jsonLimit is what one rule allows the valves of the port.
type jsonLimit struct {
	Rule    limit.Kind `json:"rule"`
	Decides bool       `json:"decides"`
	Counts  bool       `json:"counts"`
	One     *figure    `json:"one_valve_cm3_min"`
	All     *figure    `json:"all_valves_cm3_min"`
}

type jsonReading struct {
	Schema         string         `json:"schema"`
	File           string         `json:"file"`
	Leak           jsonLeak       `json:"leak"`
	TestedAgain    *jsonRange     `json:"tested_again_cm3_min"`
	Edge           *jsonInterval  `json:"edge"`
	Over           *figure        `json:"over_limit_probability"`
	Share          *jsonInterval  `json:"opening_share"`
	Kind           *leak.Kind     `json:"kind"`
	NozzleDiameter *jsonInterval  `json:"nozzle_diameter_mm"`
	Gap            *jsonInterval  `json:"gap_um"`
	Steady         jsonSteady     `json:"steady"`
	Blanked        *figure        `json:"blanked_kpa"`
	Fall           *jsonInterval  `json:"fall_kpa_s"`
	Phases         []jsonPhase    `json:"phases"`
	Budget         []jsonBudget   `json:"budget"`
	Warnings       []jsonMessage  `json:"warnings"`
	Refusal        *jsonMessage   `json:"refusal"`
	Verdict        *limit.Verdict `json:"verdict"`
	Tests          int            `json:"tests"`
	Between        *jsonInterval  `json:"between_test_cv"`
	One            *jsonInterval  `json:"one_test_flow_cm3_min"`
	Narrows        *figure        `json:"one_more_test_narrows_to"`
	Repeats        []jsonReading  `json:"repeats"`
	Limits         []jsonLimit    `json:"limits"`
	OverAll        *figure        `json:"over_all_valves_probability"`
	TakenAs        *leak.Kind     `json:"leak_taken_as"`
	Version        string         `json:"version"`
}

// scaled turns an interval from SI into the unit of its name.
func scaled(i *leak.Interval, scale float64) *jsonInterval {
	if i == nil {
		return nil
	}
	return &jsonInterval{figure(i.Median * scale), figure(i.Low * scale), figure(i.High * scale)}
}

func newJSON(o *Outcome, version string) jsonReading {
	j := jsonReading{
		Schema: Schema, File: o.File, Version: version,
		Leak:   jsonLeak{AtVacuum: 50, IntervalOf: o.of()},
		Phases: []jsonPhase{}, Budget: []jsonBudget{}, Warnings: []jsonMessage{},
		Tests: o.Tests(), Repeats: []jsonReading{}, Limits: []jsonLimit{},
	}
	j.limits(o)
	for _, e := range o.Each {
		j.Repeats = append(j.Repeats, newJSON(e, version))
	}
	switch o.State() {
	case Unreadable:
		j.Refusal = &jsonMessage{"unreadable", o.Why(Style{}).String()}
		return j
	case Refused:
		j.Refusal = &jsonMessage{string(o.Reading.Refusal.Code), o.Why(Style{}).String()}
	}
	r := o.Reading
	between := r.Between()
	j.Between = scaled(&between, 1)
	if r.Refusal == nil {
		j.One = scaled(o.one(), cm3min)
		if ratio, known := r.OneMoreTest(); known {
			f := figure(ratio)
			j.Narrows = &f
		}
		j.Leak.Flow, j.Leak.UpperLimitOnly = scaled(r.Leak, cm3min), r.UpperLimitOnly
		if r.TestedAgain != nil {
			j.TestedAgain = &jsonRange{figure(r.TestedAgain.Low * cm3min), figure(r.TestedAgain.High * cm3min)}
		}
		if r.Kind != "" {
			j.Kind = &r.Kind
		}
		j.Edge, j.Share = scaled(r.Edge, 1), scaled(r.Share, 1)
		j.NozzleDiameter, j.Gap = scaled(r.NozzleDiameter, 1e3), scaled(r.Gap, 1e6)
		if o.Over != nil {
			f := figure(*o.Over)
			j.Over = &f
		}
		if o.Verdict != "" {
			j.Verdict = &o.Verdict
		}
	}
	if r.Steady != nil {
		v := figure(r.Steady.Vacuum.Median * kPa)
		j.Steady = jsonSteady{&v, scaled(r.Steady.Flow, cm3min)}
	}
	if r.Blanked != nil {
		f := figure(r.Blanked.Median * kPa)
		j.Blanked = &f
	}
	j.Fall = scaled(r.FallRate, kPa)
	for _, p := range r.Phases {
		j.Phases = append(j.Phases, jsonPhase{string(p.Name), figure(p.From), figure(p.To)})
	}
	for _, b := range r.Budget {
		j.Budget = append(j.Budget, jsonBudget{b.Input, figure(b.Share)})
	}
	for _, w := range r.Warnings {
		j.Warnings = append(j.Warnings, jsonMessage{string(w.Code), WarningMessage(Style{}, w).String()})
	}
	return j
}

// limits puts the limits side by side, the one that decides first; none where no
// limit was given.
func (j *jsonReading) limits(o *Outcome) {
	at := func(q float64) *figure {
		f := figure(q * cm3min)
		return &f
	}
	if d := o.Judged; d != nil {
		for i := range d.Limits {
			x := &d.Limits[i]
			row := jsonLimit{Rule: x.Kind, Decides: x.Decides, Counts: x.Counts}
			if x.One > 0 {
				row.One, row.All = at(x.One), at(x.All)
			}
			j.Limits = append(j.Limits, row)
		}
		if d.OverAll != nil {
			f := figure(*d.OverAll)
			j.OverAll = &f
		}
		if d.As != "" {
			j.TakenAs = &d.As
		}
	} else if l := o.Limit; l != nil {
		rule := limit.ByOwn
		if l.Workmanship {
			rule = limit.ByWorkmanship
		}
		j.Limits = append(j.Limits, jsonLimit{Rule: rule, Decides: true, Counts: true, One: at(l.Flow)})
	}
}

// WriteJSON writes one object for one outcome and an array, in the order
// given, for any other number. Figures are in the unit their name says; null
// stands for what is not known.
func WriteJSON(w io.Writer, outcomes []*Outcome, version string) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if len(outcomes) == 1 {
		return enc.Encode(newJSON(outcomes[0], version))
	}
	all := make([]jsonReading, len(outcomes))
	for i, o := range outcomes {
		all[i] = newJSON(o, version)
	}
	return enc.Encode(all)
}
