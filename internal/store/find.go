package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"unicode"
)

// Fold returns s so that texts that differ in case only become equal: every
// rune becomes the least of those that Unicode's simple folding calls the same.
// "ß" and "ss" stay apart, and so do "é" as one rune and as two.
func Fold(s string) string {
	return strings.Map(func(r rune) rune {
		least := r
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			least = min(least, f)
		}
		return least
	}, s)
}

// Texts returns every text in a JSON body, not its keys or figures, folded, one
// a line, for a search to look through.
func Texts(body []byte) string {
	var b strings.Builder
	var any any
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber() // a figure too large for a float is JSON too
	if d.Decode(&any) != nil {
		return ""
	}
	texts(&b, any)
	return b.String()
}

func texts(b *strings.Builder, v any) {
	switch v := v.(type) {
	case string:
		// A zero byte may be in JSON, but not in a text of every database.
		b.WriteString(Fold(strings.ReplaceAll(v, "\x00", " ")))
		b.WriteByte('\n')
	case []any:
		for _, e := range v {
			texts(b, e)
		}
	case map[string]any:
		for _, e := range v {
			texts(b, e)
		}
	}
}

// Words splits a search into folded words; an error that is ErrInvalid where
// they are too many or too long.
func Words(find string) ([]string, error) {
	if err := ValidName(find); err != nil {
		return nil, fmt.Errorf("search: %w", err)
	}
	words := strings.Fields(Fold(find))
	if len(words) > MostWords {
		return nil, fmt.Errorf("search: %w: %d words, where %d are the most", ErrInvalid, len(words), MostWords)
	}
	return words, nil
}

// Holds says whether folded texts hold every word.
func Holds(texts string, words []string) bool {
	for _, w := range words {
		if !strings.Contains(texts, w) {
			return false
		}
	}
	return true
}
