package app

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"seatproof/head"
	"seatproof/internal/practise"
	"seatproof/internal/rigfile"
	"seatproof/internal/source/broker"
)

// PractiseJob is what a person asks of the command practise.
type PractiseJob struct {
	On     []string // wires: "tcp", "tcp:127.0.0.1:4000", "serial", ...
	Head   string   // cylinders and valves a cylinder: "4x4"
	Faults []string
	Speed  float64 // 1: real
	Rate   float64 // samples/s
	Seed   uint64
	Writes string  // how lines are written
	Hold   float64 // s
	ByHand bool    // keys on the standard input instead of an operator
	RunsOn bool    // the pump runs on behind the shut valve
	Once   bool    // end after the last port
	Rig    string  // where to write the rig file, as its owner would state it

	Stdin io.Reader
}

// Practise runs a make-believe rig until ctx ends.
func (a *App) Practise(ctx context.Context, job PractiseJob) Exit {
	if err := a.practise(ctx, job); err != nil {
		a.complain(err)
		return Wrong
	}
	return Answered
}

func (a *App) practise(ctx context.Context, job PractiseJob) error {
	j, err := practiceHead(ctx, job.Head)
	if err != nil {
		return &fault{"--head " + job.Head, err, "give cylinders and valves a cylinder, as in 4x4, with " + layoutWords + " behind it; or a file that an export wrote"}
	}
	set := practise.Setup{Ports: practise.HeadOf(&j, job.Seed), Seed: job.Seed, Rate: job.Rate, RunsOn: job.RunsOn}
	for _, text := range job.Faults {
		f, err := practiceFault(&j, text)
		if err != nil {
			return &fault{"--fault " + text, err, ""}
		}
		set.Faults = append(set.Faults, f)
	}
	bench, err := practise.New(set)
	if err != nil {
		return err
	}
	if job.Rig != "" {
		if err := writePracticeRig(job.Rig); err != nil {
			return &fault{"--rig " + job.Rig, err, ""}
		}
		fmt.Fprintln(a.Stderr, "what its owner knows of the rig is in "+job.Rig)
	}
	script := practise.NewScript(set)
	script.Once = job.Once
	ctx, end := context.WithCancel(ctx)
	defer end()
	feed := &practise.Feed{Bench: bench, Speed: job.Speed}
	at := ""
	say := func() {
		if p := script.Prompt(bench); p.On != at {
			at = p.On
			fmt.Fprintln(a.Stderr, practiceName(&j, at))
		}
	}
	if job.ByHand {
		keys := practiceKeys(job.Stdin)
		fmt.Fprintln(a.Stderr, "keys, each with Enter: n next, p pump on, s shut off, v vent, q quit")
		feed.Act = func(t float64) error { return byHand(t, keys, bench, script, say, end) }
	} else {
		operator := practise.NewOperator(bench, job.Seed)
		operator.Hold = job.Hold
		feed.Act = func(t float64) error {
			say()
			key, err := operator.Step(t, script.Prompt(bench))
			if script.Press(key); script.Ended() {
				end()
			}
			return err
		}
	}
	wires, err := a.practiceWires(ctx, job, set, feed)
	if err != nil {
		return err
	}
	for _, w := range wires {
		fmt.Fprintln(a.Stderr, "make-believe rig at "+w.Address())
	}
	return runPractice(ctx, end, feed, wires)
}

// runPractice runs the feed and its wires until ctx ends or one fails.
func runPractice(ctx context.Context, end func(), feed *practise.Feed, wires []practise.Wire) error {
	errs := make([]error, len(wires)+1)
	var running sync.WaitGroup
	for i, w := range wires {
		readings := feed.Open()
		running.Go(func() {
			defer end()
			errs[i] = w.Serve(ctx, readings)
		})
	}
	errs[len(wires)] = feed.Run(ctx)
	end()
	running.Wait()
	return errors.Join(errs...)
}

// portNamed returns the identity of a port by its name or its identity.
func portNamed(j *head.Job, name string) (string, error) {
	var ids []string
	for _, p := range j.Ports {
		ids = append(ids, p.ID)
	}
	return named("port", name, ids, j.PortName)
}

// valveNamed returns the identity of a valve by its name or its identity.
func valveNamed(j *head.Job, name string) (string, error) {
	var ids []string
	for _, v := range j.Valves {
		ids = append(ids, v.ID)
	}
	return named("valve", name, ids, j.ValveName)
}

// named returns the identity of the thing that is called so, or has that identity.
func named(thing, name string, ids []string, call func(id string) string) (string, error) {
	var names []string
	for _, id := range ids {
		if id == name || strings.EqualFold(call(id), name) {
			return id, nil
		}
		names = append(names, call(id))
	}
	// names have commas in them: "cylinder 1 intake, left port"
	return "", fmt.Errorf("no %s is called %q: there are %s", thing, name, strings.Join(names, "; "))
}

func practiceName(j *head.Job, on string) string {
	switch on {
	case practise.Blank:
		return "the blank"
	case practise.KnownLeak:
		return "the known leak"
	case practise.Nothing:
		return "the end"
	}
	return j.PortName(on)
}

func writePracticeRig(name string) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	return errors.Join(rigfile.Write(f, practise.Stated()), f.Close())
}

// practiceKeys gives the first letter of each line that is typed; closed at the
// end of the input.
func practiceKeys(in io.Reader) <-chan byte {
	keys := make(chan byte)
	go func() {
		defer close(keys)
		for lines := bufio.NewScanner(in); lines.Scan(); {
			if t := strings.TrimSpace(lines.Text()); t != "" {
				keys <- t[0]
			}
		}
	}()
	return keys
}

func byHand(t float64, keys <-chan byte, b *practise.Bench, s *practise.Script, say, end func()) error {
	if b.On() == practise.Nothing { // the first plate is down
		say()
		if err := b.Put(t, s.Prompt(b).On); err != nil {
			return err
		}
	}
	select {
	case k, ok := <-keys:
		switch {
		case !ok || k == 'q':
			end()
		case k == 'p':
			return b.Pump(t)
		case k == 's':
			return b.ShutOff(t)
		case k == 'v':
			return b.Vent(t)
		case k == 'n':
			s.Press(practise.PressNext)
			if s.Ended() {
				end()
				return nil
			}
			say()
			return b.Put(t, s.Prompt(b).On)
		}
	default:
	}
	return nil
}

// practiceWires opens what the rig is to speak on.
func (a *App) practiceWires(ctx context.Context, job PractiseJob, set practise.Setup, feed *practise.Feed) ([]practise.Wire, error) {
	speech, err := practise.SpeechNamed(job.Writes)
	if err != nil {
		return nil, &fault{"--writes " + job.Writes, err, ""}
	}
	plain, err := practise.SpeechNamed("plain")
	if err != nil {
		return nil, err
	}
	line := practise.LineOf(set)
	var wires []practise.Wire
	for _, text := range job.On {
		kind, place, _ := strings.Cut(text, ":")
		listen := place
		if listen == "" {
			listen = "127.0.0.1:0"
		}
		var w practise.Wire
		var err error
		switch kind {
		case "tcp":
			w, err = practise.ListenTCP(listen, speech, line, feed)
		case "udp":
			if place == "" {
				err = errors.New("where to send is missing: as in udp:127.0.0.1:4001")
			}
			w = practise.SendUDP(place, speech, line)
		case "http":
			w, err = practise.ListenHTTP(listen, speech, line, feed)
		case "mqtt":
			if place == "" { // one of its own
				var b broker.Broker
				if b, err = broker.Start(broker.Settings{Listen: listen}); err == nil {
					place = b.Addr().String()
					context.AfterFunc(ctx, func() { b.Close() })
				}
			}
			w = practise.PublishMQTT(place, "practice/vacuum", plain, line)
		case "modbus":
			w, err = practise.ListenModbus(listen, line, feed)
		case "serial", "modbus-rtu":
			var end *practise.Terminal
			var path string
			if end, path, err = practise.OpenTerminal(); err == nil {
				if kind == "serial" {
					w = practise.WriteTo(end, "serial:"+path, speech, line)
				} else {
					w = practise.ServeModbusRTU(end, path, line, feed)
				}
			}
		case "out":
			w = practise.WriteOut(a.Stdout, speech, line)
		default:
			err = fmt.Errorf("no way to speak is called %q: there are tcp, udp, http, serial, mqtt, modbus, modbus-rtu, out", kind)
		}
		if err != nil {
			return nil, &fault{"--on " + text, err, ""}
		}
		wires = append(wires, w)
	}
	return wires, nil
}
