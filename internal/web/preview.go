package web

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"strings"

	"seatproof/head"
	"seatproof/internal/report"
	"seatproof/rig"
	"seatproof/trace"
)

// mostFile is the largest file that is taken [bytes].
const mostFile = 1 << 30

// form reads a multipart request as it comes: its texts, and its one file, which
// goes to the keeper without being held in memory.
func (s *Server) form(w http.ResponseWriter, r *http.Request) (texts map[string]string, blob Blob, err error) {
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
			if blob, err = s.Keeper.AddBlob(r.Context(), fileName(p), p.Header.Get("Content-Type"), p); err != nil {
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

// preview keeps a file and says what each column of it was taken for.
func (s *Server) preview(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	texts, blob, err := s.form(w, r)
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
	var rg rig.Rig
	if k, err := load[head.Rig](ctx, s.Keeper, kindRig, texts["rig"]); err == nil {
		rg, _ = s.ReadRig(k.V.File)
	}
	o := trace.ReadOptions{Columns: texts["columns"], Column: texts["column"], AirPressure: room(rg)}
	open := func() (Blob, io.ReadCloser, error) { return s.Keeper.OpenBlob(ctx, id) }
	b, body, err := open()
	if err != nil {
		return err
	}
	seen, lookErr := trace.Look(body, o)
	body.Close()
	columns := []columnShown{}
	for _, c := range seen.Columns {
		columns = append(columns, columnShown{c.Name, c.Taken, c.Unit, append([]string{}, c.Cells...)})
	}
	st := s.style(ctx)
	out := map[string]any{
		"trace": id, "name": b.Name, "size": b.Size, "columns": columns, "says": "", "faults": []string{}, "points": []point{}, "unit": st.Unit.Name,
		"choices": map[string]any{"taken": []word{
			{Code: "-", Word: "not used"}, {Code: "time", Word: "time"}, {Code: "vacuum", Word: "vacuum, below the room"},
			{Code: "gauge", Word: "gauge, negative below the room"}, {Code: "absolute", Word: "absolute pressure"},
		}, "time_units": []string{"s", "ms", "min", "stamp"}, "pressure_units": []string{"kPa", "mbar", "inHg", "mmHg", "psi", "Pa", "bar", "Torr"}},
	}
	_, body, err = open()
	if err != nil {
		return err
	}
	defer body.Close()
	t, err := trace.Read(body, o)
	if err == nil {
		err = lookErr
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
