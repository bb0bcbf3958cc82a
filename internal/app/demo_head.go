package app

import (
	"errors"
	"sync"

	"seatproof/crosscheck"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
)

// elsewhere is what the leaks of the example cost its engine, and would show in other
// tests made in the usual way: what the sheets say of the same head.
func elsewhere(j *head.Job, ports []report.PortRead, r rig.Rig, style report.Style) (*report.Elsewhere, error) {
	ask := report.LossOfHead(j, ports)
	ask.Share = j.Limit.CostShare()
	out := &report.Elsewhere{}
	for _, p := range ports {
		x := report.OtherPortOf(j, p)
		x.Name = p.Card.Name
		out.Ports = append(out.Ports, x)
	}
	ways := report.UsualWays(r, report.OtherAir(out.Ports))
	for _, n := range report.CylindersOf(j) {
		out.Cylinders = append(out.Cylinders, report.OtherCylinderOf(j, n, out.Ports))
	}
	out.Ways = ways
	var all [2]error
	var wg sync.WaitGroup // each a fraction of a second
	wg.Go(func() { out.Loss, all[0] = report.CylinderCosts(ask) })
	wg.Go(func() {
		g, _ := j.Given()
		all[1] = ways.Forecast(out.Cylinders, out.Ports, style, func(c *report.OtherCylinder) (*crosscheck.CrankingForecast, error) {
			f, err := crosscheck.Cranking{Engine: g}.Forecast(c.Leaks...)
			return &f, err
		})
	})
	wg.Wait()
	return out, errors.Join(all[:]...)
}
