package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"os"
	"strconv"
	"strings"
	"unicode"
)

// Archiver carries a head with all that belongs to it out into one file, and in
// again. A *Fault of its own is shown as it is.
type Archiver interface {
	// Export writes a head; ErrNotFound. What was written before an error is of no
	// use.
	Export(ctx context.Context, jobID string, w io.Writer) error
	// Import takes a file of size bytes in, as a copy beside what is there where
	// asCopy says so. An error leaves the records as they were.
	Import(ctx context.Context, r io.ReaderAt, size int64, asCopy bool) (Imported, error)
}

// Imported is what came in.
type Imported struct {
	JobID   string
	Records int
	Blobs   int
	Rigs    []string // names of rigs that came in beside others of theirs
}

// Words says it in a sentence or two.
func (in Imported) Words() string {
	n := func(n int, one string) string {
		if n == 1 {
			return "1 " + one
		}
		return fmt.Sprintf("%d %ss", n, one)
	}
	s := fmt.Sprintf("Taken in: %s and %s.", n(in.Records, "record"), n(in.Blobs, "recording or photo"))
	s = strings.Replace(s, "recording or photos", "recordings and photos", 1)
	if len(in.Rigs) > 0 {
		s += " Its rig stands beside the one that is here, whose figures are others: " + strings.Join(in.Rigs, ", ") + "."
	}
	return s
}

// ExportName is what the file of a head is called: by its number.
func ExportName(number string) string { return safeName(number) + ".zip" }

// safeName leaves out of a name what some system does not allow in one.
func safeName(number string) string {
	s := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || strings.ContainsRune(`<>:"/\|?*`, r) {
			return '-'
		}
		return r
	}, number)
	s = strings.Trim(strings.ToValidUTF8(s[:min(len(s), 100)], ""), ". ")
	if s == "" {
		return "head"
	}
	return s
}

func attach(w http.ResponseWriter, name string) {
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	w.Header().Set("Cache-Control", "no-store")
}

// scratch is a file that is gone when it is closed.
type scratch struct{ *os.File }

func newScratch() (scratch, error) {
	f, err := os.CreateTemp("", "seatproof-*")
	if err != nil {
		return scratch{}, noScratch(err)
	}
	return scratch{f}, nil
}

func noScratch(err error) error {
	return &Fault{Status: http.StatusServiceUnavailable, What: "there is no room for a file while it is made or looked at", Where: os.TempDir(), Do: "make room there, then try again", cause: err}
}

func (f scratch) Close() error { return errors.Join(f.File.Close(), os.Remove(f.Name())) }

func (s *Server) archiver() (Archiver, error) {
	if s.Archive == nil {
		return nil, &Fault{Status: http.StatusNotFound, What: "these records can't be exported or imported", Do: "start seatproof on a data folder"}
	}
	return s.Archive, nil
}

// exportHead sends a head as one file. It is made whole first: an error halfway
// through a download could not be said any more.
func (s *Server) exportHead(w http.ResponseWriter, r *http.Request) error {
	a, err := s.archiver()
	if err != nil {
		return err
	}
	k, err := s.job(r)
	if err != nil {
		return err
	}
	f, err := newScratch()
	if err != nil {
		return err
	}
	defer f.Close()
	if err := a.Export(r.Context(), k.ID, f); err != nil {
		return err
	}
	size, err := f.Seek(0, io.SeekCurrent)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return err
	}
	attach(w, ExportName(k.V.Number))
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Length", strconv.FormatInt(size, 10))
	if _, err := io.Copy(w, f); err != nil {
		s.Log.Debug("an export was not sent to its end", "head", k.ID, "error", err.Error())
	}
	return nil
}

// importHead takes in a file that an export wrote.
func (s *Server) importHead(w http.ResponseWriter, r *http.Request) error {
	a, err := s.archiver()
	if err != nil {
		return err
	}
	f, err := newScratch()
	if err != nil {
		return err
	}
	defer f.Close()
	size, texts, err := upload(w, r, f)
	if err != nil {
		return err
	}
	if size == 0 {
		return &Fault{Status: http.StatusUnprocessableEntity, What: "no file was sent", Do: "choose one that an export wrote", Fields: []FieldFault{{Field: "file", What: "No file was sent.", Maybe: "Choose one that an export wrote."}}}
	}
	in, err := a.Import(r.Context(), f, size, texts["copy"] != "")
	if err != nil {
		return err
	}
	s.hub.poke()
	k, err := s.jobOf(r.Context(), in.JobID)
	if err != nil {
		return err
	}
	return s.answer(w, http.StatusCreated, map[string]any{"head": showHead(k), "says": in.Words(), "records": in.Records, "blobs": in.Blobs, "rigs": append([]string{}, in.Rigs...)})
}

// upload copies the file of a form to f and returns its size and the form's texts.
func upload(w http.ResponseWriter, r *http.Request, f io.Writer) (size int64, texts map[string]string, err error) {
	r.Body = http.MaxBytesReader(w, r.Body, mostFile)
	parts, err := r.MultipartReader()
	if err != nil {
		return 0, nil, &Fault{Status: http.StatusBadRequest, What: "a form with a file is asked for", Do: "send multipart/form-data"}
	}
	texts = map[string]string{}
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return size, texts, nil
		}
		if err != nil {
			return 0, nil, unwrapLarge(err)
		}
		if p.FormName() != "file" {
			b, err := io.ReadAll(io.LimitReader(p, 64<<10))
			if err != nil {
				return 0, nil, unwrapLarge(err)
			}
			texts[p.FormName()] = string(b)
			continue
		}
		if size > 0 {
			return 0, nil, &Fault{Status: http.StatusBadRequest, What: "two files were sent", Do: "send one head at a time"}
		}
		if size, err = io.Copy(f, p); err != nil {
			var onDisk *os.PathError
			if errors.As(err, &onDisk) {
				return 0, nil, noScratch(err)
			}
			return 0, nil, unwrapLarge(err)
		}
	}
}
