package session

import (
	"math"

	"seatproof/leak"
	"seatproof/limit"
	"seatproof/rig"
	"seatproof/trace"
)

// Plan is what a run of tests sets out with. It is not changed once begun.
type Plan struct {
	Run     string         `json:"run"`     // its identity
	Started int64          `json:"started"` // ms since 1970 UTC, at time 0 of the session
	Rig     rig.Rig        `json:"rig"`
	Sources []SourcePlan   `json:"sources"` // the first is judged, the others are recorded beside it
	Ports   []Port         `json:"ports"`   // in the order they are to be tested
	Known   *leak.Interval `json:"known,omitempty"`
	Strict  bool           `json:"strict,omitempty"`
	Manner  Manner         `json:"manner"`
	Held    rig.Held       `json:"held,omitempty"`
	Steps   []CheckStep    `json:"steps,omitempty"` // of a check of the rig; with them there are no ports
}

// SourcePlan is what is known of a source of samples.
type SourcePlan struct {
	Name  string     `json:"name"`
	Reads trace.Kind `json:"reads"`
	Step  float64    `json:"step,omitempty"` // Pa, its resolution; 0: not known
}

// Port is a port to be tested.
type Port struct {
	ID    string  `json:"id"`
	Name  string  `json:"name"`
	Limit float64 `json:"limit"`         // m³/s of free air at 50 kPa; 0: none
	All   float64 `json:"all,omitempty"` // m³/s, the limit of all its valves together; 0: as Limit
	// Limits are those of its valves, for a leak of which the trace tells how it
	// flows; Limit and All take it as a seep. None: they stand for any leak.
	Limits limit.Port `json:"limits,omitempty"`

	Volume float64 `json:"volume,omitempty"` // m³; 0: as the rig says
	Spread float64 `json:"spread,omitempty"` // m³ that it may be off (95 %); 0: as much as the rig's
}

// Manner is how a run goes about it, times in s. Each 0 takes the default.
type Manner struct {
	Lead        float64 `json:"lead,omitempty"`          // of vented gauge kept before a pull
	Tail        float64 `json:"tail,omitempty"`          // of vented gauge kept after a hold
	SteadyFor   float64 `json:"steady_for,omitempty"`    // steady before the call to shut off
	Hold        float64 `json:"hold,omitempty"`          // longest that is useful
	Call        float64 `json:"call,omitempty"`          // between two calls of the count in a hold
	PumpTooLong float64 `json:"pump_too_long,omitempty"` // steady with the pump on before it is noticed
	PumpAgain   float64 `json:"pump_again,omitempty"`    // before it is said again
	Stale       float64 `json:"stale,omitempty"`         // after which a reading is too old to be shown
}

// defaults returns m with what was not set. Common practice, no source.
func (m Manner) defaults() Manner {
	for _, d := range []struct {
		to   *float64
		with float64
	}{{&m.Lead, 4}, {&m.Tail, 1}, {&m.SteadyFor, 2}, {&m.Hold, 30}, {&m.Call, 5}, {&m.PumpTooLong, 45}, {&m.PumpAgain, 20}, {&m.Stale, 1}} {
		if !(*d.to > 0) {
			*d.to = d.with
		}
	}
	return m
}

// smallest is the smallest limit of the ports [m³/s]; 0: none has one.
func (p *Plan) smallest() float64 {
	s := 0.0
	for _, port := range p.Ports {
		if port.Limit > 0 && (s == 0 || port.Limit < s) {
			s = port.Limit
		}
	}
	return s
}

// port returns the index of a port; -1: there is none.
func (p *Plan) port(id string) int {
	for i := range p.Ports {
		if p.Ports[i].ID == id {
			return i
		}
	}
	return -1
}

// valid says whether a figure of a sensor can be one.
func valid(x float64) bool { return math.Abs(x) < 1e8 }
