package web

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"runtime/debug"
	"strings"

	"seatproof/head"
)

// Fault is an error as a person reads it: what is wrong, where, what to do.
type Fault struct {
	Status int
	What   string
	Where  string
	Do     string
	Fields []FieldFault
	cause  error
}

// FieldFault stands at a field.
type FieldFault struct {
	Field string `json:"field"`
	What  string `json:"what"`            // a sentence
	Maybe string `json:"maybe,omitempty"` // what it may have been
	Ask   bool   `json:"ask,omitempty"`   // odd, but it may be so: a person may insist
}

func (f *Fault) Error() string {
	s := f.What
	if f.Where != "" {
		s = f.Where + ": " + s
	}
	if f.Do != "" {
		s += "; " + f.Do
	}
	return s
}

func (f *Fault) Unwrap() error { return f.cause }

// faults gathers what is wrong with the fields of a request.
type faults []FieldFault

func (f *faults) add(field, what, maybe string) {
	*f = append(*f, FieldFault{Field: field, What: what, Maybe: maybe})
}

// take gathers the faults of package head, their fields under a name; what a
// person insists on is none.
func (f *faults) take(under string, all head.Faults, insist bool) {
	for _, x := range all {
		if x.Ask && insist {
			continue
		}
		maybe := ""
		if x.Maybe != "" {
			maybe = "Is it " + x.Maybe + "?"
		}
		field := bracket.ReplaceAllString(x.Field, ".$1")
		*f = append(*f, FieldFault{Field: under + field, What: upper(x.What) + ".", Maybe: maybe, Ask: x.Ask})
	}
}

// bracket is an index in a field's name, which the API writes with a point.
var bracket = regexp.MustCompile(`\[(\d+)\]`)

// err returns the gathered faults as one, or nil.
func (f faults) err() error {
	if len(f) == 0 {
		return nil
	}
	return &Fault{Status: http.StatusUnprocessableEntity, What: f[0].What, Where: f[0].Field, Do: f[0].Maybe, Fields: f}
}

type handler func(http.ResponseWriter, *http.Request) error

// wrap is the one place where an error becomes an answer.
func (s *Server) wrap(h handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil && p != http.ErrAbortHandler {
				s.Log.Error("a fault of the program", "path", r.URL.Path, "panic", fmt.Sprint(p), "stack", string(debug.Stack()))
				s.fail(w, r, fmt.Errorf("panic: %v", p))
			}
		}()
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	})
}

// fail answers with an error. What a person can't mend stays in the log.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil && errors.Is(err, context.Canceled) {
		return // the reader has gone
	}
	f := &Fault{Status: http.StatusInternalServerError, What: "a fault of this program", Do: "try again; if it stays, the program's log says more"}
	var known *Fault
	var conflict *Conflict
	var large *http.MaxBytesError
	body := map[string]any{}
	switch {
	case errors.As(err, &known):
		f = known
		if f.Status == 0 {
			f.Status = http.StatusUnprocessableEntity
		}
	case errors.As(err, &conflict):
		f = &Fault{Status: http.StatusConflict, What: "this was changed meanwhile", Do: "look at both, then save again"}
		body["now"] = s.asNow(r.Context(), conflict.Now)
	case errors.As(err, &large):
		f = &Fault{Status: http.StatusRequestEntityTooLarge, What: fmt.Sprintf("this is larger than the %d MB that are taken", large.Limit>>20), Do: "cut it into parts"}
	case errors.Is(err, ErrNotFound):
		f = &Fault{Status: http.StatusNotFound, What: "there is no such record", Do: "go back to the list"}
	case errors.Is(err, ErrLocked):
		f = &Fault{Status: http.StatusServiceUnavailable, What: "another program has the records open", Do: "close the other one, then save again"}
	case errors.Is(err, ErrReadOnly):
		f = &Fault{Status: http.StatusServiceUnavailable, What: "the data folder can't be written", Do: "check its permissions, or start with --data and another folder"}
	case errors.Is(err, ErrFull):
		f = &Fault{Status: http.StatusServiceUnavailable, What: "the disk is full", Do: "make room, then save again; what was saved before is safe"}
	case errors.Is(err, ErrVersion):
		f = &Fault{Status: http.StatusServiceUnavailable, What: "a newer seatproof wrote some of these records", Do: "use that one; they were left as they are"}
	default:
		s.Log.Error("request failed", "method", r.Method, "path", r.URL.Path, "error", err.Error())
	}
	e := map[string]any{"what": f.What}
	if f.Where != "" {
		e["where"] = f.Where
	}
	if f.Do != "" {
		e["do"] = f.Do
	}
	if len(f.Fields) > 0 {
		e["fields"] = f.Fields
	}
	body["error"] = e
	s.answer(w, f.Status, body)
}

// answer writes JSON.
func (s *Server) answer(w http.ResponseWriter, status int, v any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("write the answer: %w", err)
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, err := w.Write(b.Bytes())
	if err != nil {
		return nil // the reader has gone
	}
	return nil
}

// mostJSON is the largest request of JSON [bytes].
const mostJSON = 4 << 20

// take reads a request's JSON. A key that is not known is an error at that key.
func take(w http.ResponseWriter, r *http.Request, into any) error {
	b, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostJSON))
	if err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		f := &Fault{Status: http.StatusBadRequest, What: "the request is no JSON that is understood here: " + strings.TrimPrefix(err.Error(), "json: "), Do: "see docs/api.md"}
		var typ *json.UnmarshalTypeError
		if errors.As(err, &typ) {
			f.Where = typ.Field
			f.Fields = []FieldFault{{Field: typ.Field, What: fmt.Sprintf("A %s stands here where a %s belongs.", typ.Value, typ.Type)}}
		}
		return f
	}
	return nil
}

func (s *Server) noSuchWay(http.ResponseWriter, *http.Request) error {
	return &Fault{Status: http.StatusNotFound, What: "the API has no such way", Do: "see docs/api.md"}
}

// newID returns a fresh identity: 12 letters and digits.
func newID() string { return strings.ToLower(rand.Text()[:12]) }
