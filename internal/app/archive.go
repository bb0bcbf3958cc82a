package app

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"seatproof/head"
	"seatproof/internal/store"
	"seatproof/internal/store/archive"
	"seatproof/internal/store/place"
	"seatproof/internal/store/sqlite"
	"seatproof/internal/web"
)

// withVersion returns a record whose body says the version of its format, which
// the sheets' own do not.
func withVersion(r store.Record) store.Record {
	var has struct {
		V *int `json:"v"`
	}
	if bytes.HasPrefix(r.Body, []byte(`{"v":`)) || json.Unmarshal(r.Body, &has) != nil || has.V != nil {
		return r
	}
	if b, err := store.Marshal(r.Kind, json.RawMessage(r.Body)); err == nil { // else of a kind without versions
		r.Body = b
	}
	return r
}

// archiver carries heads in and out for the sheets.
type archiver struct{ store store.Store }

func newID() string { return strings.ToLower(rand.Text()) }

func (a archiver) Export(ctx context.Context, jobID string, w io.Writer) error {
	return told(archive.Export(ctx, a.store, jobID, w))
}

func (a archiver) Import(ctx context.Context, r io.ReaderAt, size int64, asCopy bool) (web.Imported, error) {
	in, err := archive.Import(ctx, a.store, r, size, archive.Options{Copy: asCopy, NewID: newID})
	if err != nil {
		return web.Imported{}, importFault(err)
	}
	return web.Imported(in), nil
}

// importFault says in the sheets' way what kept a file from coming in.
func importFault(err error) error {
	var there *archive.Present
	if errors.As(err, &there) {
		what, do, _ := strings.Cut(there.Error(), "; ")
		return &web.Fault{Status: http.StatusConflict, What: what, Do: do, Fields: []web.FieldFault{{Field: "copy", What: sentence(what), Ask: true}}}
	}
	for known, do := range map[error]string{
		archive.ErrBroken:  "fetch or copy the file again; nothing was taken in",
		archive.ErrForeign: "choose a file that an export wrote; nothing was taken in",
		archive.ErrTooBig:  "is it the file that an export wrote? nothing was taken in",
		store.ErrVersion:   "nothing was taken in",
	} {
		if errors.Is(err, known) {
			what := strings.TrimPrefix(err.Error(), "import: ")
			return &web.Fault{Status: http.StatusUnprocessableEntity, What: what, Do: do, Fields: []web.FieldFault{{Field: "file", What: sentence(what), Maybe: sentence(do)}}}
		}
	}
	return told(err)
}

func sentence(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// ExportJob is what a person asks of the command export.
type ExportJob struct {
	Job  string // its number, or its identity
	Data string // folder; "": the system's own place for it
	To   string // file; "": the number with .zip, in the folder the person is in
	// Table is a file that ends in .csv or .xlsx: the head's table goes there, and
	// the head itself nowhere unless To is given too.
	Table string
}

// Export writes a head with all that belongs to it to one file, or its table, or
// both.
func (a *App) Export(ctx context.Context, job ExportJob) Exit {
	write, known := tables[strings.ToLower(filepath.Ext(job.Table))]
	if job.Table != "" && !known {
		a.complain(&fault{"--table " + job.Table, errors.New("a table ends in .csv or .xlsx"), "name it so"})
		return Wrong
	}
	return a.onRecords(ctx, job.Data, false, func(s store.Store) error {
		j, err := findJob(ctx, s, job.Job)
		if err != nil {
			return err
		}
		if job.Table != "" {
			sheets, err := web.New(a.sheetsOn(s, nil))
			if err != nil {
				return err
			}
			t, err := sheets.TableOf(ctx, j.ID)
			if err == nil {
				err = wholeFile(job.Table, func(w io.Writer) error { return write(t, w) })
			}
			if err != nil {
				return &fault{job.Table, err, ""}
			}
			fmt.Fprintf(a.Stdout, "%s: the table of head %s\n", job.Table, j.Number)
			if job.To == "" {
				return nil
			}
		}
		to := job.To
		if to == "" {
			to = web.ExportName(j.Number)
			if _, err := os.Stat(to); err == nil {
				return &fault{to, errors.New("there is such a file already"), "name another with --to"}
			}
		}
		if err := wholeFile(to, func(w io.Writer) error { return archive.Export(ctx, s, j.ID, w) }); err != nil {
			return &fault{to, err, ""}
		}
		fmt.Fprintf(a.Stdout, "%s: head %s, with its tests, work, photos and rigs\n", to, j.Number)
		return nil
	})
}

// tables are the ways to write a table, by the ending of its file.
var tables = map[string]func(web.Table, io.Writer) error{".csv": web.Table.WriteCSV, ".xlsx": web.Table.WriteXLSX}

// wholeFile writes a file whole or not at all: half a file must not stand where a
// good one was.
func wholeFile(name string, fill func(io.Writer) error) error {
	part := name + ".part"
	err := writeFile(part, fill)
	if err == nil {
		err = os.Rename(part, name)
	}
	if err != nil {
		_ = os.Remove(part)
	}
	return err
}

// ImportJob is what a person asks of the command import.
type ImportJob struct {
	File string
	Data string // folder; "": the system's own place for it
	Copy bool   // beside the head that is there
}

// Import takes in a head that an export wrote.
func (a *App) Import(ctx context.Context, job ImportJob) Exit {
	return a.onRecords(ctx, job.Data, true, func(s store.Store) error {
		f, err := os.Open(job.File)
		if err != nil {
			return &fault{job.File, err, "name a file that an export wrote"}
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil {
			return &fault{job.File, err, ""}
		}
		in, err := archive.Import(ctx, s, f, info.Size(), archive.Options{Copy: job.Copy, NewID: newID})
		var there *archive.Present
		switch {
		case errors.As(err, &there):
			what, _, _ := strings.Cut(there.Error(), "; ")
			return &fault{job.File, errors.New(what), "nothing was taken in; --copy takes it in beside that one"}
		case err != nil:
			return &fault{job.File, err, "nothing was taken in"}
		}
		fmt.Fprintln(a.Stdout, job.File+": "+web.Imported(in).Words())
		return nil
	})
}

// onRecords is a command on the records of a folder.
func (a *App) onRecords(ctx context.Context, data string, fresh bool, do func(store.Store) error) Exit {
	if err := withRecords(ctx, data, fresh, do); err != nil {
		a.complain(err)
		return Wrong
	}
	return Answered
}

// errNoRecords says that a folder holds no records.
var errNoRecords = errors.New("there are no records in this folder")

// withRecords opens the records of a folder, which are made only where they may be.
func withRecords(ctx context.Context, data string, fresh bool, do func(store.Store) error) error {
	folder, err := dataFolder(data)
	if err != nil {
		return &fault{"--data", err, "name a folder that can be written"}
	}
	file := place.Database(folder)
	if _, err := os.Stat(file); err != nil && !fresh {
		return &fault{"--data " + folder, errNoRecords, "name the one that seatproof serve was started with"}
	}
	records, err := sqlite.Open(ctx, file, sqlite.Options{})
	if err != nil {
		return &fault{"--data " + folder, err, openHint(err)}
	}
	return errors.Join(do(records), records.Close())
}

// findJob returns the head of an identity, or the one of a number, in or out of
// the bin.
func findJob(ctx context.Context, s store.Store, asked string) (head.Job, error) {
	b := store.Book{Store: s}
	if j, err := b.Job(ctx, asked); err == nil {
		return j.Is, nil
	} else if !errors.Is(err, store.ErrNotFound) {
		return head.Job{}, err
	}
	var found []head.Job
	for _, binned := range []bool{false, true} {
		rs, err := s.List(ctx, store.Query{Kind: store.KindJob, Binned: binned})
		if err != nil {
			return head.Job{}, err
		}
		for _, r := range rs {
			e, err := store.Read[head.Job](r)
			if err != nil {
				return head.Job{}, err
			}
			if strings.EqualFold(e.Is.Number, asked) {
				found = append(found, e.Is)
			}
		}
	}
	switch len(found) {
	case 0:
		return head.Job{}, &fault{asked, errors.New("no head has this number or identity"), "the sheet of heads lists them"}
	case 1:
		return found[0], nil
	}
	var ids []string
	for _, j := range found {
		ids = append(ids, j.ID)
	}
	return head.Job{}, &fault{asked, fmt.Errorf("%d heads have this number", len(found)), "name one by its identity: " + strings.Join(ids, ", ")}
}
