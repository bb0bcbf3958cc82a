package rigfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"seatproof/rig"
	"seatproof/unit"
)

// longestFile is the most that is read of a rig file, which is a page of text.
const longestFile = 1 << 20 // bytes

// Read reads a rig file; name is what messages call it. Everything may be
// missing: an empty file is the rig of which nothing is known.
//
// A file with anything wrong gives no rig but [Faults], which names all that
// was found: unknown keys with the nearest known one, figures without unit or
// with a wrong one, words that are not on the list, figures that smell of a
// slip. Errors of package unit are found in it with errors.As.
func Read(r io.Reader, name string) (rig.Rig, error) {
	data, err := io.ReadAll(io.LimitReader(r, longestFile+1))
	if err != nil {
		return rig.Rig{}, Faults{{File: name, Problem: "it can't be read: " + err.Error(), Cause: err}}
	}
	if problem := unfit(data); problem != "" {
		return rig.Rig{}, Faults{{File: name, Problem: problem}}
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	doc, fault := parseDocument(data)
	if fault != nil {
		fault.File = name
		return rig.Rig{}, Faults{fault}
	}
	out, faults := fill(doc)
	// Before there was a key for it the unit stood in a comment.
	if m := unitComment.FindSubmatch(data); m != nil && out.Gauge.Unit == "" {
		if u, ok := unit.UnitOf(string(m[1])); ok && u.Dim == unit.PressureDim {
			out.Gauge.Unit = u.Name
		}
	}
	if len(faults) == 0 {
		return out, nil
	}
	for _, f := range faults {
		f.File = name
	}
	slices.SortStableFunc(faults, func(a, b *Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return rig.Rig{}, faults
}

// unfit says why a file can't be text in UTF-8, with what to do.
func unfit(data []byte) string {
	switch {
	case len(data) > longestFile:
		return "it is larger than 1 MiB: is it a rig file?"
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return "it is in UTF-16: save it as UTF-8"
	case bytes.IndexByte(data, 0) >= 0:
		return "it is not a text file: is it a rig file?"
	case !utf8.Valid(data):
		before := data
		for i := 0; i < len(data); {
			c, n := utf8.DecodeRune(data[i:])
			if c == utf8.RuneError && n == 1 {
				before = data[:i]
				break
			}
			i += n
		}
		return fmt.Sprintf("line %d has a letter that is not UTF-8: save the file as UTF-8, or write +- for ± and cm3 for cm³",
			bytes.Count(before, []byte("\n"))+1)
	}
	return ""
}

// fill puts a document into a rig.
func fill(doc document) (out rig.Rig, faults Faults) {
	add := func(at place, key string, err error) {
		var inside *pointError
		if errors.As(err, &inside) {
			at = inside.at
		}
		faults = append(faults, &Fault{Line: at.line, Column: at.column, Key: key, Problem: err.Error(), Cause: err})
	}
	unknown := make(map[string]bool) // tables that are no part of a rig file
	for _, t := range doc.tables {
		switch {
		case !isTable(t.key) && !insideOf(unknown, t.key):
			unknown[t.key] = true
			add(t.at, "", fmt.Errorf("unknown table [%s]%s", t.key, didYouMean(t.key, tableNames(), "[%s]")))
		case t.listed:
			add(t.at, "", fmt.Errorf("there is one [%s] only: write it in single brackets", t.key))
		}
	}
	found := make(map[string]value)
	for _, e := range doc.entries {
		f := slices.IndexFunc(fields, func(f field) bool { return f.key == e.key })
		switch {
		case f >= 0:
			found[e.key] = e.value
			if err := fields[f].set(&out, e.value); err != nil {
				add(e.value.at, e.key, err)
			}
		case isTable(e.key):
			add(e.at, e.key, fmt.Errorf("it is a table: write [%s] on a line of its own, and its keys below", e.key))
		case !insideOf(unknown, e.key):
			add(e.at, "", fmt.Errorf("unknown key %q%s", e.key, nearestKey(e.key)))
		}
	}
	if v, ok := found["gauge.accuracy"]; ok {
		if err := finishAccuracy(&out, v); err != nil {
			add(v.at, "gauge.accuracy", err)
		}
	}
	for _, b := range between {
		if v, ok := found[b.key]; ok {
			if err := b.check(out); err != nil {
				add(v.at, b.key, err)
			}
		}
	}
	return out, faults
}

// tableNames returns the tables of a rig file.
func tableNames() (names []string) {
	for _, f := range fields {
		if table, _, ok := strings.Cut(f.key, "."); ok && !slices.Contains(names, table) {
			names = append(names, table)
		}
	}
	return names
}

func isTable(key string) bool { return slices.Contains(tableNames(), key) }

// insideOf says whether a key lies in one of the tables.
func insideOf(tables map[string]bool, key string) bool {
	for t := range tables {
		if strings.HasPrefix(key, t+".") || key == t {
			return true
		}
	}
	return false
}

// nearestKey says which known key an unknown one may have meant: the same
// word in another table, a similar word in the same table, or a similar word
// in another.
func nearestKey(key string) string {
	table, word := "", key
	if i := strings.LastIndex(key, "."); i >= 0 {
		table, word = key[:i], key[i+1:]
	}
	var all, beside []string
	for _, f := range fields {
		all = append(all, f.key)
		t, w, ok := strings.Cut(f.key, ".")
		if !ok {
			t, w = "", f.key
		}
		if w == word {
			return didYouMean(f.key, []string{f.key}, "%s")
		}
		if t == table {
			beside = append(beside, f.key)
		}
	}
	if near := unit.Nearest(word, lastWords(beside)); near != "" {
		if table != "" {
			near = table + "." + near
		}
		return didYouMean(near, []string{near}, "%s")
	}
	for _, f := range fields {
		if near := unit.Nearest(word, lastWords([]string{f.key})); near != "" {
			return didYouMean(f.key, []string{f.key}, "%s")
		}
	}
	if len(beside) == 0 {
		beside = all
	}
	return ": the keys here are " + strings.Join(beside, ", ")
}

func lastWords(keys []string) (words []string) {
	for _, k := range keys {
		words = append(words, k[strings.LastIndex(k, ".")+1:])
	}
	return words
}

// didYouMean puts the nearest known word into a question; without one it lists
// them if they are few.
func didYouMean(word string, known []string, form string) string {
	if near := unit.Nearest(word, known); near != "" {
		return ": did you mean " + fmt.Sprintf(form, near) + "?"
	}
	if len(known) > 6 {
		return ""
	}
	var list []string
	for _, k := range known {
		list = append(list, fmt.Sprintf(form, k))
	}
	return ": the tables are " + strings.Join(list, ", ")
}
