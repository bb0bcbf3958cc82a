package store

import (
	"bytes"
	"encoding/json"
	"fmt"

	"seatproof/head"
)

// Photo is a picture or a spoken note, of a job, and of a port or a test of it.
type Photo struct {
	ID     string `json:"id"`
	JobID  string `json:"job"`
	PortID string `json:"port"` // "": of the whole head
	TestID string `json:"test"` // "": of no one test
	BlobID string `json:"blob"`
	Name   string `json:"name"` // as the person's file was called
	Type   string `json:"type"` // media type
	Size   int64  `json:"size"` // bytes
	At     int64  `json:"at"`   // ms since 1970 UTC, when it came
	By     string `json:"by"`   // initials
	Note   string `json:"note"`
}

// A change lifts a body of one format version to the next.
type lift func(body map[string]json.RawMessage) error

// lifts holds, for each kind, what lifts version 1 to 2, 2 to 3 and so on: the
// version that is written is one more than their number. Whoever adds, drops or
// changes a field of a type adds a lift, even one that does nothing: an older
// program would else drop the field on its next save.
var lifts = map[Kind][]lift{
	KindJob:   {asIs},       // 2: what a limit is set by
	KindTest:  {asIs, asIs}, // 2: columns, which format 1 may have too; 3: beside and shut_off, which format 2 may have too
	KindWork:  {},
	KindRig:   {},
	KindCheck: {asIs}, // 2: step, run, what was typed, traces, result
	KindPhoto: {},

	KindObserved: {},
}

// asIs lifts a body to a format that only adds a field: the older program must not
// save it, the newer one reads it as it is.
func asIs(map[string]json.RawMessage) error { return nil }

// Lifted returns a body in this program's format. Bodies of kinds without formats
// of their own, and those kept before bodies bore one, come back as they are.
func Lifted(kind Kind, body []byte) ([]byte, error) {
	up, known := lifts[kind]
	now := fmt.Appendf(nil, `{"v":%d`, 1+len(up))
	if rest, ok := bytes.CutPrefix(body, now); !known || ok && len(rest) > 0 && (rest[0] == ',' || rest[0] == '}') {
		return body, nil
	}
	var has struct {
		V *int `json:"v"`
	}
	if json.Unmarshal(body, &has) == nil && has.V == nil {
		return body, nil
	}
	var fields map[string]json.RawMessage
	if err := unmarshal(kind, up, body, &fields); err != nil {
		return nil, err
	}
	delete(fields, "v")
	return Marshal(kind, fields)
}

// Format returns the version of a kind's bodies that this program writes.
func Format(kind Kind) int { return 1 + len(lifts[kind]) }

// Marshal returns the body of a record of a kind: the JSON of v, an object, with
// its format's version first.
func Marshal(kind Kind, v any) ([]byte, error) {
	if _, known := lifts[kind]; !known {
		return nil, fmt.Errorf("%w: records of kind %q", ErrInvalid, kind)
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrInvalid, kind, err)
	}
	fields, object := bytes.CutPrefix(bytes.TrimSpace(b.Bytes()), []byte("{"))
	if !object {
		return nil, fmt.Errorf("%w: a %s that is not an object", ErrInvalid, kind)
	}
	head := fmt.Sprintf(`{"v":%d`, Format(kind))
	if !bytes.Equal(fields, []byte("}")) {
		head += ","
	}
	return append([]byte(head), fields...), nil
}

// Unmarshal reads the body of a record into v, lifting earlier formats to this
// program's. A later format is ErrVersion: the figures in it may mean something
// else.
func Unmarshal(kind Kind, body []byte, v any) error {
	up, known := lifts[kind]
	if !known {
		return fmt.Errorf("%w: records of kind %q", ErrVersion, kind)
	}
	return unmarshal(kind, up, body, v)
}

func unmarshal(kind Kind, up []lift, body []byte, v any) error {
	var has struct {
		V *int `json:"v"`
	}
	if err := json.Unmarshal(body, &has); err != nil {
		return fmt.Errorf("%w: body of a %s: %w", ErrDamaged, kind, err)
	}
	switch newest := 1 + len(up); {
	case has.V == nil || *has.V < 1:
		return fmt.Errorf("%w: body of a %s without the version of its format", ErrDamaged, kind)
	case *has.V > newest:
		return fmt.Errorf("%w: a %s in format %d, and this program knows formats up to %d; use the newer program that wrote it", ErrVersion, kind, *has.V, newest)
	case *has.V < newest:
		var fields map[string]json.RawMessage
		if err := json.Unmarshal(body, &fields); err != nil {
			return fmt.Errorf("%w: body of a %s: %w", ErrDamaged, kind, err)
		}
		for i := *has.V; i < newest; i++ {
			if err := up[i-1](fields); err != nil {
				return fmt.Errorf("%w: body of a %s in format %d: %w", ErrDamaged, kind, i, err)
			}
		}
		var err error
		if body, err = json.Marshal(fields); err != nil {
			return err
		}
	}
	if err := json.Unmarshal(body, v); err != nil {
		return fmt.Errorf("%w: body of a %s: %w", ErrDamaged, kind, err)
	}
	return nil
}

// Entry is a thing of package head, or a Photo, as it was kept.
type Entry[T any] struct {
	Is     T
	Rev    int64
	At     int64  // ms since 1970 UTC, when this revision was made
	By     string // initials, of who made it
	Binned bool
}

// Read returns what a record holds, and where it stands: identity and job are
// the record's.
func Read[T any](r Record) (Entry[T], error) {
	e := Entry[T]{Rev: r.Rev, At: r.At, By: r.By, Binned: r.Binned}
	if err := Unmarshal(r.Kind, r.Body, &e.Is); err != nil {
		return e, fmt.Errorf("%s %q: %w", r.Kind, r.ID, err)
	}
	switch is := any(&e.Is).(type) {
	case *head.Job:
		is.ID = r.ID
	case *head.Test:
		is.ID, is.JobID = r.ID, r.JobID
	case *head.Work:
		is.ID, is.JobID = r.ID, r.JobID
	case *head.Observed:
		is.ID, is.JobID = r.ID, r.JobID
	case *Photo:
		is.ID, is.JobID = r.ID, r.JobID
	case *head.Rig:
		is.ID = r.ID
	case *head.Check:
		is.ID = r.ID
	}
	return e, nil
}

func readAll[T any](rs []Record) ([]Entry[T], error) {
	all := make([]Entry[T], 0, len(rs))
	for _, r := range rs {
		e, err := Read[T](r)
		if err != nil {
			return nil, err
		}
		all = append(all, e)
	}
	return all, nil
}
