package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"seatproof/head"
)

type workShown struct {
	head.Work
	When string   `json:"when"`
	Word string   `json:"word"`
	On   []string `json:"on"` // names of the valves; none: the whole head
}

// workOf lists the work on valves of a head, newest first; none: all of it.
func (s *Server) workOf(r *http.Request, job string, valves []string) ([]workShown, error) {
	all, err := list[head.Work](r.Context(), s.Keeper, Query{Kind: kindWork, JobID: job})
	if err != nil {
		return nil, err
	}
	k, err := load[head.Job](r.Context(), s.Keeper, kindJob, job)
	if err != nil {
		return nil, err
	}
	out := []workShown{}
	for _, w := range all {
		if valves != nil && len(w.V.Valves) > 0 && !slices.ContainsFunc(w.V.Valves, func(v string) bool { return slices.Contains(valves, v) }) {
			continue
		}
		shown := workShown{w.V, moment(w.V.At), wordOf(workWords, w.V.Kind), []string{}}
		for _, v := range k.V.Valves {
			if slices.Contains(w.V.Valves, v.ID) {
				shown.On = append(shown.On, k.V.ValveName(v.ID))
			}
		}
		if len(shown.On) == 0 && len(w.V.Valves) > 0 { // never "the whole head"
			shown.On = append(shown.On, valveGone)
		}
		out = append(out, shown)
	}
	slices.SortStableFunc(out, func(a, b workShown) int { return int(min(1, max(-1, b.At-a.At))) })
	return out, nil
}

func (s *Server) listWork(w http.ResponseWriter, r *http.Request) error {
	out, err := s.workOf(r, r.PathValue("id"), nil)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, map[string]any{"work": out})
}

func (s *Server) addWork(w http.ResponseWriter, r *http.Request) error {
	var ask struct {
		Valves []string      `json:"valves"`
		Kind   head.WorkKind `json:"kind"`
		Note   string        `json:"note"`
		By     string        `json:"by"`
		At     int64         `json:"at"`
	}
	if err := take(w, r, &ask); err != nil {
		return err
	}
	k, err := s.job(r)
	if err != nil {
		return err
	}
	var f faults
	if !known(workWords, ask.Kind) {
		f.add("kind", "What was done is not said.", "")
	}
	f.take("", k.V.UnknownValves("valves", ask.Valves), false)
	if err := f.err(); err != nil {
		return err
	}
	work := head.Work{ID: s.NewID(), JobID: k.ID, Valves: ask.Valves, At: ask.At, By: ask.By, Kind: ask.Kind, Note: ask.Note}
	if work.At == 0 {
		work.At = s.Now().UnixMilli()
	}
	if _, err := save(r.Context(), s, kept[head.Work]{Doc: Doc{Kind: kindWork, ID: work.ID, JobID: k.ID}, V: work}, ask.By); err != nil {
		return err
	}
	return s.answerHead(w, r, http.StatusCreated, k)
}

// picture is a photo or a spoken note: what is said of a blob.
type picture struct {
	Job  string `json:"job"`
	Port string `json:"port"` // "" for the head
	Blob string `json:"blob"`
	Name string `json:"name"`
	Type string `json:"type"`
	Size int64  `json:"size"`
	Note string `json:"note"`
	At   int64  `json:"at"`
}

type pictureShown struct {
	picture
	ID    string `json:"id"`
	Rev   int64  `json:"rev"`
	When  string `json:"when"`
	Shown bool   `json:"shown"` // the browser can show or play it
	Sound bool   `json:"sound"`
	URL   string `json:"url"`
}

// shownTypes are what browsers draw and play.
var shownTypes = []string{"image/jpeg", "image/png", "image/webp", "image/gif", "audio/webm", "audio/ogg", "audio/mpeg", "audio/mp4", "audio/wav", "audio/x-wav", "audio/wave", "audio/aac"}

func mediaType(t string) string {
	t, _, _ = strings.Cut(t, ";")
	return strings.ToLower(strings.TrimSpace(t))
}

func (s *Server) picturesOf(r *http.Request, job, port string) ([]pictureShown, error) {
	all, err := list[picture](r.Context(), s.Keeper, Query{Kind: kindPhoto, JobID: job})
	if err != nil {
		return nil, err
	}
	out := []pictureShown{}
	for _, p := range all {
		if port != "" && p.V.Port != port {
			continue
		}
		t := mediaType(p.V.Type)
		out = append(out, pictureShown{p.V, p.ID, p.Rev, moment(p.V.At), slices.Contains(shownTypes, t), strings.HasPrefix(t, "audio/"), "/api/blobs/" + p.V.Blob})
	}
	return out, nil
}

func (s *Server) listPictures(w http.ResponseWriter, r *http.Request) error {
	out, err := s.picturesOf(r, r.PathValue("id"), r.URL.Query().Get("port"))
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusOK, map[string]any{"pictures": out})
}

func (s *Server) addPicture(w http.ResponseWriter, r *http.Request) error {
	k, err := s.job(r)
	if err != nil {
		return err
	}
	texts, blob, err := s.form(w, r, nil)
	if err != nil {
		return err
	}
	var f faults
	kind := ""
	if blob.ID == "" {
		f.add("file", "No photo or sound was sent.", "Choose one.")
	} else if kind, err = s.kindOfBlob(r.Context(), blob); err != nil {
		return err
	} else if kind == "" {
		f.add("file", fmt.Sprintf("%s is neither a photo nor a sound.", blob.Name), "JPEG, PNG, WebP, GIF and HEIC are photos; M4A, MP3, WAV, Ogg and WebM are sounds. A recording of the gauge goes in as a recording.")
	}
	if p := texts["port"]; p != "" && !slices.ContainsFunc(k.V.Ports, func(x head.Port) bool { return x.ID == p }) {
		f.add("port", "This head has no such port.", "")
	}
	if err := f.err(); err != nil {
		return err
	}
	p := kept[picture]{Doc: Doc{Kind: kindPhoto, ID: s.NewID(), JobID: k.ID}, V: picture{k.ID, texts["port"], blob.ID, blob.Name, kind, blob.Size, texts["note"], s.Now().UnixMilli()}}
	if _, err := save(r.Context(), s, p, texts["by"]); err != nil {
		return err
	}
	out, err := s.picturesOf(r, k.ID, texts["port"])
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusCreated, map[string]any{"pictures": out})
}

// kindOfBlob is the kind of a kept file by its own bytes.
func (s *Server) kindOfBlob(ctx context.Context, b Blob) (string, error) {
	_, body, err := s.Keeper.OpenBlob(ctx, b.ID)
	if err != nil {
		return "", err
	}
	defer body.Close()
	start, err := firstOf(body)
	return kindOf(start, b.Type), err
}

func (s *Server) getBlob(w http.ResponseWriter, r *http.Request) error {
	return s.sendBlob(w, r, r.PathValue("id"))
}
