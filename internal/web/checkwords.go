package web

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/leak"
)

// standingShown is where one kind of check stands, in a line.
type standingShown struct {
	Kind  check.Kind `json:"kind"`
	Name  string     `json:"name"`
	State string     `json:"state"`
	Word  string     `json:"word"`
	Value string     `json:"value"`
	When  string     `json:"when"`
	Until string     `json:"until"`
}

// standingOf says where the checks of a rig stand: those that were made, and all
// in a sentence.
func (s *Server) standingOf(rigID, gauge string, checks []kept[head.Check]) ([]standingShown, string) {
	var results []check.Result
	for _, c := range slices.Backward(checks) {
		if c.V.RigID == rigID {
			if r, ok := resultOf(c.V); ok {
				results = append(results, r)
			}
		}
	}
	st := s.style(context.Background())
	if u, ok := report.UnitNamed(gauge); ok {
		st.Unit = u
	}
	out := []standingShown{}
	var all []checkShownKind
	for _, x := range check.Current(results, s.Now()) {
		k := s.showKind(&x, nil, st, 0, s.Now())
		all = append(all, k)
		if x.Result != nil {
			out = append(out, standingShown{k.Kind, k.Name, k.State, k.Word, k.Value, k.When, k.Until})
		}
	}
	return out, standingLine(all)
}

// narrowPort says on a port's sheet which check would narrow its reading most.
type narrowPort struct {
	Words string `json:"words"`
	Rig   string `json:"rig"`
	kind  check.Kind
}

// narrowOf says which check of a test's rig would narrow its reading most; nil:
// none would by a twentieth, or no rig is named.
func (s *Server) narrowOf(rd *leak.Reading, b bench, t *test) *narrowPort {
	if t.RigID == "" {
		return nil
	}
	r, bad := s.ReadRig(b.rigs[t.RigID])
	if len(bad) > 0 {
		return nil
	}
	results := b.checks[t.RigID]
	r = check.Apply(r, results, b.speaks(t))
	r.Port.Held, r.Port.WetWith = t.Conditions.Held, t.Conditions.Wet
	if i := slices.IndexFunc(b.job.Ports, func(p head.Port) bool { return p.ID == t.PortID }); i >= 0 && (b.job.Ports[i].Volume.Known || !r.Port.Volume.Known) {
		r.Port.Volume, r.Port.VolumeGuessed = b.job.VolumeOr(&b.job.Ports[i])
	}
	if gains := check.Worth(rd, r, results, s.Now()); len(gains) > 0 {
		return &narrowPort{sentence(gains[0].Words), t.RigID, gains[0].Kind}
	}
	return nil
}

// guessedOf are the guesses that a check would put right, as they begin.
var guessedOf = map[check.Kind]string{
	check.KindVolume: "rig volume", check.KindGauge: "gauge", check.KindRigLeak: "rig leak", check.KindBlanked: "blanked", check.KindPump: "pump", check.KindHead: "temperature",
}

// once leaves out of what was guessed what the check that would narrow a reading
// most says already.
func (n *narrowPort) once(guessed []string) []string {
	if n == nil || guessedOf[n.kind] == "" {
		return guessed
	}
	return slices.DeleteFunc(slices.Clone(guessed), func(g string) bool { return strings.HasPrefix(g, guessedOf[n.kind]) })
}

// faultyKinds are the kinds of check that a verdict can't lean on where they were
// not passed.
var faultyKinds = []check.Kind{check.KindZero, check.KindGauge, check.KindBlanked, check.KindRigLeak, check.KindKnown, check.KindShutOff, check.KindDry}

// askForCheck lets the next step lean on the checks of the rig: one that was not
// passed comes first, and where none was made today, what is old is named.
func (c *card) askForCheck(rigID string, b bench) {
	if rigID == "" || len(b.checks[rigID]) == 0 {
		return
	}
	var failed, old []string
	do := ""
	for _, x := range check.Current(b.checks[rigID], b.now) {
		switch {
		case x.Result == nil:
		case x.Old:
			old = append(old, lowerFirst(checkNames[x.Kind]))
		case x.Result.Verdict == check.Failed && slices.Contains(faultyKinds, x.Kind):
			failed = append(failed, lowerFirst(checkNames[x.Kind]))
			if do == "" {
				do = x.Result.Do
			}
		}
	}
	i := slices.IndexFunc(c.Next, func(n cardNext) bool { return n.Kind == head.TodoCheck })
	if len(failed) > 0 && len(c.Next) > 0 {
		n := cardNext{
			Kind: head.TodoCheck, Valves: []string{}, Do: "Check the rig", Head: "The rig did not pass: " + strings.Join(failed, ", ") + ".",
			Words: sentence(either(do, "See to it, then check it again")), Reason: "A verdict leans on the rig that it was made on.",
		}
		if i >= 0 {
			c.Next = slices.Delete(c.Next, i, i+1)
		}
		c.Next = slices.Insert(c.Next, 0, n)
		return
	}
	if i >= 0 && len(old) > 0 {
		c.Next[i].Reason = "Old by now: " + strings.Join(old, ", ") + ". A weeping fitting or a faulty gauge is found before a valve is blamed."
	}
}

// addPractice keeps the practice rig of which nothing is known, and answers with
// its check.
func (s *Server) addPractice(w http.ResponseWriter, r *http.Request) error {
	var ask struct{}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if err := s.noLive(); err != nil {
		return err
	}
	if err := s.bareRig(r.Context()); err != nil {
		return err
	}
	return s.answerCheck(w, r.Context(), http.StatusOK, bareRigID, 0)
}
