// Command seatproof keeps the books of cylinder heads and reads vacuum tests of
// their valve seats.
//
// Start with serve.go, the sheets, and read.go, which reads traces alone. This file parses flags,
// catches Ctrl-C and maps what happened to an exit code; the work is done in
// internal/app.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"regexp"
	"runtime/debug"
	"syscall"

	"github.com/alecthomas/kong"

	"seatproof/internal/app"
)

// version is set when a release is built (-ldflags -X main.version=...).
var version = "0.1.0-dev"

const about = `Reads pressure traces of vacuum tests on cylinder heads: how much each valve seat leaks, how sure that is, and whether it holds.`

// commands are all commands; each has its own file.
type commands struct {
	Open     openCmd          `cmd:"" default:"withargs" help:"Start the sheets and open them in the browser; so does seatproof alone."`
	Serve    serveCmd         `cmd:"" help:"Start the sheets, and open no browser."`
	Read     readCmd          `cmd:"" help:"Read one or more traces of a test: leak rate, interval, verdict."`
	Capture  captureCmd       `cmd:"" help:"Record a sensor to a trace file."`
	Session  sessionCmd       `cmd:"" help:"Run the tests of a head in this terminal, live from a sensor."`
	Practise practiseCmd      `cmd:"" help:"Run a make-believe rig that speaks as real sensors do."`
	Export   exportCmd        `cmd:"" help:"Write a head with its tests, work and photos to one file."`
	Import   importCmd        `cmd:"" help:"Take in a head that an export wrote."`
	Rig      rigCmd           `cmd:"" help:"Choose a rig, check it on the day, print its card for the wall."`
	Loss     lossCmd          `cmd:"" help:"Say what a leak costs an engine: cranking pressure, charge, work."`
	Demo     demoCmd          `cmd:"" help:"Read the example head and write its pages."`
	Version  kong.VersionFlag `help:"Print the version and stop."`
}

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr, isTerminal(os.Stderr)))
}

// run is the whole program but the process around it.
func run(args []string, stdout, stderr io.Writer, terminal bool) int {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(300) // what a trace needs is small and short-lived
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app.App{Stdout: stdout, Stderr: stderr, Terminal: terminal, Version: version}
	exited := -1
	var c commands
	parser, err := kong.New(&c,
		kong.Name("seatproof"),
		kong.Description(about),
		kong.Writers(stdout, stderr),
		// --help and --version end the program through kong; run ends it here.
		kong.Exit(func(code int) { exited = code }),
		kong.Vars{"version": "seatproof " + version},
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 96}),
	)
	if err != nil { // the command tree itself is wrong; any test hits it
		panic(err)
	}
	parsed, err := parser.Parse(args)
	switch {
	case exited >= 0:
		return exited
	case err != nil:
		parser.Errorf("%s; see seatproof --help", plainer(err.Error()))
		return int(app.Wrong)
	}
	parsed.BindTo(ctx, (*context.Context)(nil))
	if err := parsed.Run(a); err != nil {
		var e exitError
		if errors.As(err, &e) {
			return int(e)
		}
		parser.Errorf("%s", err)
		return int(app.Wrong)
	}
	return int(app.Answered)
}

// dashed is what kong says of a value that begins with a dash.
var dashed = regexp.MustCompile(`^(--[\w-]+): expected .* value but got "(-.*)" \(.*flag\).*$`)

// plainer puts an error of kong's that a sign before a figure brings about into a
// person's words.
func plainer(what string) string {
	return dashed.ReplaceAllString(what, `$1: what follows it, $2, begins with a dash, as flags do: where it is meant, write $1="$2"`)
}

// exitError carries an exit code that is not zero through kong.
type exitError app.Exit

func (e exitError) Error() string { return "exit" }

// result turns an exit code into what kong's commands return.
func result(e app.Exit) error {
	if e == app.Answered {
		return nil
	}
	return exitError(e)
}

func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
