package web

import (
	"context"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/unit"
)

type engineShown struct {
	Cylinders        int    `json:"cylinders"`
	Bore             *shown `json:"bore"`
	Stroke           *shown `json:"stroke"`
	Rod              *shown `json:"rod"`
	Chamber          *shown `json:"chamber"`
	CompressionRatio *shown `json:"compression_ratio"`
}

type portShown struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	Short     string    `json:"short"`
	Cylinders []int     `json:"cylinders"`
	Side      head.Side `json:"side"`
	Part      string    `json:"part"`
	Valves    []string  `json:"valves"`
	Plugs     []string  `json:"plugs"`
	Volume    *shown    `json:"volume"`
}

type valveShown struct {
	ID       string    `json:"id"`
	Name     string    `json:"name"`
	Cylinder int       `json:"cylinder"`
	Side     head.Side `json:"side"`
	Place    string    `json:"place"`
	Head     *shown    `json:"head_diameter"`
	Contact  *shown    `json:"contact_width"`
}

type limitShown struct {
	Flow   *shown `json:"flow"`
	Gap    *shown `json:"gap"`
	Strict bool   `json:"strict"`
}

type headShown struct {
	ID       string       `json:"id"`
	Rev      int64        `json:"rev"`
	Binned   bool         `json:"binned"`
	Number   string       `json:"number"`
	Title    string       `json:"title"`
	Owner    string       `json:"owner"`
	Initials string       `json:"initials"`
	Opened   int64        `json:"opened"`
	Notes    string       `json:"notes"`
	Invented bool         `json:"invented"`
	Engine   engineShown  `json:"engine"`
	Lie      head.Lie     `json:"lie"`
	Ports    []portShown  `json:"ports"`
	Valves   []valveShown `json:"valves"`
	Limit    limitShown   `json:"limit"`
	Rig      string       `json:"rig"`
}

func showPort(j *head.Job, p head.Port) portShown {
	return portShown{
		p.ID, j.PortName(p.ID), shortName(j.PortName(p.ID)), p.Cylinders, p.Side, p.Part,
		append([]string{}, p.Valves...), append([]string{}, p.Plugs...), show(p.Volume, unit.VolumeDim, "cm³"),
	}
}

func showHead(k kept[head.Job]) headShown {
	j := k.V
	e := j.Engine
	h := headShown{
		ID: k.ID, Rev: k.Rev, Binned: k.Binned, Number: j.Number, Title: j.Title, Owner: j.Owner, Initials: j.Initials,
		Opened: j.Opened, Notes: j.Notes, Invented: j.Invented, Lie: j.Lie, Rig: j.RigID, Ports: []portShown{}, Valves: []valveShown{},
		Engine: engineShown{e.Cylinders, show(e.Bore, unit.LengthDim, "mm"), show(e.Stroke, unit.LengthDim, "mm"), show(e.Rod, unit.LengthDim, "mm"), show(e.Chamber, unit.VolumeDim, "cm³"), show(e.CompressionRatio, unit.RatioDim, "")},
		Limit:  limitShown{show(j.Limit.Flow, unit.FlowDim, "cm³/min"), show(j.Limit.Gap, unit.LengthDim, "µm"), j.Limit.Strict},
	}
	for _, p := range j.Ports {
		h.Ports = append(h.Ports, showPort(&j, p))
	}
	for _, v := range j.Valves {
		h.Valves = append(h.Valves, valveShown{v.ID, j.ValveName(v.ID), v.Cylinder, v.Side, v.Place, show(v.Head, unit.LengthDim, "mm"), show(v.Contact, unit.LengthDim, "mm")})
	}
	return h
}

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
		body["plan"] = drawn(report.Plan{Job: k.V, Width: px, Words: words, Ports: c.planPorts(k.ID, true)})
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

func (s *Server) headHistory(w http.ResponseWriter, r *http.Request) error {
	docs, err := s.Keeper.History(r.Context(), kindJob, r.PathValue("id"))
	if err != nil {
		return err
	}
	out := []map[string]any{}
	for _, d := range docs {
		out = append(out, map[string]any{"rev": d.Rev, "at": d.At, "by": d.By, "binned": d.Binned})
	}
	return s.answer(w, http.StatusOK, map[string]any{"revisions": out})
}

// putAsk holds only what changes.
type putAsk struct {
	Rev      int64   `json:"rev"`
	By       string  `json:"by"`
	Number   *string `json:"number"`
	Title    *string `json:"title"`
	Owner    *string `json:"owner"`
	Initials *string `json:"initials"`
	Notes    *string `json:"notes"`
	Rig      *string `json:"rig"`
	Insist   bool    `json:"insist"`
	Lie      lieAsk  `json:"lie"`
	Engine   struct {
		Bore             *asked `json:"bore"`
		Stroke           *asked `json:"stroke"`
		Rod              *asked `json:"rod"`
		Chamber          *asked `json:"chamber"`
		CompressionRatio *asked `json:"compression_ratio"`
	} `json:"engine"`
	Limit struct {
		Flow   *asked `json:"flow"`
		Gap    *asked `json:"gap"`
		Strict *bool  `json:"strict"`
	} `json:"limit"`
	Ports []struct {
		ID     string    `json:"id"`
		Plugs  *[]string `json:"plugs"`
		Volume *asked    `json:"volume"`
	} `json:"ports"`
	Valves []struct {
		ID      string `json:"id"`
		Head    *asked `json:"head_diameter"`
		Contact *asked `json:"contact_width"`
	} `json:"valves"`
}

func (a putAsk) change(j *head.Job) error {
	var f faults
	put := func(to *unit.Measured, given *asked, dim unit.Dimension, u, field string) {
		if given != nil {
			*to = given.positive(dim, u, field, &f)
		}
	}
	e := &j.Engine
	put(&e.Bore, a.Engine.Bore, unit.LengthDim, "mm", "engine.bore")
	put(&e.Stroke, a.Engine.Stroke, unit.LengthDim, "mm", "engine.stroke")
	put(&e.Rod, a.Engine.Rod, unit.LengthDim, "mm", "engine.rod")
	put(&e.Chamber, a.Engine.Chamber, unit.VolumeDim, "cm³", "engine.chamber")
	put(&e.CompressionRatio, a.Engine.CompressionRatio, unit.RatioDim, "", "engine.compression_ratio")
	put(&j.Limit.Flow, a.Limit.Flow, unit.FlowDim, "cm³/min", "limit.flow")
	put(&j.Limit.Gap, a.Limit.Gap, unit.LengthDim, "µm", "limit.gap")
	set(&j.Limit.Strict, a.Limit.Strict)
	j.Ports, j.Valves = slices.Clone(j.Ports), slices.Clone(j.Valves)
	for _, p := range a.Ports {
		i := slices.IndexFunc(j.Ports, func(q head.Port) bool { return q.ID == p.ID })
		if i < 0 {
			f.add("ports."+p.ID, "This head has no such port.", "")
			continue
		}
		set(&j.Ports[i].Plugs, p.Plugs)
		put(&j.Ports[i].Volume, p.Volume, unit.VolumeDim, "cm³", "ports."+p.ID+".volume")
	}
	for _, v := range a.Valves {
		i := slices.IndexFunc(j.Valves, func(q head.Valve) bool { return q.ID == v.ID })
		if i < 0 {
			f.add("valves."+v.ID, "This head has no such valve.", "")
			continue
		}
		put(&j.Valves[i].Head, v.Head, unit.LengthDim, "mm", "valves."+v.ID+".head_diameter")
		put(&j.Valves[i].Contact, v.Contact, unit.LengthDim, "mm", "valves."+v.ID+".contact_width")
	}
	set(&j.Number, a.Number)
	set(&j.Title, a.Title)
	set(&j.Owner, a.Owner)
	set(&j.Initials, a.Initials)
	set(&j.Notes, a.Notes)
	set(&j.RigID, a.Rig)
	a.Lie.to(&j.Lie)
	if len(f) == 0 {
		var wrong faults
		wrong.take("", j.Validate(), a.Insist)
		for _, x := range wrong { // by identity, as the API names valves and ports
			for _, list := range []struct {
				name string
				id   func(int) string
			}{{"valves.", func(i int) string { return j.Valves[i].ID }}, {"ports.", func(i int) string { return j.Ports[i].ID }}} {
				if rest, ok := strings.CutPrefix(x.Field, list.name); ok {
					if n, after, ok := strings.Cut(rest, "."); ok {
						if i, err := strconv.Atoi(n); err == nil {
							x.Field = list.name + list.id(i) + "." + after
						}
					}
				}
			}
			f = append(f, x)
		}
	}
	return f.err()
}

func (s *Server) putHead(w http.ResponseWriter, r *http.Request) error {
	var ask putAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := s.job(r)
	if err != nil {
		return err
	}
	if ask.Rev != k.Rev {
		return &Conflict{Now: k.Doc}
	}
	if err := ask.change(&k.V); err != nil {
		return err
	}
	if k, err = save(r.Context(), s, k, ask.By); err != nil {
		return err
	}
	return s.answerHead(w, r, http.StatusOK, k)
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
		Rev int64 `json:"rev"`
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
	return save(r.Context(), s, k, "")
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
		plan.Ports = c.planPorts(k.ID, words != report.PlanNone)
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
