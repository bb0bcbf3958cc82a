package web

import (
	"context"
	"math"
	"net/http"
	"strconv"
	"time"

	"seatproof/head"
	"seatproof/internal/report"
)

func (s *Server) listHeads(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	jobs, err := list[head.Job](r.Context(), s.Keeper, Query{Kind: kindJob, Find: q.Get("find"), Binned: q.Get("binned") != ""})
	if err != nil {
		return err
	}
	type row struct {
		ID       string       `json:"id"`
		Rev      int64        `json:"rev"`
		Number   string       `json:"number"`
		Title    string       `json:"title"`
		Owner    string       `json:"owner"`
		Opened   int64        `json:"opened"`
		Changed  int64        `json:"changed"`
		When     string       `json:"when"`
		Invented bool         `json:"invented"`
		Ports    int          `json:"ports"`
		Counts   []stateCount `json:"counts"`
		Line     string       `json:"line"`
	}
	out := []row{}
	for _, k := range jobs {
		c, err := s.card(r.Context(), k)
		if err != nil {
			return err
		}
		out = append(out, row{k.ID, k.Rev, k.V.Number, k.V.Title, k.V.Owner, k.V.Opened, k.At, day(k.At), k.V.Invented, len(k.V.Ports), c.Counts, c.Line})
	}
	return s.answer(w, http.StatusOK, map[string]any{"heads": out})
}

func (s *Server) drawLayout(w http.ResponseWriter, r *http.Request) error {
	var ask headAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	var f faults
	j, err := s.build(r, ask, &f)
	if err == nil {
		err = f.err()
	}
	if err != nil {
		return err
	}
	plan := report.Plan{Job: j, Width: width(r, 520), Words: report.PlanShort}
	return s.answer(w, http.StatusOK, map[string]any{"head": showHead(kept[head.Job]{V: j}), "plan": plan.SVG(), "lie": report.LieWords(j.Lie)})
}

func width(r *http.Request, usual float64) float64 {
	if n, err := strconv.ParseFloat(r.URL.Query().Get("width"), 64); err == nil && n >= 60 && n <= 4000 {
		return n
	}
	return usual
}

func (s *Server) addHead(w http.ResponseWriter, r *http.Request) error {
	var ask headAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	var f faults
	j, err := s.build(r, ask, &f)
	if err != nil {
		return err
	}
	if j.Number == "" {
		f.add("number", "Give the head a label, as you would write on its tag.", "")
	}
	if err := f.err(); err != nil {
		return err
	}
	j.ID, j.Opened = s.NewID(), s.Now().UnixMilli()
	if j.RigID == "" {
		if set, err := s.loadSettings(r.Context()); err == nil {
			j.RigID = set.V.Rig
		}
	}
	k, err := save(r.Context(), s, kept[head.Job]{Doc: Doc{Kind: kindJob, ID: j.ID, JobID: j.ID}, V: j}, ask.Initials)
	if err != nil {
		return err
	}
	return s.answerHead(w, r, http.StatusCreated, k)
}

// answerHead answers a head with its card and, where the request gives a width to
// draw for, its plan: one answer, so that table and drawing show one state.
func (s *Server) answerHead(w http.ResponseWriter, r *http.Request, status int, k kept[head.Job]) error {
	c, err := s.card(r.Context(), k)
	if err != nil {
		return err
	}
	body := map[string]any{"head": showHead(k), "card": c}
	if px := width(r, 0); px > 0 {
		words := report.PlanFull
		if px <= narrow {
			words = report.PlanShort
		}
		body["plan"] = drawn(report.Plan{Job: k.V, Width: px, Words: words, Ports: c.planPorts(k.ID, true), Valves: c.planValves()})
	}
	return s.answer(w, status, body)
}

// narrow is how wide a drawing [px] says no more than the ports' names.
const narrow = 560

// planShown is a drawing with its scale bar.
type planShown struct {
	SVG string  `json:"svg"`
	Bar float64 `json:"bar"` // px that 50 mm are
	Is  string  `json:"bar_words"`
}

func drawn(p report.Plan) planShown {
	words := "50 mm"
	if _, guessed := p.Job.BoreOr(); guessed {
		words = "about 50 mm, the bore is guessed"
	}
	return planShown{p.SVG(), math.Round(10*p.ScaleBar()) / 10, words}
}

func (s *Server) job(r *http.Request) (kept[head.Job], error) {
	return s.jobOf(r.Context(), r.PathValue("id"))
}

func (s *Server) jobOf(ctx context.Context, id string) (kept[head.Job], error) {
	return load[head.Job](ctx, s.Keeper, kindJob, id)
}

func (s *Server) getHead(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	return s.answerHead(w, r, http.StatusOK, k)
}

func (s *Server) getCard(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	c, err := s.card(r.Context(), k)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, c)
}

func (s *Server) binHead(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	if k, err = bin(w, r, s, k); err != nil {
		return err
	}
	return s.answerHead(w, r, http.StatusOK, k)
}

// bin takes a record out of the lists, or puts it back, as the path says.
func bin[T any](w http.ResponseWriter, r *http.Request, s *Server, k kept[T]) (kept[T], error) {
	var ask struct {
		Rev int64  `json:"rev"`
		By  string `json:"by"`
	}
	switch r.PathValue("what") {
	case "bin", "unbin":
	default:
		return k, &Fault{Status: http.StatusNotFound, What: "the API has no such way", Do: "see docs/api.md"}
	}
	if err := take(w, r, &ask); err != nil {
		return k, err
	}
	if ask.Rev != k.Rev {
		return k, &Conflict{Now: k.Doc}
	}
	k.Binned = r.PathValue("what") == "bin"
	return save(r.Context(), s, k, ask.By)
}

func (s *Server) getPlan(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	words := report.PlanWords(q.Get("words"))
	if words == "" {
		words = report.PlanFull
	}
	plan := report.Plan{Job: k.V, Width: width(r, 760), Words: words, Here: q.Get("here")}
	if plan.Here == "" {
		c, err := s.card(r.Context(), k)
		if err != nil {
			return err
		}
		plan.Ports, plan.Valves = c.planPorts(k.ID, words != report.PlanNone), c.planValves()
	}
	w.Header().Set("Content-Type", "image/svg+xml; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Scale-50mm", strconv.FormatFloat(plan.ScaleBar(), 'f', 1, 64))
	_, _ = w.Write([]byte(plan.SVG()))
	return nil
}

// asNow shows a record as it is now, for a conflict.
func (s *Server) asNow(ctx context.Context, d Doc) any {
	switch d.Kind {
	case kindJob:
		if k, err := decoded[head.Job](d); err == nil {
			return showHead(k)
		}
	case kindTest:
		if k, err := decoded[test](d); err == nil {
			if t, err := s.showTest(ctx, k, nil); err == nil {
				return t
			}
		}
	case kindRig:
		if k, err := decoded[head.Rig](d); err == nil {
			return s.showRig(k, nil)
		}
	}
	return map[string]any{"id": d.ID, "rev": d.Rev}
}

// day and moment write a time as people of the bench do.
func day(ms int64) string    { return time.UnixMilli(ms).Format("2 Jan 2006") }
func moment(ms int64) string { return time.UnixMilli(ms).Format("2 Jan 15:04") }
