package app

import (
	"errors"
	"fmt"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/limit"
	"seatproof/unit"
)

// takeEngine lets both limits decide where the engine is said: of a head of one
// cylinder that has its valves. A figure of one's own goes before both, workmanship
// asked for sets cost aside.
func (job *ReadJob) takeEngine(q *question) error {
	if job.Bore == "" {
		if job.Stroke+job.Ratio+job.Valves != "" {
			return &fault{"--bore", errors.New("stroke, compression ratio or valves are given, and no bore"), "give it too"}
		}
		return nil
	}
	ask := LossJob{Bore: job.Bore, Stroke: job.Stroke, Ratio: job.Ratio}
	e, err := ask.askedEngine()
	if err != nil {
		return err
	}
	if job.Valves == "" {
		return &fault{"--valves", errors.New("the valves of a cylinder share what it can spare, and none is said"), "give " + report.CardValvesHint}
	}
	kinds, err := report.CardValves(job.Valves, q.rig)
	if err != nil {
		return &fault{"--valves", err, report.CardValvesHint}
	}
	j := &head.Job{Engine: e}
	j.Limit.Strict = q.strict
	j.Limit.NoCost = q.limit.workmanship
	if q.limit.flow > 0 {
		j.Limit.Basis, j.Limit.Flow = limit.ByOwn, unit.Exactly(q.limit.flow)
	}
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = strings.ToLower(strings.TrimSuffix(k.Name, " port"))
		side := head.Intake
		if strings.Contains(names[i], string(head.Exhaust)) {
			side = head.Exhaust
		}
		p := head.Port{ID: fmt.Sprint("p", i+1), Side: side, Cylinders: []int{1}}
		for _, d := range k.Valves {
			v := head.Valve{ID: fmt.Sprint("v", len(j.Valves)+1), Cylinder: 1, Side: side, Head: unit.Exactly(d)}
			j.Valves, p.Valves = append(j.Valves, v), append(p.Valves, v.ID)
		}
		j.Ports = append(j.Ports, p)
	}
	q.limit = limitRule{head: j, pump: pumpHere(q.rig), costs: new(costs), port: func(name string) (*head.Port, error) {
		for i := range j.Ports {
			if len(j.Ports) == 1 || strings.Contains(strings.ToLower(name), names[i]) {
				return &j.Ports[i], nil
			}
		}
		return nil, &fault{"--valves", fmt.Errorf("the recording says %q of its port, which is none of %s", name, strings.Join(names, ", ")), "say the port in the file (# port: cylinder 1 intake), or give --valves of this port alone"}
	}}
	return nil
}
