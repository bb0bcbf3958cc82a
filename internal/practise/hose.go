package practise

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"seatproof/gas"
)

// HoseLength is how long the hose of the practice rig is [m]: its owner measures it.
const HoseLength = 1.5

const (
	valveSlot  = 5e-3 // m, width and length of what leaks back through the valve, as in the forward model
	hoseStates = 300
	soundBore  = 4e-3 // m: it matters only where the gauge sits at the pump
)

// hose is a narrow hose between port and pump, as a laminar or turbulent pipe
// (docs/model.md, 1): at each pressure at the port [Pa] what the pump draws [kg/s] and
// the pressure at its own end. Worked out from the pump backwards, so that nothing
// needs solving.
type hose struct {
	port, pump, flow []float64 // rising
}

// newHose takes the bore with which a hose acts [m] and what the pump draws [kg/s] at a
// pressure at its inlet [Pa].
func newHose(bore float64, pump func(p float64) float64) (*hose, error) {
	pipe := gas.Pipe{Diameter: bore, Length: HoseLength}
	h := &hose{}
	for i := range hoseStates {
		s := float64(i) / (hoseStates - 1)
		p := air * (1e-3 + (1-1e-3)*s)
		flow := pump(p)
		at := p
		if flow > 0 {
			up, err := pipe.Upstream(flow, p, airTemp)
			if err != nil {
				return nil, fmt.Errorf("practice rig: fault %s: a bore of %.3g mm: %w", NarrowHose, bore*1e3, err)
			}
			at = up
		}
		h.port, h.pump, h.flow = append(h.port, at), append(h.pump, p), append(h.flow, flow)
		if at > air {
			break
		}
	}
	if !slices.IsSorted(h.port) || len(h.port) < 3 || !(h.flow[len(h.flow)-1] > 0) {
		return nil, fmt.Errorf("practice rig: fault %s: through a bore of %.3g mm the pump draws nothing", NarrowHose, bore*1e3)
	}
	return h, nil
}

// drawn is what the pump draws [kg/s] at a pressure at the port [Pa].
func (h *hose) drawn(port float64) float64 { return h.at(h.flow, port) }

// pumpEnd is the pressure at the pump's end [Pa] then.
func (h *hose) pumpEnd(port float64) float64 { return h.at(h.pump, port) }

func (h *hose) at(y []float64, port float64) float64 {
	i := sort.SearchFloat64s(h.port, port)
	if i == 0 {
		return y[0]
	}
	i = min(i, len(y)-1)
	f := math.Min(1, (port-h.port[i-1])/(h.port[i]-h.port[i-1]))
	return y[i-1] + f*(y[i]-y[i-1])
}

// atGauge is the vacuum where the gauge sits [Pa], of that at the port: while the pump
// draws, the hose keeps some from a gauge at the plate.
func (b *Bench) atGauge(port float64) float64 {
	if b.hose == nil || !b.pumping {
		return port
	}
	for _, f := range b.set.Faults {
		if f.Name == GaugeAtPump {
			return air - b.hose.pumpEnd(air-port)
		}
	}
	return port
}
