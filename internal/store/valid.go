package store

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode/utf8"
)

// What a store keeps at most.
const (
	MostBody    = 16 << 20 // bytes of a body
	MostName    = 1000     // bytes of an identity, a name, a type, a search
	MostWords   = 20       // words of a search
	MostChanges = 1000     // changes that Since returns at once
)

// Valid returns nil for a record that can be kept, else an error that is
// ErrInvalid: kind and identity are needed, every text is UTF-8 without a zero
// byte and no longer than MostName, and the body is JSON in UTF-8 of at most
// MostBody bytes. What is valid here is so for every store.
func Valid(r Record) error {
	switch {
	case r.Kind == "":
		return fmt.Errorf("%w: a record without a kind", ErrInvalid)
	case r.ID == "":
		return fmt.Errorf("%w: a %s without an identity", ErrInvalid, r.Kind)
	case r.Rev < 0:
		return fmt.Errorf("%w: %s %q: revision %d", ErrInvalid, r.Kind, r.ID, r.Rev)
	}
	for what, s := range map[string]string{"kind": string(r.Kind), "identity": r.ID, "job": r.JobID, "initials": r.By} {
		if err := ValidName(s); err != nil {
			return fmt.Errorf("%s of a record: %w", what, err)
		}
	}
	switch {
	case len(r.Body) > MostBody:
		return fmt.Errorf("%w: %s %q has %d bytes, more than %d", ErrInvalid, r.Kind, r.ID, len(r.Body), MostBody)
	case !utf8.Valid(r.Body) || !json.Valid(r.Body):
		return fmt.Errorf("%w: the body of %s %q is not JSON in UTF-8", ErrInvalid, r.Kind, r.ID)
	}
	return nil
}

// ValidName says whether a short text can be kept.
func ValidName(s string) error {
	switch {
	case len(s) > MostName:
		return fmt.Errorf("%w: a text of %d bytes, where %d are the most", ErrInvalid, len(s), MostName)
	case !utf8.ValidString(s):
		return fmt.Errorf("%w: %q is not UTF-8", ErrInvalid, s)
	case strings.Contains(s, "\x00"):
		return fmt.Errorf("%w: %q holds a zero byte", ErrInvalid, s)
	}
	return nil
}

// ValidResult says whether a result can be kept.
func ValidResult(r Result) error {
	return Valid(Record{Kind: "result", ID: r.TestID, By: r.Version, Body: r.Body})
}
