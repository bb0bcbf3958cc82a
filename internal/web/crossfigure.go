package web

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"seatproof/crosscheck"
	"seatproof/engine"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/unit"
)

func flowFigure(i crosscheck.Interval) string {
	return report.Figure(i.Median*6e7, 2) + " cm³/min (" + report.Figure(i.Low*6e7, 2) + " to " + report.Figure(i.High*6e7, 2) + ")"
}

// boundWords is what an observed figure says about the leak.
func boundWords(b crosscheck.Bound) string {
	switch {
	case b.UpperOnly && math.IsInf(b.High, 1), b.LowerOnly && b.Low == 0:
		return "nothing about its size"
	case b.UpperOnly:
		return "less than " + report.Figure(b.High*6e7, 2) + " cm³/min"
	case b.LowerOnly:
		return "more than " + report.Figure(b.Low*6e7, 2) + " cm³/min"
	}
	return flowFigure(b.Interval)
}

// inputFault puts an error of package crosscheck at the field it is of; at is what
// the request calls a field of another name, in the unit of what was typed.
func inputFault(f *faults, err error, at map[string]string, in string) {
	var wrong *crosscheck.InputError
	if !errors.As(err, &wrong) {
		f.add("", upper(err.Error())+".", "")
		return
	}
	field := wrong.Field
	if to, ok := at[field]; ok {
		field = to
	}
	what := wrong.What
	if size, err := unit.ToSI(1, in); err == nil {
		what = wrong.In(in, size)
	}
	f.add(field, upper(what)+".", "")
}

// typedIn is the unit in which a figure was typed; a bare one is in the field's.
func typedIn(text string, dim unit.Dimension, field string) string {
	if q, err := unit.ParseIn(text, dim, field); err == nil && q.Unit != "" {
		return q.Unit
	}
	return field
}

// withUnit writes a bare figure with the unit of the field it was typed in, so that it
// says the same when the field shows another. What can't be read is left as it is.
func withUnit(text string, dim unit.Dimension, field string) string {
	var bare *unit.MissingUnitError
	if _, err := unit.Parse(text, dim); !errors.As(err, &bare) {
		return text
	}
	is, err := unit.ParseIn(text, dim, field)
	if err != nil {
		return text
	}
	figure, spread, _ := strings.Cut(text, "±")
	for _, full := range []string{text + " " + field, strings.TrimSpace(figure) + " " + field + " ±" + spread} {
		if q, err := unit.Parse(full, dim); err == nil && q.Measured == is.Measured {
			return full
		}
	}
	return unit.Plain(is.Measured, dim, field)
}

// crankingOf is what a cranking gauge shows on a cylinder, kept since it takes a
// while; nil, and what is missing, where the engine is not known.
func (s *Server) crankingOf(j *head.Job, c *otherCylinder) (*crosscheck.CrankingForecast, string, error) {
	g, _ := j.Given()
	f, err := s.cranked.of([]any{g, c.Leaks}, func() (crosscheck.CrankingForecast, error) {
		return crosscheck.Cranking{Engine: g}.Forecast(c.Leaks...)
	})
	var wrong *engine.Fault
	switch {
	case errors.As(err, &wrong):
		return nil, "The cranking gauge can’t be forecast: " + fmt.Sprint(err) + ".", nil
	case err != nil:
		return nil, "", err
	}
	return &f, "", nil
}

// gaugeSays is what the forecast takes of a cranking gauge.
const gaugeSays = "Cranking gauge: peak after enough turns; its hose and fitting up to the check valve count as 0.3 to 5 cm³ of chamber, a guess, which lowers the reading most on a small cylinder."

// otherLine is the sheet in a line.
func otherLine(o *otherShown) string {
	n := 0
	for i := range o.Ports {
		if o.Ports[i].Known != nil {
			n++
		}
	}
	if n == 0 {
		return "No port has a leak rate yet: test one, and what it would show elsewhere stands here."
	}
	return fmt.Sprintf("What the leaks of %d of %d ports would show in other tests.", n, len(o.Ports))
}

// otherSummary is what the worst cylinder and port would show, in a line.
func otherSummary(o *otherShown) string {
	var worst *otherCylinder
	for i := range o.Cylinders {
		if c := &o.Cylinders[i]; len(c.LeakDown) > 0 && (worst == nil || c.Loses > worst.Loses) {
			worst = c
		}
	}
	var wet *otherPort
	for i := range o.Ports {
		if p := &o.Ports[i]; len(p.Liquids) > 0 && (wet == nil || p.Liquids[0].After < wet.Liquids[0].After) {
			wet = p
		}
	}
	if worst == nil || wet == nil {
		return ""
	}
	says := fmt.Sprintf("Leak-down: cylinder %d would show least, %s through %s.", worst.Cylinder, worst.LeakDown[0].Figure, o.Restricts[0])
	if c := worst.Cranking; c != nil {
		says += fmt.Sprintf(" Cranking gauge there %s, tight %s.", c.With.Figure, c.Without.Figure)
	}
	drop := wet.Liquids[0].Drop
	when := "no drop of " + o.Liquids[0].Word + " anywhere"
	if !math.IsInf(wet.Liquids[0].After, 1) {
		when = "first drop of " + o.Liquids[0].Word + " at " + wet.Name + " after " + drop.Figure
	}
	return says + " Liquid: " + when + "."
}

// otherCautions stand once, at the end of the sheet. The first is said of fuels.
var otherCautions = []report.DetailRow{
	{Name: "Fuel as a test liquid", Words: "Petrol and alcohol give off vapour that burns: out of doors or with the air drawn off, no flame, spark, heater or running pump motor near, and never pump a port that is wet with them. A liquid of high flash point, white spirit or kerosene, shows as much. Keep it off the skin; what runs out goes where waste oil goes."},
	{Name: "Compressed air", Words: "It turns the crank with force unless the piston stands at top dead centre and the crank is held. Secure it, stand clear, leave no spanner on it; open the supply slowly."},
	{Name: "Turning the engine", Words: "Before it is cranked: fuel and ignition off, throttle open, clothes and hands clear of belts and fan."},
	{Name: "In this order", Words: "Vacuum first, liquid last: what is wet holds better for a while, and vapour spoils a vacuum test. Dry the seats before the next one."},
	{Name: "First of all", Words: "The maker’s manual goes before what is said here: his restrictor, supply, limits and order."},
}
