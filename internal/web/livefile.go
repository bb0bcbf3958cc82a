package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/internal/session"
	"seatproof/leak"
	"seatproof/trace"
	"seatproof/unit"
)

// liveID is the identity of a test's record: run and number say it, so that
// filing twice files once.
func liveID(run string, number int) string { return run + "-" + strconv.Itoa(number) }

// FileLive files a test of a run with its trace under its port, or, of the blank
// and the known leak, keeps its trace for the check that its reading makes. Done
// twice it is done once.
func (s *Server) FileLive(ctx context.Context, r LiveRun, f session.FileTest, at int64) (LiveRecord, error) {
	id := liveID(r.ID, f.Test)
	out := LiveRecord{ID: id, At: at}
	if r.step(f.Port) != nil { // kept with what the step comes to
		return LiveRecord{ID: r.ID + "-" + f.Port, At: at}, nil
	}
	if of, ok := targetNames[f.Port]; ok {
		_, err := s.keepTrace(ctx, f.Traces[0], of)
		return out, err
	}
	if old, err := load[test](ctx, s.Keeper, kindTest, id); err == nil {
		out.At = old.V.At
		return out, nil
	} else if !errors.Is(err, ErrNotFound) {
		return out, err
	}
	blob, err := s.keepTrace(ctx, f.Traces[0], r.name(f.Port))
	if err != nil {
		return out, err
	}
	t := test{
		ID: id, JobID: r.Job, PortID: f.Port, At: at, By: r.By, Source: head.FromSession, RigID: r.RigID,
		Conditions: r.Conditions, TraceID: blob, ShutOff: f.ShutAt,
	}
	notes := []string{}
	if r.Practise {
		notes = append(notes, "Practice: rig and leak are make-believe.")
	}
	notes = append(notes, checkNotes(f.Check)...)
	if f.Interrupted {
		notes = append(notes, "Cut short.")
	}
	if f.Cut > 0 {
		notes = append(notes, fmt.Sprintf("%.0f s of its steady reading are in the journal of the run only.", f.Cut))
	}
	for i, tr := range f.Traces {
		if i == 0 || tr.Len() == 0 {
			continue
		}
		also, err := s.keepTrace(ctx, tr, r.name(f.Port)+" "+strconv.Itoa(i+1))
		if err != nil {
			return out, err
		}
		t.Beside = append(t.Beside, head.Beside{Gauge: tr.Header.Gauge, TraceID: also})
	}
	t.Note = strings.Join(notes, " ")
	_, err = save(ctx, s, kept[test]{Doc: Doc{Kind: kindTest, ID: id, JobID: t.JobID}, V: t}, t.By)
	var there *Conflict
	if errors.As(err, &there) {
		err = nil
	}
	return out, err
}

func (s *Server) keepTrace(ctx context.Context, t *trace.Trace, name string) (string, error) {
	var b bytes.Buffer
	if err := trace.Write(&b, t); err != nil {
		return "", err
	}
	blob, err := s.Keeper.AddBlob(ctx, strings.ReplaceAll(name, ", ", " ")+".csv", "text/csv", &b)
	return blob.ID, err
}

// checkNotes says on a test what of the check was left out or failed.
func checkNotes(c session.Check) (out []string) {
	for _, x := range []struct {
		name string
		is   session.Outcome
	}{{"The blank", c.Blank}, {"The known leak", c.Known}} {
		switch x.is {
		case session.Skipped:
			out = append(out, x.name+" was skipped.")
		case session.Failed:
			out = append(out, x.name+" did not pass.")
		case session.Unsure:
			out = append(out, x.name+" left it open.")
		}
	}
	return out
}

// MoveLive files a test of a run under another port; what it was stays in its
// history.
func (s *Server) MoveLive(ctx context.Context, r LiveRun, number int, to string) error {
	k, err := load[test](ctx, s.Keeper, kindTest, liveID(r.ID, number))
	if err != nil {
		return err
	}
	if k.V.PortID == to && k.V.JobID == r.Job {
		return nil
	}
	k.V.JobID, k.V.PortID, k.JobID = r.Job, to, r.Job
	_, err = save(ctx, s, k, r.By)
	return err
}

// CheckLive keeps what a test of the blank or the known leak told as a dated
// check of the rig, with its trace; told anew, it is a revision of the same. A
// run without a rig has none to keep it with.
func (s *Server) CheckLive(ctx context.Context, r LiveRun, f session.Filed, c session.Check, tr *trace.Trace, at int64) error {
	if r.RigID == "" || f.Estimate == nil {
		return nil
	}
	kind, words := "rig leak", blankWords(f.Estimate, c.Blank)
	if f.Port == string(session.OnKnown) {
		kind, words = "known leak", knownWords(f.Estimate, c.Known, r.Plan.Known)
	}
	id := liveID(r.ID, f.Test)
	k, err := load[head.Check](ctx, s.Keeper, kindCheck, id)
	switch {
	case errors.Is(err, ErrNotFound):
		k = kept[head.Check]{Doc: Doc{Kind: kindCheck, ID: id}, V: head.Check{ID: id, RigID: r.RigID, At: at, By: r.By, Kind: kind}}
	case err != nil:
		return err
	case k.V.Words == words:
		return nil
	}
	if tr != nil {
		if k.V.TraceID, err = s.keepTrace(ctx, tr, targetNames[f.Port]); err != nil {
			return err
		}
	}
	k.V.Words = words
	s.resultLive(ctx, r, f, &k.V)
	_, err = save(ctx, s, k, r.By)
	return err
}

// resultLive lets a check that was made at the beginning of a session speak as one
// that was made for itself: readings lean on its figure too.
func (s *Server) resultLive(ctx context.Context, r LiveRun, f session.Filed, c *head.Check) {
	c.Step, c.Run, c.Traces, c.Rows, c.Result = stepRigLeak, r.ID, []string{c.TraceID}, []map[string]string{{}}, nil
	if f.Port == string(session.OnKnown) {
		c.Step = stepKnown
		if k := r.Plan.Known; k != nil {
			c.Rows[0]["leak"] = unit.Plain(unit.About(k.Median, (k.High-k.Low)/2), unit.FlowDim, "cm³/min")
		}
	}
	var of faults
	res, err := s.computeCheck(ctx, c, &of)
	if err != nil || of.err() != nil {
		return // its words say what came of it
	}
	res.Days = s.daysBefore(ctx, r.RigID, res.Kind)
	if b, err := json.Marshal(res); err == nil {
		c.Result = b
	}
}

func flowText(i *leak.Interval) string {
	if !(i.Low > 0) {
		return "less than " + report.Figure(i.High*6e7, 2) + " cm³/min"
	}
	return report.Figure(i.Median*6e7, 2) + " cm³/min, " + report.Figure(i.Low*6e7, 2) + " to " + report.Figure(i.High*6e7, 2)
}

func blankWords(e *session.Estimate, is session.Outcome) string {
	if e.Leak == nil {
		return "blank: no reading came of it"
	}
	w := "blank: the rig leaks " + flowText(e.Leak)
	if e.Limit > 0 {
		w += "; a tenth of the smallest limit is " + report.Figure(e.Limit*6e7, 2)
	}
	return w + map[session.Outcome]string{session.Passed: ": passed", session.Failed: ": too much", session.Unsure: ": can't tell", session.Skipped: ": skipped"}[is]
}

func knownWords(e *session.Estimate, is session.Outcome, k *leak.Interval) string {
	if e.Leak == nil {
		return "known leak: no reading came of it"
	}
	w := "known leak: read " + flowText(e.Leak)
	if k != nil {
		w += "; it is " + report.Figure(k.Low*6e7, 2) + " to " + report.Figure(k.High*6e7, 2)
	}
	return w + map[session.Outcome]string{session.Passed: ": passed", session.Failed: ": not passed", session.Skipped: ": skipped"}[is]
}

// practiceRigID is the identity of the rig of practice runs.
const practiceRigID = "practice-rig"

// practiceRig keeps the rig of practice runs as its owner would state it, once,
// and returns its identity.
func (s *Server) practiceRig(ctx context.Context, file string) (string, error) {
	k, err := load[head.Rig](ctx, s.Keeper, kindRig, practiceRigID)
	if errors.Is(err, ErrNotFound) {
		k = kept[head.Rig]{Doc: Doc{Kind: kindRig, ID: practiceRigID}, V: head.Rig{ID: practiceRigID, Name: "practice rig", File: file}}
		_, err = save(ctx, s, k, "")
		return practiceRigID, err
	}
	if err == nil && k.V.File != file {
		k.V.File = file
		_, err = save(ctx, s, k, "")
	}
	return practiceRigID, err
}

// mayPractise refuses a head that has real tests: make-believe ones would stand
// among them and speak for its ports.
func (s *Server) mayPractise(ctx context.Context, k kept[head.Job]) error {
	if k.V.Invented {
		return nil
	}
	tests, err := list[test](ctx, s.Keeper, Query{Kind: kindTest, JobID: k.ID})
	if err != nil {
		return err
	}
	for _, t := range tests {
		if t.V.RigID != practiceRigID {
			what := "This head has tests of its own; make-believe ones would stand among them."
			return &Fault{Status: http.StatusUnprocessableEntity, What: what, Do: "practise on an example, or on a new head like this one", Fields: []FieldFault{{Field: "practise", What: what, Maybe: "Practise on an example, or on a new head like this one."}}}
		}
	}
	return nil
}
