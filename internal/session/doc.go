// Package session runs tests live on a rig: it follows the gauge, knows which
// port is on the plate, and says what to do next.
//
// Start with [Step]: a state and an event give a state and actions. There is no
// clock, goroutine, file or network in here; whoever drives it (one goroutine)
// brings the time with each event, keeps a journal of the events (package
// journal), and carries out the actions. The same events give the same state,
// so a run that was cut short goes on from its journal.
//
//	for e := range events {
//		journal.Append(e)
//		state, actions = session.Step(state, e)
//		for _, a := range actions {
//			// carry it out; of a Look, Read gives the Looked that comes back
//		}
//	}
//
// A phase is found twice: by [Watch] as the samples come, which may err, and by
// the estimator on the whole raw trace, which is what counts.
//
// Words for what is said here are package report's; a [Say] holds a code and
// figures.
package session
