package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec" // opens the person's own browser at the sheets; nothing else is run
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"time"

	"seatproof/check"
	"seatproof/internal/rigfile"
	"seatproof/internal/store"
	"seatproof/internal/store/place"
	"seatproof/internal/store/sqlite"
	"seatproof/internal/web"
	"seatproof/rig"
)

// ServeJob is what a person asks of the command serve.
type ServeJob struct {
	Listen  string // "127.0.0.1:8470"
	Data    string // folder; "": the system's own place for it
	Browser bool   // open it
	Example string // folder of an example head to book in where it is not there yet
	Verbose bool

	Broker         string // address of a built-in MQTT broker; "": none
	BrokerPassword string // file whose first line is its password; "": none

	ready func(address string) // tests wait for it
}

// Serve serves the sheets until ctx ends, then stops in steps: streams, requests,
// records.
func (a *App) Serve(ctx context.Context, job ServeJob) Exit {
	if err := a.serve(ctx, job); err != nil {
		a.complain(err)
		return Wrong
	}
	return Answered
}

func (a *App) serve(ctx context.Context, job ServeJob) (err error) {
	folder, err := dataFolder(job.Data)
	if err != nil {
		return &fault{"--data", err, "name a folder that can be written"}
	}
	line, err := new(net.ListenConfig).Listen(ctx, "tcp", job.Listen)
	if err != nil {
		return &fault{"--listen " + job.Listen, err, listenHint(ctx, job.Listen, err)}
	}
	// Closing twice is harmless, and every way out of here must close it.
	defer line.Close()
	records, err := sqlite.Open(ctx, place.Database(folder), sqlite.Options{})
	if err != nil {
		return &fault{"--data " + folder, err, openHint(err)}
	}
	address := "http://" + line.Addr().String() + "/"
	if err := records.Say(address); err != nil { // a courtesy to a second program
		a.complain(fmt.Errorf("the address can't be noted beside the records: %w", err))
	}
	level := slog.LevelInfo
	if job.Verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(a.Stderr, &slog.HandlerOptions{Level: level}))
	phones := &door{find: privateAddresses, port: portOf(line.Addr()), log: log}
	config := a.sheetsOn(records, log)
	config.Door, config.Outside, config.Names = phones, reachable(line.Addr()), machineNames()
	tests := newLive(filepath.Join(folder, "runs"), log)
	config.Live = tests
	sheets, err := web.New(config)
	if err != nil {
		return errors.Join(err, records.Close())
	}
	tests.sheets = sheets
	tests.resume(ctx)
	phones.handler = sheets.Handler()
	streams, endStreams := context.WithCancel(context.WithoutCancel(ctx))
	var running sync.WaitGroup
	running.Go(func() { sheets.Run(streams) })
	server := newServer(phones.handler, log)
	failed := make(chan error, 2)
	running.Go(func() { failed <- server.Serve(line) })
	here := address // whoever sits at this machine needs no pairing
	if reachable(line.Addr()) {
		if here, err = a.serveHere(ctx, line.Addr(), server, &running, failed); err != nil {
			fmt.Fprintf(a.Stderr, "seatproof: %v\n", err)
		}
	}
	fmt.Fprintf(a.Stdout, "seatproof is at %s, records in %s; stop with Ctrl-C\n", address, folder)
	if reachable(line.Addr()) {
		a.sayCode(sheets, here)
	}

	closeBroker := func() error { return nil }
	if job.Broker != "" {
		b, err := startBroker(job, log)
		if err != nil { // the sheets do without it
			a.complain(&fault{"--broker " + job.Broker, err, "name an address of this machine; other machines need --broker-password"})
		} else {
			fmt.Fprintf(a.Stdout, "an MQTT broker for sensors is at %s\n", b.Addr())
			closeBroker = b.Close
		}
	}
	open := here
	if job.Example != "" {
		id, err := bookInExample(ctx, here, job.Example)
		if err != nil {
			a.complain(&fault{"--example " + job.Example, err, "name a folder such as examples/inline-three"})
		} else {
			open = here + "#/heads/" + id
		}
	}
	if job.Browser {
		if err := openBrowser(ctx, open); err != nil {
			fmt.Fprintf(a.Stderr, "seatproof: no browser could be opened (%v): open %s yourself\n", err, open)
		}
	}
	if job.ready != nil {
		job.ready(address)
	}
	select {
	case <-ctx.Done():
	case err = <-failed:
	}
	return errors.Join(err, a.stop(log, []step{
		{"broker", func(context.Context) error { return closeBroker() }},
		{"streams", func(context.Context) error { endStreams(); return nil }},
		{"phones", func(context.Context) error { return phones.Shut() }},
		{"requests", server.Shutdown},
		{"server", func(context.Context) error { running.Wait(); return nil }},
		{"run", tests.Stop},
		{"records", func(context.Context) error { return records.Close() }},
	}))
}

// sheetsOn is what the sheets of some records are built from.
func (a *App) sheetsOn(records store.Store, log *slog.Logger) web.Config {
	return web.Config{Keeper: keeper{records}, Archive: archiver{records}, Log: log, Version: a.Version, Estimator: estimator(a.Version), ReadRig: readRigText, EditRig: editRigText, ReadParts: readPartsForm}
}

// step is one step of stopping.
type step struct {
	name string
	do   func(context.Context) error
}

// stop runs the steps in their order, each whatever the one before came to.
func (a *App) stop(log *slog.Logger, steps []step) error {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	var all []error
	for _, s := range steps {
		log.Debug("stopping", "step", s.name)
		if err := s.do(ctx); err != nil && !errors.Is(err, http.ErrServerClosed) {
			all = append(all, fmt.Errorf("stop %s: %w", s.name, err))
		}
	}
	return errors.Join(all...)
}

// listenHint says what to do about an address that can't be had.
func listenHint(ctx context.Context, address string, err error) string {
	switch {
	case seatproofAt(ctx, address):
		return "seatproof is running there already: open http://" + address + "/ in a browser, or name another address"
	case errors.Is(err, os.ErrPermission):
		return "the system keeps it for others: take a port from 1024 up, such as 127.0.0.1:8470"
	case errors.Is(err, syscall.EADDRINUSE):
		return "another program is there: name another address, or 127.0.0.1:0 for any that is free"
	}
	return "write it as 127.0.0.1:8470; 127.0.0.1:0 takes any port that is free"
}

// seatproofAt says whether a seatproof answers at an address.
func seatproofAt(ctx context.Context, address string) bool {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+address+"/api/words", nil)
	if err != nil {
		return false
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return false
	}
	defer res.Body.Close()
	var words struct {
		Version string
		States  []struct{ Code string }
	}
	return json.NewDecoder(io.LimitReader(res.Body, 1<<20)).Decode(&words) == nil && len(words.States) > 0
}

// openHint says what to do about records that can't be opened.
func openHint(err error) string {
	var by *sqlite.InUse
	switch {
	case errors.As(err, &by) && by.Address != "":
		return "another seatproof has these records open: open " + by.Address + " in a browser, or name another folder"
	case errors.As(err, &by):
		return "another seatproof has these records open: use that one, or name another folder"
	case errors.Is(err, store.ErrLocked):
		return "close the other program, or name another folder"
	case errors.Is(err, store.ErrForeign):
		return "name another folder, or move that file away; it was left as it is"
	case errors.Is(err, store.ErrVersion):
		return "a newer seatproof wrote them: use that one; they were left as they are"
	case errors.Is(err, store.ErrReadOnly):
		return "check the folder's permissions, or name another"
	case errors.Is(err, store.ErrFull):
		return "make room first; the records were left as they are"
	case errors.Is(err, store.ErrDamaged):
		return "they were left as they are: copy the folder before anything else"
	}
	return "name another folder, or look at that one"
}

// dataFolder returns the folder of the records: as named, or where the system
// keeps a program's data (the XDG base directory rules on Unix), and makes it.
func dataFolder(named string) (string, error) {
	folder := named
	if folder == "" {
		var err error
		if folder, err = place.Data(runtime.GOOS, os.Getenv); err != nil {
			return "", err
		}
	}
	return folder, os.MkdirAll(folder, 0o700)
}

// openBrowser opens the person's browser at an address.
func openBrowser(ctx context.Context, address string) error {
	var name string
	var args []string
	switch runtime.GOOS {
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	case "darwin":
		name, args = "open", []string{address}
	default:
		name, args = "xdg-open", []string{address}
	}
	cmd := exec.CommandContext(context.WithoutCancel(ctx), name, args...)
	cmd.Stdout, cmd.Stderr = io.Discard, io.Discard
	if err := cmd.Start(); err != nil {
		return err
	}
	go func() { _ = cmd.Wait() }() // ends with the browser; nothing here waits for that
	return nil
}

// readRigText reads a rig's file for the sheets.
func readRigText(text string) (rig.Rig, []web.RigFault) {
	r, err := rigfile.Read(strings.NewReader(text), "rig")
	return r, rigFaults(err)
}

// editRigText changes a rig's file for the sheets.
func editRigText(text string, r rig.Rig) (string, []web.RigFault) {
	text, err := rigfile.Edit(text, r)
	return text, rigFaults(err)
}

// readPartsForm reads a parts list out of a form of the sheets.
func readPartsForm(form map[string][]map[string]string) (check.Parts, []web.RigFault) {
	p, err := rigfile.FillParts(form)
	return p, rigFaults(err)
}

func rigFaults(err error) (out []web.RigFault) {
	var all rigfile.Faults
	switch {
	case err == nil:
		return nil
	case errors.As(err, &all):
		for _, f := range all {
			out = append(out, web.RigFault{Line: f.Line, Column: f.Column, Key: f.Key, Problem: f.Problem})
		}
		return out
	}
	return []web.RigFault{{Problem: err.Error()}}
}
