package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"sync"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/trace"
)

// mostFile is the largest file that is taken [bytes].
const mostFile = 1 << 30

// form reads a multipart request as it comes: its texts, and its one file, which
// goes to the keeper without being held in memory. tap, if there is one, is handed
// the texts that came before the file and sees the file's bytes go by; what it
// returns is told of their end.
func (s *Server) form(w http.ResponseWriter, r *http.Request, tap func(texts map[string]string) *belt) (texts map[string]string, blob Blob, err error) {
	r.Body = http.MaxBytesReader(w, r.Body, mostFile)
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, Blob{}, &Fault{Status: http.StatusBadRequest, What: "a form with a file is asked for", Do: "send multipart/form-data"}
	}
	texts = map[string]string{}
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return texts, blob, nil
		}
		if err != nil {
			return nil, Blob{}, unwrapLarge(err)
		}
		if p.FormName() == "file" {
			body := io.Reader(p)
			var seen *belt
			if tap != nil {
				seen = tap(texts)
				body = io.TeeReader(p, seen)
			}
			blob, err = s.Keeper.AddBlob(r.Context(), fileName(p), p.Header.Get("Content-Type"), body)
			if seen != nil {
				seen.end(err)
			}
			if err != nil {
				return nil, Blob{}, unwrapLarge(err)
			}
			continue
		}
		b, err := io.ReadAll(io.LimitReader(p, 64<<10))
		if err != nil {
			return nil, Blob{}, unwrapLarge(err)
		}
		texts[p.FormName()] = string(b)
	}
}

// unwrapLarge keeps "too large" apart from a line that broke.
func unwrapLarge(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return large
	}
	return fmt.Errorf("read the form: %w", err)
}

func fileName(p *multipart.Part) string {
	name := p.FileName()
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	if len(name) > 200 {
		name = name[:200]
	}
	return name
}

type columnShown struct {
	Head  string      `json:"head"`
	Taken trace.Taken `json:"taken"`
	Unit  string      `json:"unit"`
	Cells []string    `json:"cells"`
}

// sight is what one pass through a recording found.
type sight struct {
	with    trace.ReadOptions
	seen    trace.Seen
	seenErr error
	trace   *trace.Trace
	err     error
}

// sightOf looks at a recording and reads it, in one pass.
func sightOf(r io.Reader, o trace.ReadOptions) *sight {
	v := &sight{with: o}
	var start bytes.Buffer // Look reads a few MB at most
	v.seen, v.seenErr = trace.Look(io.TeeReader(r, &start), o)
	v.trace, v.err = trace.Read(io.MultiReader(&start, r), o)
	return v
}

// readingOptions are what a form says of its file.
func (s *Server) readingOptions(ctx context.Context, texts map[string]string) trace.ReadOptions {
	var rg rig.Rig
	if k, err := load[head.Rig](ctx, s.Keeper, kindRig, texts["rig"]); err == nil {
		rg, _ = s.ReadRig(k.V.File)
	}
	return trace.ReadOptions{Columns: texts["columns"], Column: texts["column"], AirPressure: room(rg)}
}

// preview keeps a file and says what each column of it was taken for. The file is
// read while it comes in; a form whose texts come behind its file has it read once
// more if they say something else.
func (s *Server) preview(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var v *sight
	var reading sync.WaitGroup
	texts, blob, err := s.form(w, r, func(texts map[string]string) *belt {
		o, b := s.readingOptions(ctx, texts), newBelt()
		reading.Wait() // of a file before it, which is no use but may come
		reading.Go(func() {
			v = sightOf(b, o)
			b.drain()
		})
		return b
	})
	reading.Wait()
	if err != nil {
		return err
	}
	id := blob.ID
	if id == "" {
		id = texts["trace"]
	}
	if id == "" {
		return &Fault{What: "no file was sent", Do: "choose one", Fields: []FieldFault{{Field: "file", What: "No file was sent.", Maybe: "Choose one."}}}
	}
	o := s.readingOptions(ctx, texts)
	if v == nil || v.with.Columns != o.Columns || v.with.Column != o.Column || v.with.AirPressure != o.AirPressure {
		b, body, err := s.Keeper.OpenBlob(ctx, id)
		if err != nil {
			return err
		}
		blob, v = b, sightOf(body, o)
		body.Close()
	}
	columns := []columnShown{}
	for _, c := range v.seen.Columns {
		columns = append(columns, columnShown{c.Name, c.Taken, c.Unit, append([]string{}, c.Cells...)})
	}
	st := s.style(ctx)
	out := map[string]any{
		"trace": id, "name": blob.Name, "size": blob.Size, "columns": columns, "says": "", "faults": []string{}, "points": []point{}, "unit": st.Unit.Name,
		"choices": map[string]any{"taken": []word{
			{Code: "-", Word: "not used"}, {Code: "time", Word: "time"}, {Code: "vacuum", Word: "vacuum, below the room"},
			{Code: "gauge", Word: "gauge, negative below the room"}, {Code: "absolute", Word: "absolute pressure"},
		}, "time_units": []string{"s", "ms", "min", "stamp"}, "pressure_units": []string{"kPa", "mbar", "inHg", "mmHg", "psi", "Pa", "bar", "Torr"}},
	}
	t, err := v.trace, v.err
	if err == nil {
		err = v.seenErr
	}
	if err != nil {
		var fe *trace.FileError
		if !errors.As(err, &fe) {
			return err
		}
		out["error_now"] = map[string]any{"what": fe.Error(), "line": fe.Line, "column": fe.Column}
		if len(columns) == 0 { // nothing that a person could put right
			return &Fault{What: fe.What, Do: fe.Hint, Where: place(fe), Fields: []FieldFault{{Field: "file", What: upper(fe.Error()) + "."}}, cause: err}
		}
		return s.answer(w, http.StatusOK, out)
	}
	sk := report.NewSketch(t, nil, 0)
	deepest, span := 0.0, 0.0
	for _, p := range sk.All {
		deepest, span = max(deepest, p.Vacuum), max(span, p.Time)
	}
	n := t.Len() + len(t.Hand)
	out["says"] = fmt.Sprintf("%d samples over %s s, every %s s, deepest %s %s", n, report.Figure(span, 3), report.Figure(t.Faults.Interval, 2), report.Figure(deepest/st.Unit.Size, 3), st.Unit.Name)
	if len(t.Hand) > 0 {
		out["says"] = fmt.Sprintf("%d readings by eye over %s s", n, report.Figure(span, 3))
	}
	if t.Kind == trace.Absolute {
		out["says"] = fmt.Sprintf("%d samples of absolute pressure over %s s, every %s s", n, report.Figure(span, 3), report.Figure(t.Faults.Interval, 2))
	}
	faults := []string{}
	if f := t.Faults; f.Dropped > 0 {
		faults = append(faults, fmt.Sprintf("%d rows can't be used and are left out, the first at line %d: %s", f.Dropped, f.FirstDropped, f.DroppedWhy))
	}
	out["faults"], out["points"] = faults, points(sk.All, 0, st.Unit.Size)
	return s.answer(w, http.StatusOK, out)
}

func place(fe *trace.FileError) string {
	if fe.Line == 0 {
		return "file"
	}
	return fmt.Sprintf("file, line %d, column %d", fe.Line, fe.Column)
}

// testFile gives a test's samples as they came.
func (s *Server) testFile(w http.ResponseWriter, r *http.Request) error {
	k, err := s.test(r)
	if err != nil {
		return err
	}
	return s.sendBlob(w, r, k.V.TraceID)
}
