package web

import (
	"net/http"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/unit"
)

// observedAsk is an observed figure as a person enters it.
type observedAsk struct {
	Rev      int64             `json:"rev"`
	Kind     head.ObservedKind `json:"kind"`
	Cylinder int               `json:"cylinder"`
	Port     string            `json:"port"`
	Fields   map[string]string `json:"fields"`
	Note     string            `json:"note"`
	By       string            `json:"by"`
	At       int64             `json:"at"`
	Insist   bool              `json:"insist"` // what is odd is so
}

func (s *Server) addObserved(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	return s.keepObserved(w, r, k, kept[head.Observed]{Doc: Doc{Kind: kindObserved, ID: s.NewID(), JobID: k.ID}}, http.StatusCreated)
}

func (s *Server) putObserved(w http.ResponseWriter, r *http.Request) error {
	o, err := load[head.Observed](r.Context(), s.Keeper, kindObserved, r.PathValue("id"))
	if err != nil {
		return err
	}
	k, err := s.jobOf(r.Context(), o.JobID)
	if err != nil {
		return err
	}
	return s.keepObserved(w, r, k, o, http.StatusOK)
}

// keepObserved writes what was entered, once it can be read, and answers the sheet.
func (s *Server) keepObserved(w http.ResponseWriter, r *http.Request, k kept[head.Job], o kept[head.Observed], status int) error {
	var ask observedAsk
	if err := take(w, r, &ask); err != nil {
		return err
	}
	if ask.Rev != o.Rev {
		return &Conflict{Now: o.Doc}
	}
	was := o.V
	o.V = head.Observed{ID: o.ID, JobID: k.ID, Kind: ask.Kind, Cylinder: ask.Cylinder, PortID: ask.Port, At: ask.At, By: ask.By, Fields: map[string]string{}, Note: ask.Note}
	b, err := s.bench(r.Context(), k.V)
	if err != nil {
		return err
	}
	for key, text := range ask.Fields {
		if text == "" {
			continue
		}
		if in := unitOf(b.style, ask.Kind, key); in != "" {
			text = withUnit(text, unit.PressureDim, in)
		}
		o.V.Fields[key] = text
	}
	if o.V.At == 0 {
		if o.V.At = was.At; o.V.At == 0 {
			o.V.At = s.Now().UnixMilli()
		}
	}
	var f faults
	f.take("", o.V.Validate(), false)
	if len(f) == 0 && len(k.V.ObservedOn(&o.V)) == 0 {
		f.add(map[bool]string{true: "cylinder", false: "port"}[o.V.Kind.OfCylinder()], "This head has no such "+map[bool]string{true: "cylinder", false: "port"}[o.V.Kind.OfCylinder()]+".", "")
	}
	if len(f) == 0 {
		if read, _ := readObserved(&o.V, report.PortAir(&k.V, o.V.PortID, nil), s.pumpThen(b, &o.V), &f); len(f) == 0 && !ask.Insist {
			read.question(o.V.Kind, &f)
		}
	}
	if err := f.err(); err != nil {
		return err
	}
	if _, err := save(r.Context(), s, o, ask.By); err != nil {
		return err
	}
	return s.answerOther(w, r, k, status)
}

func (s *Server) binObserved(w http.ResponseWriter, r *http.Request) error {
	o, err := load[head.Observed](r.Context(), s.Keeper, kindObserved, r.PathValue("id"))
	if err != nil {
		return err
	}
	k, err := s.jobOf(r.Context(), o.JobID)
	if err != nil {
		return err
	}
	if _, err = bin(w, r, s, o); err != nil {
		return err
	}
	return s.answerOther(w, r, k, http.StatusOK)
}

func (s *Server) answerOther(w http.ResponseWriter, r *http.Request, k kept[head.Job], status int) error {
	out, err := s.other(r.Context(), k, func(key string) string { return r.URL.Query().Get(key) })
	if err != nil {
		return err
	}
	return s.answer(w, status, out)
}
