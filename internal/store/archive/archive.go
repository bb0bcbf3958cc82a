// Package archive carries a whole job from one store to another, in one zip
// file.
//
// Start with [Export] and [Import]. The file holds manifest.json, which names
// every other file with its size and SHA-256; job.json and the records of tests,
// work, observed figures, rigs, checks and photos, each with all its revisions; and the bytes of
// traces and photos as they came, under their own names. Results are left out:
// they are worked out again. The checksums find damage; they are no signature.
package archive

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"path"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"seatproof/internal/store"
)

// Format is the name and version of the file that Export writes.
const Format = "seatproof/job/1"

// family is what the names of all versions begin with.
const family = "seatproof/job/"

const manifestName = "manifest.json"

// Errors of an import. Compare with errors.Is; store.ErrVersion says that a
// newer program wrote the file.
var (
	ErrBroken  = errors.New("the file is broken")
	ErrForeign = errors.New("the file is not an exported job")
	ErrTooBig  = errors.New("the file holds more than is taken in")
)

// manifest says what a file holds.
type manifest struct {
	Format string  `json:"format"`
	Job    string  `json:"job"` // its identity
	Files  []entry `json:"files"`
}

// entry is one file of the zip beside the manifest.
type entry struct {
	Path   string `json:"path"`
	SHA256 string `json:"sha256"`
	Size   int64  `json:"size"`
	Holds  string `json:"holds"`          // "record" or "bytes"
	Name   string `json:"name,omitempty"` // of bytes: as the person's file was called
	Type   string `json:"type,omitempty"` // of bytes: media type
}

const (
	holdsRecord = "record"
	holdsBytes  = "bytes"
)

// record is a record with all its revisions, oldest first.
type record struct {
	Kind      store.Kind `json:"kind"`
	ID        string     `json:"id"`
	Revisions []revision `json:"revisions"`
}

type revision struct {
	Rev    int64           `json:"rev"`
	JobID  string          `json:"job"`
	At     int64           `json:"at"`
	By     string          `json:"by"`
	Binned bool            `json:"binned"`
	Body   json.RawMessage `json:"body"`
}

func (r record) newest() revision { return r.Revisions[len(r.Revisions)-1] }

func of(history []store.Record) record {
	r := record{Kind: history[0].Kind, ID: history[0].ID}
	for _, h := range history {
		r.Revisions = append(r.Revisions, revision{h.Rev, h.JobID, h.At, h.By, h.Binned, bytes.TrimSpace(h.Body)})
	}
	return r
}

// marshal writes a record with its bodies byte for byte, which json.Marshal
// would not, a line for each revision.
func (r record) marshal() ([]byte, error) {
	var b bytes.Buffer
	kind, err := json.Marshal(r.Kind)
	if err != nil {
		return nil, err
	}
	id, err := json.Marshal(r.ID)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(&b, "{\"kind\":%s,\"id\":%s,\"revisions\":[", kind, id)
	for i, rev := range r.Revisions {
		if i > 0 {
			b.WriteByte(',')
		}
		body := rev.Body
		rev.Body = json.RawMessage("0")
		head, err := json.Marshal(rev)
		if err != nil {
			return nil, err
		}
		b.WriteByte('\n')
		b.Write(bytes.TrimSuffix(head, []byte("0}")))
		b.Write(body)
		b.WriteByte('}')
	}
	b.WriteString("\n]}\n")
	return b.Bytes(), nil
}

// names gives files of a zip names that are theirs alone, whatever the case, and
// that every system can write.
type names map[string]bool

func (n names) in(dir, name string) string {
	name = safe(name)
	ext := path.Ext(name)
	for i := 1; ; i++ {
		p := path.Join(dir, name)
		if i > 1 {
			p = path.Join(dir, fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ext), i, ext))
		}
		if key := store.Fold(p); !n[key] {
			n[key] = true
			return p
		}
	}
}

// longest is how many bytes a file's name may have, with room for a number.
const longest = 120

// reserved are names that one system keeps for devices, whatever their ending,
// from memory.
var reserved = regexp.MustCompile(`(?i)^(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)`)

// safe returns a name without what some system does not allow in one.
func safe(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || strings.ContainsRune(`<>:"/\|?*`, r) || r == utf8.RuneError {
			return '-'
		}
		return r
	}, name)
	name = strings.Trim(name, ". ")
	if len(name) > longest {
		ext := path.Ext(name)
		if len(ext) > 10 {
			ext = ""
		}
		stem := name[:longest-len(ext)]
		for !utf8.ValidString(stem) {
			stem = stem[:len(stem)-1]
		}
		name = stem + ext
	}
	if reserved.MatchString(name) {
		name = "_" + name
	}
	if name == "" {
		name = "file"
	}
	return name
}
