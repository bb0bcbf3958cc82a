// Command engine is our side of the comparison with SUNDIALS CVODE (compare.sh):
//
//	engine cases   prints the cycles as CVODE's side reads them
//	engine time    solves them at each tolerance, and times it
//	engine table   makes a table of what both sides printed
//
// Reference values are those of SciPy, engine/testdata/cycles.json.
package main

import (
	"encoding/json"
	"fmt"
	"log"
	"math"
	"os"
	"runtime"
	"syscall"
	"time"

	"seatproof/engine"
	"seatproof/gas"
)

type line struct {
	Name                                    string
	Bore, Stroke, Rod, Ratio, Closes, Opens float64
	Rings, Twall, Seat, Contact             float64
	Rpm, Intake, Room, Temp, Energy         float64
	Burn                                    []float64
	Leaks                                   []engine.Leak
	Result                                  struct{ Peak, Trapped, Work float64 }
}

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: engine cases|time cycles.json, or engine table FILE")
	}
	if os.Args[1] == "table" {
		if err := table(os.Args[2]); err != nil {
			log.Fatal(err)
		}
		return
	}
	text, err := os.ReadFile(os.Args[2])
	if err != nil {
		log.Fatal(err)
	}
	var all []line
	if err := json.Unmarshal(text, &all); err != nil {
		log.Fatal(err)
	}
	for _, k := range []struct{ name, in string }{{"motored", "half and half"}, {"fired", "fired, idle"}} {
		for _, l := range all {
			if l.Name != k.in {
				continue
			}
			if os.Args[1] == "cases" {
				err = l.print(k.name)
			} else {
				err = l.time(k.name)
			}
			if err != nil {
				log.Fatal(err)
			}
		}
	}
}

const degree = math.Pi / 180

func (l line) print(name string) error {
	k := l.Leaks[0]
	o, err := gas.OpeningFor(k.Flow*k.Share, gas.StatedVacuum, k.Room, k.Temp, k.Edge)
	if err != nil {
		return err
	}
	s, err := gas.SeepFor(k.Flow*(1-k.Share), gas.StatedVacuum, k.Room, k.Temp, l.Seat, l.Contact)
	if err != nil {
		return err
	}
	burn, start, end := 0, 0.0, 0.0
	if l.Burn != nil {
		burn, start, end = 1, l.Burn[0]*degree, l.Burn[1]*degree
	}
	fmt.Println(name, l.Bore, l.Stroke, l.Rod, l.Ratio, -math.Pi+l.Closes*degree, math.Pi-l.Opens*degree, l.Rpm*math.Pi/30, l.Intake, l.Temp, l.Room, l.Rings, l.Twall,
		burn, start, end, l.Energy, o.Area, k.Edge, (k.Room-gas.StatedVacuum)/k.Room, s.Width, s.Gap, s.Length, l.Result.Peak, l.Result.Trapped, l.Result.Work)
	return nil
}

// time prints solver, case, tolerance, µs of processor time a cycle (the least of
// five lots), relative errors of peak, trapped mass and work, calls.
func (l line) time(name string) error {
	runtime.LockOSThread()
	c := engine.Cylinder{Bore: l.Bore, Stroke: l.Stroke, Rod: l.Rod, Ratio: l.Ratio, IntakeCloses: l.Closes * degree, ExhaustOpens: l.Opens * degree, Rings: l.Rings, Wall: l.Twall, SeatWidth: l.Seat, Contact: l.Contact}
	r := engine.Run{Speed: l.Rpm * math.Pi / 30, Intake: l.Intake, Room: l.Room, Temp: l.Temp}
	if l.Burn != nil {
		r.Burn = &engine.Burn{Start: l.Burn[0] * degree, End: l.Burn[1] * degree, A: 5, M: 2, Energy: l.Energy}
	}
	for i := 0; i <= 14; i++ {
		r.Within = math.Pow(10, -4-float64(i)/2)
		var y engine.Cycle
		var err error
		least := math.Inf(1)
		for range 5 {
			const lot = 300
			from := processor()
			for range lot {
				if y, err = c.Cycle(r, l.Leaks...); err != nil {
					return err
				}
			}
			least = math.Min(least, (processor()-from).Seconds()*1e6/lot)
		}
		fmt.Printf("ours %s %.1e %.2f %.2e %.2e %.2e %d\n", name, r.Within, least, math.Abs(y.Peak/l.Result.Peak-1), math.Abs(y.Trapped/l.Result.Trapped-1), math.Abs(y.Work/l.Result.Work-1), y.Calls)
	}
	return nil
}

// processor is the processor time used so far.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		log.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
