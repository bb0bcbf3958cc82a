package web

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"

	"seatproof/head"
)

// happening is one thing that happened to a head or one of its tests.
type happening struct {
	At      int64             `json:"at"`
	When    string            `json:"when"`
	By      string            `json:"by"`
	Kind    string            `json:"kind"` // of the record: job, test, work, photo, observed
	ID      string            `json:"id"`
	Rev     int64             `json:"rev"`
	Words   string            `json:"words"` // "booked in", "moved from cylinder 1 intake to cylinder 2 intake"
	Port    string            `json:"port"`  // its sheet; "" for none
	Changes []head.Difference `json:"changes"`
}

type revisionShown struct {
	Rev     int64             `json:"rev"`
	At      int64             `json:"at"`
	When    string            `json:"when"`
	By      string            `json:"by"`
	Binned  bool              `json:"binned"`
	Changes []head.Difference `json:"changes"`
}

func happened(d Doc, words string) happening {
	return happening{At: d.At, When: moment(d.At), By: d.By, Kind: d.Kind, ID: d.ID, Rev: d.Rev, Words: words, Changes: []head.Difference{}}
}

// headHistory says what happened to a head, to its tests (also those that are
// elsewhere now) and on it, newest first.
func (s *Server) headHistory(w http.ResponseWriter, r *http.Request) error {
	ctx, id := r.Context(), r.PathValue("id")
	docs, err := s.Keeper.History(ctx, kindJob, id)
	if err != nil {
		return err
	}
	jobs := make([]head.Job, len(docs))
	for i, d := range docs {
		k, err := decoded[head.Job](d)
		if err != nil {
			return err
		}
		jobs[i] = k.V
	}
	revisions, all := headRevisions(docs, jobs)
	more, err := s.testsHappened(ctx, id, jobs)
	if err != nil {
		return err
	}
	all = append(all, more...)
	if more, err = s.loggedOn(ctx, id, &jobs[len(jobs)-1], jobs); err != nil {
		return err
	}
	all = append(all, more...)
	if more, err = s.observedHappened(ctx, id, jobs); err != nil {
		return err
	}
	all = append(all, more...)
	slices.SortStableFunc(all, func(a, b happening) int { return cmp.Or(cmp.Compare(b.At, a.At), cmp.Compare(b.Rev, a.Rev)) })
	pictures, err := s.strayPictures(r, id, &jobs[len(jobs)-1], jobs)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, map[string]any{"revisions": revisions, "events": all, "pictures": pictures})
}

// headRevisions says what each revision of a head changed.
func headRevisions(docs []Doc, jobs []head.Job) ([]revisionShown, []happening) {
	revisions, all := []revisionShown{}, []happening{}
	for i, d := range docs {
		changes := []head.Difference{}
		if i > 0 {
			changes = append(changes, head.Alike(&jobs[i], head.Differences(&jobs[i-1], &jobs[i]))...)
		}
		revisions = append(revisions, revisionShown{d.Rev, d.At, moment(d.At), d.By, d.Binned, changes})
		words := "changed"
		switch {
		case i == 0:
			words = "booked in: " + jobs[i].LayoutWords()
		case d.Binned && !docs[i-1].Binned:
			words = "put into the bin"
		case !d.Binned && docs[i-1].Binned:
			words = "taken out of the bin"
		case len(changes) == 0:
			words = "saved as it was"
		}
		h := happened(d, words)
		h.Changes = changes
		all = append(all, h)
	}
	return revisions, all
}

// everOn returns the identities of all tests that any revision of was on a head:
// one that was moved elsewhere is not listed there any more.
func (s *Server) everOn(ctx context.Context, job string) ([]string, error) {
	var out []string
	for seq := int64(0); ; {
		changes, err := s.Keeper.Since(ctx, seq)
		if err != nil || len(changes) == 0 {
			return out, err
		}
		for _, c := range changes {
			if c.Kind == kindTest && c.JobID == job && !slices.Contains(out, c.ID) {
				out = append(out, c.ID)
			}
			seq = c.Seq
		}
	}
}

// testsHappened says what happened to the tests of a head.
func (s *Server) testsHappened(ctx context.Context, job string, jobs []head.Job) ([]happening, error) {
	ids, err := s.everOn(ctx, job)
	if err != nil {
		return nil, err
	}
	var out []happening
	for _, id := range ids {
		docs, err := s.Keeper.History(ctx, kindTest, id)
		if errors.Is(err, ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		events, err := testHappened(docs, func(t test) string { return s.placeOf(ctx, t, job, jobs) })
		if err != nil {
			return nil, err
		}
		out = append(out, events...)
	}
	return out, nil
}

// placeOf names where a test was filed: by the head's own words, also of a port
// that is gone.
func (s *Server) placeOf(ctx context.Context, t test, job string, jobs []head.Job) string {
	if t.JobID == "" {
		return "the tray"
	}
	if t.JobID != job {
		k, err := s.jobOf(ctx, t.JobID)
		if err != nil {
			return "another head"
		}
		return k.V.PortName(t.PortID) + " of " + k.V.Number
	}
	return portName(t.PortID, jobs)
}

// portName names a port as the newest revision that has it does.
func portName(id string, jobs []head.Job) string {
	for _, j := range slices.Backward(jobs) {
		if slices.ContainsFunc(j.Ports, func(p head.Port) bool { return p.ID == id }) {
			return j.PortName(id)
		}
	}
	return "no port"
}

const valveGone = "a valve taken out since"

// valveName is likewise for a valve.
func valveName(id string, jobs []head.Job) string {
	for _, j := range slices.Backward(jobs) {
		if slices.ContainsFunc(j.Valves, func(v head.Valve) bool { return v.ID == id }) {
			return j.ValveName(id)
		}
	}
	return valveGone
}

// testHappened says what each revision of a test changed.
func testHappened(docs []Doc, place func(test) string) ([]happening, error) {
	var out []happening
	var was test
	for i, d := range docs {
		k, err := decoded[test](d)
		if err != nil {
			return nil, err
		}
		is := k.V
		of := "the test of " + moment(is.At)
		var changes []head.Difference
		var words string
		switch {
		case i == 0:
			words = of + " was filed: " + place(is) + ", " + wordOf(sourceWords, is.Source)
		case d.Binned && !docs[i-1].Binned:
			words = of + ", " + place(is) + ", was put into the bin"
		case !d.Binned && docs[i-1].Binned:
			words = of + " was taken out of the bin: " + place(is)
		case is.JobID != was.JobID || is.PortID != was.PortID:
			words = of + " was moved from " + place(was) + " to " + place(is)
		default:
			words = of + ", " + place(is) + ", was changed"
		}
		if i > 0 {
			changes = testDifferences(was, is)
		}
		h := happened(d, words)
		h.Port = is.PortID
		h.Changes = append(h.Changes, changes...)
		out, was = append(out, h), is
	}
	return out, nil
}

// testDifferences says in words what a person changed of a test.
func testDifferences(was, is test) []head.Difference {
	var out []head.Difference
	text := func(what, a, b string) {
		if a != b {
			out = append(out, head.Difference{What: what, Was: a, Is: b})
		}
	}
	yes := map[bool]string{true: "yes", false: "no"}
	a, b := was.Conditions, is.Conditions
	text("valves held by", wordOf(heldWords, a.Held), wordOf(heldWords, b.Held))
	text("seats", wordOf(wetWords, a.Wet), wordOf(wetWords, b.Wet))
	text("guides", wordOf(guideWords, a.Guide), wordOf(guideWords, b.Guide))
	text("other openings plugged", wordOf(answerWords, a.Plugged), wordOf(answerWords, b.Plugged))
	text("state", wordOf(conditionWords, a.State), wordOf(conditionWords, b.State))
	text("valves turned and dropped", yes[a.Turned], yes[b.Turned])
	text("plate put down again", yes[a.Placed], yes[b.Placed])
	text("masked", strings.Join(a.Masked, " "), strings.Join(b.Masked, " "))
	text("note", was.Note, is.Note)
	text("made by", was.By, is.By)
	text("made at", moment(was.At), moment(is.At))
	text("columns", was.Columns, is.Columns)
	return out
}

// loggedOn tells of the work and the photos of a head.
func (s *Server) loggedOn(ctx context.Context, id string, now *head.Job, jobs []head.Job) ([]happening, error) {
	work, err := list[head.Work](ctx, s.Keeper, Query{Kind: kindWork, JobID: id})
	if err != nil {
		return nil, err
	}
	var out []happening
	for _, w := range work {
		on := []string{}
		for _, v := range w.V.Valves {
			on = append(on, valveName(v, jobs))
		}
		words := wordOf(workWords, w.V.Kind) + ", the whole head"
		if len(on) > 0 {
			words = wordOf(workWords, w.V.Kind) + ": " + strings.Join(on, "; ")
		}
		if w.V.Note != "" {
			words += ". " + w.V.Note
		}
		h := happened(w.Doc, words)
		h.At, h.When = w.V.At, moment(w.V.At)
		out = append(out, h)
	}
	pictures, err := list[picture](ctx, s.Keeper, Query{Kind: kindPhoto, JobID: id})
	if err != nil {
		return nil, err
	}
	for _, p := range pictures {
		words := p.V.Name + " was added"
		if p.V.Port != "" {
			words += ": " + portName(p.V.Port, jobs)
		}
		h := happened(p.Doc, words)
		if slices.ContainsFunc(now.Ports, func(x head.Port) bool { return x.ID == p.V.Port }) {
			h.Port = p.V.Port
		}
		out = append(out, h)
	}
	return out, nil
}

// strayPictures are those of ports that were taken out: no port's sheet shows
// them any more.
func (s *Server) strayPictures(r *http.Request, id string, now *head.Job, jobs []head.Job) ([]pictureShown, error) {
	all, err := s.picturesOf(r, id, "")
	if err != nil {
		return nil, err
	}
	out := []pictureShown{}
	for _, p := range all {
		if p.Port == "" || slices.ContainsFunc(now.Ports, func(x head.Port) bool { return x.ID == p.Port }) {
			continue
		}
		p.Note = strings.TrimSuffix(portName(p.Port, jobs)+", "+p.Note, ", ")
		out = append(out, p)
	}
	return out, nil
}

// testHistory says what happened to one test.
func (s *Server) testHistory(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	docs, err := s.Keeper.History(ctx, kindTest, r.PathValue("id"))
	if err != nil {
		return err
	}
	known := map[string][]head.Job{}
	out, err := testHappened(docs, func(t test) string {
		if _, ok := known[t.JobID]; !ok && t.JobID != "" {
			past, _ := s.Keeper.History(ctx, kindJob, t.JobID)
			known[t.JobID] = nil
			for _, d := range past {
				if k, err := decoded[head.Job](d); err == nil {
					known[t.JobID] = append(known[t.JobID], k.V)
				}
			}
		}
		jobs := known[t.JobID]
		name := s.placeOf(ctx, t, t.JobID, jobs)
		if len(jobs) > 0 {
			name += " of " + jobs[len(jobs)-1].Number
		}
		return name
	})
	if err != nil {
		return err
	}
	slices.Reverse(out)
	return s.answer(w, http.StatusOK, map[string]any{"events": out})
}
