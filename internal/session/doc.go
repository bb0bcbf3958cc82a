// Package session runs tests live on a rig: it follows the gauge, knows which
// port is on the plate, and says what to do next.
//
// Start with [Step]: a state and an event give a state and actions. There is no
// clock, goroutine, file or network in here; whoever drives it (one goroutine)
// brings the time with each event, keeps a journal of the events (package
// journal), and carries out the actions. The same events give the same state,
// so a run that was cut short goes on from its journal.
//
// Words for what is said here are package report's; a [Say] holds a code and
// figures.
package session
