package web

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"strings"

	"seatproof/check"
	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
)

// wallShown is a wall card on its sheet.
type wallShown struct {
	Rig    wallRig         `json:"rig"`
	Head   string          `json:"head"`   // identity; "": the valves were typed
	Valves string          `json:"valves"` // as typed
	Heads  []wallHead      `json:"heads"`
	Held   []word          `json:"held"`
	Blank  string          `json:"blank"`
	Ports  []wallPortShown `json:"ports"`
	SVG    string          `json:"svg"`
	PDF    string          `json:"pdf"` // where it is, under /api/; "": no card
	Lapses string          `json:"lapses"`
	Says   []string        `json:"says"` // what was guessed, which check failed
}

type wallRig struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

type wallHead struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

type wallPortShown struct {
	Name   string    `json:"name"`
	Valves string    `json:"valves"`
	Rows   []wallRow `json:"rows"`
}

// wallRow is a figure of a card with the words about it.
type wallRow = report.CardRow

// wallHeld are the ways a card may be made for; "" is both of a light spring and
// a thumb.
var wallHeld = []word{{Code: "", Word: "light spring or thumb"}, {Code: string(rig.HeldOwnSpring), Word: "own springs"}, {Code: string(rig.HeldNothing), Word: "the vacuum alone"}}

// wallOf works out the card that a request asks for; a nil card with no error: it
// names no ports yet.
func (s *Server) wallOf(ctx context.Context, r *http.Request) (report.WallCard, *wallShown, error) {
	ask := r.URL.Query()
	var none report.WallCard
	g, err := load[head.Rig](ctx, s.Keeper, kindRig, r.PathValue("id"))
	if err != nil {
		return none, nil, err
	}
	_, results, err := s.rigChecks(ctx, g.ID)
	if err != nil {
		return none, nil, err
	}
	rg, unread := s.ReadRig(g.V.File)
	if len(unread) > 0 {
		return none, nil, &Fault{What: "the rig's file can't be read: " + unread[0].Problem, Do: "mend the file first"}
	}
	now := s.Now()
	out := &wallShown{Rig: wallRig{g.ID, g.V.Name}, Head: ask.Get("head"), Valves: ask.Get("valves"), Heads: []wallHead{}, Held: wallHeld, Ports: []wallPortShown{}, Says: []string{}}
	heads, err := list[head.Job](ctx, s.Keeper, Query{Kind: kindJob})
	if err != nil {
		return none, nil, err
	}
	job := check.CardJob{Rig: check.Apply(rg, results, now), Held: rig.Held(ask.Get("held"))}
	if !known(wallHeld, string(job.Held)) {
		job.Held = rig.HeldNotSaid
	}
	if u := ask.Get("unit"); u != "" {
		if named, ok := report.UnitNamed(u); ok {
			job.Unit = named.Name
		}
	} else if rg.Gauge.Unit == "" {
		job.Unit = gaugeUnit(rg)
	}
	card := report.WallCard{Rig: g.V.Name, Date: now.Format("2 January 2006"), Version: s.Version}
	mine := ""
	for _, h := range heads {
		name := strings.TrimPrefix(h.V.Number+", "+h.V.Title, ", ")
		out.Heads = append(out.Heads, wallHead{h.ID, strings.TrimSuffix(name, ", ")})
		if h.V.RigID == g.ID && mine == "" {
			mine = h.ID
		}
	}
	if out.Head == "" && out.Valves == "" {
		out.Head = mine
	}
	switch {
	case out.Head != "":
		j, err := load[head.Job](ctx, s.Keeper, kindJob, out.Head)
		if err != nil {
			return none, nil, err
		}
		known, err := s.reckoned(ctx, j, job.Rig)
		if err != nil {
			return none, nil, err
		}
		job.Ports, job.Engine = report.CardPorts(&known, job.Rig), report.EngineLimit(&known)
		card.Title, card.Number, card.Invented = j.V.Title, j.V.Number, j.V.Invented
	case out.Valves != "":
		var f faults
		if job.Ports, err = report.CardValves(out.Valves, job.Rig); err != nil {
			f.add("valves", "These are no sizes of valves.", "Write "+report.CardValvesHint+".")
			return none, nil, f.err()
		}
	}
	standing := check.Current(results, now)
	card.Lapses = report.CardLapses(standing)
	for _, x := range standing {
		if x.Result != nil && x.Result.Verdict == check.Failed {
			out.Says = append(out.Says, "The last check of this rig was not passed: "+string(x.Kind)+". Mend the rig and check it again before this card goes on the wall.")
		}
	}
	if len(job.Ports) == 0 {
		return card, out, nil
	}
	if card.Card, err = s.walls.of(job, func() (*check.Card, error) { return check.MakeCard(job) }); err != nil {
		return none, nil, cardFault(err)
	}
	return card, out, nil
}

func (s *Server) getWallCard(w http.ResponseWriter, r *http.Request) error {
	card, out, err := s.wallOf(r.Context(), r)
	if err != nil {
		return err
	}
	if card.Card != nil {
		out.Blank = card.Lines()[0]
		for _, l := range card.Ports {
			out.Ports = append(out.Ports, wallPortShown{l.Name, report.PortWords(l), card.Rows(l)})
		}
		if out.SVG, err = report.WallCardSVG(card); err != nil {
			return cardFault(err)
		}
		out.Lapses = card.Lapses
		out.Says = append(out.Says, card.Guessed()...)
		q := url.Values{}
		for _, k := range []string{"held", "unit"} {
			if v := r.URL.Query().Get(k); v != "" {
				q.Set(k, v)
			}
		}
		if out.Head != "" {
			q.Set("head", out.Head)
		} else {
			q.Set("valves", out.Valves)
		}
		out.PDF = "rigs/" + out.Rig.ID + "/card.pdf?" + q.Encode()
	}
	return s.answer(w, http.StatusOK, map[string]any{"card": out})
}

func (s *Server) getWallPDF(w http.ResponseWriter, r *http.Request) error {
	card, _, err := s.wallOf(r.Context(), r)
	if err != nil {
		return err
	}
	if card.Card == nil {
		return &Fault{Status: http.StatusUnprocessableEntity, What: "no head and no valves were named", Do: "name a head"}
	}
	var b bytes.Buffer
	if err := report.WriteWallCardPDF(&b, card); err != nil {
		return cardFault(err)
	}
	attach(w, safeName("wall-card "+card.Number)+".pdf")
	w.Header().Set("Content-Type", "application/pdf")
	_, _ = w.Write(b.Bytes())
	return nil
}

// cardFault says in the sheets' way why there is no card.
func cardFault(err error) error {
	what, do, _ := strings.Cut(strings.TrimPrefix(err.Error(), "wall card: "), "; ")
	return &Fault{Status: http.StatusUnprocessableEntity, What: what, Do: do}
}
