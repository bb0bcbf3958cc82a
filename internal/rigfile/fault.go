package rigfile

import (
	"fmt"
	"strings"
)

// Fault is one thing wrong with a rig file: where it is, what is wrong, and
// what to do.
type Fault struct {
	File         string
	Line, Column int    // from 1, column in characters; 0: the file as a whole
	Key          string // dotted: "pump.free_flow"; empty if it is no key's fault
	Problem      string // what is wrong and what to do
	Cause        error  // an error of package unit, of the TOML parser or of the reader; may be nil

	what string // what kind of file it is; "": a rig file
}

func (f *Fault) Error() string {
	var b strings.Builder
	what := f.what
	if what == "" {
		what = "rig file"
	}
	b.WriteString(strings.TrimSpace(what + " " + f.File))
	if f.Line > 0 {
		fmt.Fprintf(&b, ", line %d, column %d", f.Line, f.Column)
	}
	b.WriteString(": ")
	if f.Key != "" {
		b.WriteString(f.Key + ": ")
	}
	b.WriteString(f.Problem)
	return b.String()
}

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Cause }

// Faults is everything wrong with a rig file, in the order of its lines, at
// least one.
type Faults []*Fault

// Error puts each fault on a line of its own.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap returns the faults for errors.As.
func (fs Faults) Unwrap() []error {
	list := make([]error, len(fs))
	for i, f := range fs {
		list[i] = f
	}
	return list
}
