package gas

import (
	"errors"
	"math"
	"testing"
)

// Room of most checks: sea level, 20 °C.
const (
	roomPressure    = 101325.0
	roomTemperature = 293.15
	perMinute       = 60e6 // cm³/min in a m³/s
)

// near fails where got is not within tol of want, absolute.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.10g, want %.10g (off by %.2g, allowed %.2g)", what, got, want, got-want, tol)
	}
}

// close fails where got is not within rel of want, relative.
func close(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	near(t, what, got, want, rel*math.Abs(want))
}

func flow(t *testing.T, e Element, p1, p2, t1 float64) float64 {
	t.Helper()
	m, err := e.MassFlow(p1, p2, t1)
	if err != nil {
		t.Fatalf("%+v from %g to %g Pa at %g K: %v", e, p1, p2, t1, err)
	}
	return m
}

func freeAir(t *testing.T, e Element, vacuum, pa, ta float64) float64 {
	t.Helper()
	q, err := FreeAirAt(e, vacuum, pa, ta)
	if err != nil {
		t.Fatalf("%+v at %g Pa of vacuum in %g Pa, %g K: %v", e, vacuum, pa, ta, err)
	}
	return q
}

func wantRange(t *testing.T, what string, err error) {
	t.Helper()
	var e *RangeError
	if !errors.As(err, &e) {
		t.Errorf("%s: got error %v, want a *RangeError", what, err)
		return
	}
	if e.Op == "" || e.Field == "" || e.Want == "" || e.Error() == "" {
		t.Errorf("%s: error %q lacks a part", what, err)
	}
}
