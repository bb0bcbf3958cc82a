// Package app builds the program and runs its jobs: it opens files, hands
// plain values to the pure packages, and writes what they answer.
//
// Start with [App], which holds where the program writes, and [App.Read], the
// job of the command read. Commands parse flags and call one method here; the
// method returns an [Exit], the program's exit code.
package app

import (
	"fmt"
	"io"
	"strings"
)

// Exit is the program's exit code.
type Exit int

// The exit codes. Of several traces the worst counts: Wrong before Unanswered
// before Answered.
const (
	Answered   Exit = 0
	Wrong      Exit = 2   // wrong use, or a file that can't be read
	Unanswered Exit = 3   // a trace can carry no answer
	Stopped    Exit = 130 // stopped by the person, as shells count it
)

// worse returns the worse of two exit codes.
func worse(a, b Exit) Exit {
	rank := map[Exit]int{Answered: 0, Unanswered: 1, Wrong: 2, Stopped: 3}
	if rank[b] > rank[a] {
		return b
	}
	return a
}

// App is the program: where it writes and what it calls itself.
type App struct {
	Stdout, Stderr io.Writer
	Terminal       bool // Stderr is a terminal: progress may be shown
	Version        string
}

// fault is wrong use: what was wrong, where, and what to do.
type fault struct {
	Where string // "--limit", "rig.toml"
	Err   error
	Hint  string // "" where Err says it
}

func (f *fault) Error() string {
	s := f.Where + ": " + f.Err.Error()
	if f.Hint != "" {
		s += "; " + f.Hint
	}
	return s
}

func (f *fault) Unwrap() error { return f.Err }

// complain writes an error as a person reads it.
func (a *App) complain(err error) {
	fmt.Fprintln(a.Stderr, "seatproof: "+strings.TrimSpace(err.Error()))
}
