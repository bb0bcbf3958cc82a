// Package store says what a keeper of records does; the packages below it keep
// them, in memory, in an SQLite file, and later in PostgreSQL.
//
// Start with [Store]. A record is a document with a kind, an identity and a
// revision; [Book] turns records into the types of package head and back. What a
// person measured is only ever added: samples, photos and spoken notes are
// [Blob]s, which never change, and every earlier revision of a record is kept.
package store

import (
	"context"
	"errors"
	"fmt"
	"io"
)

// Kind is what a record is of.
type Kind string

// The kinds of record.
const (
	KindJob   Kind = "job"
	KindTest  Kind = "test"
	KindWork  Kind = "work"
	KindRig   Kind = "rig"
	KindCheck Kind = "check"
	KindPhoto Kind = "photo" // a picture or a spoken note, with the blob it is in

	KindObserved Kind = "observed" // what another test of the same leak showed
)

// Record is one revision of a document.
type Record struct {
	Kind   Kind
	ID     string
	JobID  string // the job it belongs to; "" for none
	Rev    int64  // 1 for the first; 0 asks for a new record
	At     int64  // ms since 1970 UTC, when this revision was made
	By     string // initials
	Binned bool   // in the bin: kept, and not listed
	Body   []byte // JSON
}

// Query says which records to list. Zero fields don't narrow.
type Query struct {
	Kind   Kind   // needed
	JobID  string // of this job
	NoJob  bool   // of no job: the tray
	Find   string // words that the texts in the body hold, all of them, in any case
	Binned bool   // those in the bin instead
}

// Change is one change to the records, for whoever watches.
type Change struct {
	Seq   int64 // rises with every change
	Kind  Kind
	ID    string
	JobID string
	From  string // the job it belonged to at the revision before; JobID where it did not move
	Rev   int64
}

// Blob is what never changes: samples, a photo, a spoken note. Its identity is
// the SHA-256 of its bytes, in hexadecimal. Where the same bytes came twice, name
// and type are those they came with first.
type Blob struct {
	ID   string
	Name string // as the person's file was called
	Type string // media type
	Size int64  // bytes, not compressed
}

// Result is what an estimator's version made of a test. There is one of a test at
// a time, and it says which version made it.
type Result struct {
	TestID  string
	Version string // of the estimator, alone or with what it was told: see ResultVersion
	Body    []byte // JSON
}

// Errors of a store. Compare with errors.Is.
var (
	ErrNotFound = errors.New("no such record")
	ErrExists   = errors.New("there is such a record already")
	ErrLocked   = errors.New("another program has the database open")
	ErrReadOnly = errors.New("the database can't be written")
	ErrFull     = errors.New("the disk is full")
	ErrVersion  = errors.New("the database is of another version")
	ErrDamaged  = errors.New("the database is damaged")
	ErrForeign  = errors.New("the file is not a database of this program")
	ErrClosed   = errors.New("the database is closed")
	ErrInvalid  = errors.New("this can't be kept")
)

// Conflict says that a record changed since it was read.
type Conflict struct{ Now Record }

func (c *Conflict) Error() string {
	return fmt.Sprintf("%s %s changed meanwhile: it is at revision %d", c.Now.Kind, c.Now.ID, c.Now.Rev)
}

// Store keeps records. Its methods are safe for concurrent use. What a method
// has returned without an error is on the disk. A method that fails leaves the
// records as they were. After Close all but Close return ErrClosed; where the
// context has ended they return its error.
type Store interface {
	// Get returns the newest revision, also of a binned record; ErrNotFound.
	Get(ctx context.Context, kind Kind, id string) (Record, error)
	// List returns newest revisions, last changed first: by the order of changes,
	// not by At.
	List(ctx context.Context, q Query) ([]Record, error)
	// Put adds a record (Rev 0; ErrExists) or a revision to one (Rev as read; a
	// *Conflict where it is not the newest; ErrNotFound where there is none) and
	// returns it with its new Rev. At and By are the caller's. ErrInvalid: see Valid.
	Put(ctx context.Context, r Record) (Record, error)
	// PutAll puts several in one go, in their order: all or none. The same record
	// may come several times, one revision after the other.
	PutAll(ctx context.Context, rs []Record) ([]Record, error)
	// History returns all revisions, oldest first; ErrNotFound.
	History(ctx context.Context, kind Kind, id string) ([]Record, error)

	// AddBlob reads r to its end and keeps it; the same bytes are kept once. An
	// error of r leaves nothing and is returned.
	AddBlob(ctx context.Context, name, mediaType string, r io.Reader) (Blob, error)
	// OpenBlob returns a blob's bytes; the caller closes; ErrNotFound. Reading says
	// ErrDamaged in place of the end where the bytes are not those that were kept.
	OpenBlob(ctx context.Context, id string) (Blob, io.ReadCloser, error)

	// PutResult keeps a result in place of whatever was kept of its test, by this
	// version or another: results can be worked out again, and an older one would
	// only take room. ErrNotFound where there is no such test.
	PutResult(ctx context.Context, r Result) error
	// Results returns the results of all tests of a job ("": of the tray) for a
	// version, binned tests too, by the tests' identities.
	Results(ctx context.Context, jobID, version string) ([]Result, error)

	// Since returns the changes after seq, oldest first, at most a thousand.
	Since(ctx context.Context, seq int64) ([]Change, error)
	// Check looks the whole store over; ErrDamaged with what is wrong.
	Check(ctx context.Context) error
	// Close waits for what is under way. A second Close does nothing.
	Close() error
}
