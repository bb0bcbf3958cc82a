package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"seatproof/check"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/trace"
	"seatproof/unit"
)

// RigCheckJob is what a person asks of the command rig check. Texts are as typed.
type RigCheckJob struct {
	Kind      string
	Readings  []string
	Rig       string
	Write     bool
	Limit     string
	Leak      string
	Catalogue string
	Second    string
	Flow      string
	At        string
	Room      string
	Water     string
	Soft      string
	Blank     string
	Vented    string
	Pump      string
	Days      int
	Unit      string
	Columns   string
	Column    string
	JSON      bool
	Now       time.Time
}

// checkWay is one way of checking: the word a person types, what it takes, and how.
type checkWay struct {
	word, takes, example string
	do                   func(*checking) (check.Result, error)
}

// checkWays are all ways, in the order in which a rig is checked.
var checkWays = []checkWay{
	{"zero", "the gauge's reading, open to the room", "zero 0.2 kPa", (*checking).zero},
	{"gauge", "pairs READING=SECOND of this gauge and a second one", "gauge 20=19.6 40=39.3 60=59.1 76=74.9 kPa --vented 0.2=0 --second \"class 1, 0..100 kPa\"", (*checking).gauge},
	{"column", "pairs READING=HEIGHT of a column of water held up", "column 0=0mm 9.9=1m 19.7=2m kPa", (*checking).column},
	{"blanked", "the blanked reading of each pull, in order; or traces", "blanked 77.1 76.4 76.9 76.6 77.0 kPa", (*checking).blanked},
	{"rig-leak", "a hold on a blank: a trace, or by eye: \"76 to 75.5 kPa in 60 s\"", "rig-leak blank.csv --limit \"23 cm3/min\"", (*checking).rigLeak},
	{"known-leak", "a hold on a known leak, a trace or by eye", "known-leak needle.csv --leak \"needle 30 x 13 mm\" --blank blank.csv", (*checking).knownLeak},
	{"characterise", "a hold on a leak of which nothing is known, on a rig of known volume", "characterise needle.csv --leak \"my needle\"", (*checking).characterise},
	{"syringe", "STEP, then pairs BEFORE=AFTER of the vacuum; drawn out where it deepens, pushed in where it falls", "syringe \"5 mL\" 40=47.2 41=48.1 kPa", (*checking).syringe},
	{"two-holds", "a hold on a blank, and one on a known leak, traces or by eye; or both falls at one vacuum, that of --at: \"0.2 kPa in 60 s\" \"4 kPa in 15 s\"", "two-holds blank.csv needle.csv --leak \"96 ± 6 cm3/min\"", (*checking).twoHolds},
	{"water", "how much water the rig's part took, as volume or weight", "water \"62 g\"", (*checking).water},
	{"pump", "pairs LEAK=READING of known leaks and the steady reading on each", "pump \"drill 70=48.5\" \"drill 76=63\" kPa", (*checking).pump},
	{"shut-off", "two holds on a blank, the pump stopped and running, traces or by eye", "shut-off stopped.csv running.csv", (*checking).shutOff},
	{"hose", "a pair AT-PUMP=AT-PORT while air goes through", "hose 52.1=49.8 kPa --flow \"5 L/min\"", (*checking).hose},
	{"dryness", "holds of five pulls of one port, vented between, traces or by eye", "dryness 1.csv 2.csv 3.csv 4.csv 5.csv", (*checking).dryness},
	{"head", "the head's temperature", "head \"31 °C\" --room \"19 °C\"", (*checking).head},
	{"part", "a part that was changed: pump, gauge, hose, plate or shut-off valve", "part gauge", (*checking).part},
}

// checking is a check under way.
type checking struct {
	ctx     context.Context
	app     *App
	job     RigCheckJob
	way     *checkWay
	rig     rig.Rig // as its checks say it is
	stated  rig.Rig // as its file says it is
	unit    report.VacuumUnit
	limit   float64 // m³/s; 0: none
	results []check.Result
	own     []check.Known // the person's known leaks, behind those of the program
	read    trace.ReadOptions
	found   *check.Known // what was characterised
}

// RigCheck makes a check of a rig and says what it gave: value, interval, verdict,
// evidence, how long it is trusted. Only with Write is anything changed.
func (a *App) RigCheck(ctx context.Context, job RigCheckJob) Exit {
	c, err := a.beginCheck(ctx, job)
	if err != nil {
		a.complain(err)
		return Wrong
	}
	if job.Kind == "" {
		c.standings()
		return Answered
	}
	if strings.EqualFold(job.Kind, "leaks") {
		if err := c.leaks(); err != nil {
			a.complain(err)
			return Wrong
		}
		return Answered
	}
	if strings.EqualFold(job.Kind, "faults") {
		if err := c.faults(); err != nil {
			a.complain(err)
			return Wrong
		}
		return Answered
	}
	i := slices.IndexFunc(checkWays, func(w checkWay) bool { return w.word == strings.ToLower(job.Kind) })
	if i < 0 {
		known := []string{"leaks", "faults"}
		for _, w := range checkWays {
			known = append(known, w.word)
		}
		hint := "take one of " + strings.Join(known, ", ")
		if near := unit.Nearest(job.Kind, known); near != "" {
			hint = "did you mean " + near + "?"
		}
		if more, ok := checkedBy[strings.ToLower(job.Kind)]; ok {
			hint = more
		}
		a.complain(&fault{"rig check", fmt.Errorf("%q is nothing that is checked", job.Kind), hint})
		return Wrong
	}
	c.way = &checkWays[i]
	res, err := c.way.do(c)
	if err != nil {
		if ctx.Err() != nil {
			return Stopped
		}
		var refused *check.RefusedError
		if errors.As(err, &refused) {
			where := "rig check " + c.way.word
			if refused.What != strings.ReplaceAll(c.way.word, "-", " ") { // which of several traces
				where += ": " + refused.What
			}
			a.complain(fmt.Errorf("%s: %s", where, report.RefusalMessage(report.Style{Unit: c.unit}, refused.Refusal)))
			return Unanswered
		}
		var asked *fault
		if errors.As(err, &asked) {
			a.complain(asked)
		} else {
			a.complain(&fault{"rig check " + c.way.word, err, ""})
		}
		return Wrong
	}
	res.Days = check.Days(job.Days)
	if err := c.tell(res); err != nil {
		a.complain(err)
		return Wrong
	}
	if job.Write {
		if err := c.write(res); err != nil {
			a.complain(err)
			return Wrong
		}
	}
	return Answered
}

// beginCheck takes the rig with its checks, and what goes for every check.
func (a *App) beginCheck(ctx context.Context, job RigCheckJob) (*checking, error) {
	c := &checking{ctx: ctx, app: a, job: job, read: trace.ReadOptions{Column: job.Column, Columns: job.Columns}}
	if job.Write && job.Rig == "" {
		return nil, &fault{"--write", errors.New("there is no rig file to write to"), "name it with --rig"}
	}
	if job.Days < -1 {
		return nil, &fault{"--days", fmt.Errorf("%d days", job.Days), "give a number of days, or -1: until a part is changed"}
	}
	if job.Rig != "" {
		r, err := readRig(job.Rig)
		if err != nil {
			return nil, err
		}
		c.stated = r
		if c.results, err = readChecks(checksFile(job.Rig)); err != nil {
			return nil, err
		}
		c.rig = check.Apply(r, c.results, job.Now)
	}
	name := job.Unit
	if name == "" {
		name = c.rig.Gauge.Unit
	}
	c.unit = report.KPa
	if u, ok := report.UnitNamed(name); ok {
		c.unit = u
	} else if job.Unit != "" {
		return nil, &fault{"--unit", fmt.Errorf("unknown vacuum unit %q", job.Unit), "take one of " + strings.Join(report.VacuumUnits, ", ")}
	}
	if job.Limit != "" {
		q, err := unit.Parse(job.Limit, unit.FlowDim)
		if err != nil {
			return nil, &fault{"--limit", err, "write a leak rate, such as \"23 cm3/min\""}
		}
		if !(q.Value > 0) || q.Spread > 0 {
			return nil, &fault{"--limit", fmt.Errorf("%s can't be a limit", job.Limit), "it is one figure above zero"}
		}
		c.limit = q.Value
	}
	if job.Catalogue != "" {
		own, err := readCatalogue(job.Catalogue)
		if err != nil {
			return nil, err
		}
		c.own = own
	}
	switch s := rig.PumpState(job.Pump); s {
	case "":
	case rig.PumpStopped, rig.PumpRunning:
		c.rig.Pump.AfterShutOff = s
	default:
		return nil, &fault{"--pump", fmt.Errorf("unknown %q", job.Pump), "it is stopped or running"}
	}
	return c, nil
}

// need refuses a check that was given too little or too much.
func (c *checking) need(ok bool) error {
	if ok {
		return nil
	}
	return &fault{"rig check " + c.way.word, errors.New("it takes " + c.way.takes), "as in: seatproof rig check " + c.way.example}
}

// checkedBy are things of a rig that are checked by another word.
var checkedBy = map[string]string{
	"volume":      "take syringe, two-holds or water",
	"leak":        "take rig-leak, for a hold on a blank, or known-leak",
	"blank":       "take blanked, for where the pump stands, or rig-leak, for a hold",
	"temperature": "take head",
	"valve":       "take shut-off",
	"second":      "take gauge",
}
