package web

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"seatproof/head"
	"seatproof/leak"
)

// pooled keeps what tests read together came to: that takes longer than all else
// of a card, and a change concerns one port of many. What no card of a job asked
// for the last time is forgotten with the next one.
type pooled struct {
	mu   sync.Mutex
	jobs map[string]map[string]pool // by job, and by the tests
	kept map[string]*head.Kept      // by job: what else of a card takes long
}

// pool holds the tests it was made of, so that their addresses stay theirs.
type pool struct {
	tests []leak.Test
	made  *leak.Reading
}

func newPooled() *pooled {
	return &pooled{jobs: map[string]map[string]pool{}, kept: map[string]*head.Kept{}}
}

// keptOf returns what cards of a job keep from one to the next.
func (p *pooled) keptOf(job string) *head.Kept {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.kept[job] == nil {
		p.kept[job] = new(head.Kept)
	}
	return p.kept[job]
}

// of returns a way to read tests together that remembers, and a step to take when
// the card is made.
func (p *pooled) of(job string) (together func([]leak.Test) *leak.Reading, done func()) {
	p.mu.Lock()
	old := p.jobs[job]
	p.mu.Unlock()
	now := map[string]pool{}
	together = func(tests []leak.Test) *leak.Reading {
		key := keyOf(tests)
		x, ok := now[key]
		if !ok {
			x, ok = old[key]
		}
		if !ok {
			x = pool{slices.Clone(tests), leak.Together(tests, nil)}
		}
		now[key] = x
		return x.made
	}
	return together, func() {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.jobs[job] = now
	}
}

// keyOf is a key of tests: their names and the readings themselves, which are
// never changed once they are made.
func keyOf(tests []leak.Test) string {
	var b strings.Builder
	for _, t := range tests {
		fmt.Fprintf(&b, "%s=%p;", t.Name, t.Reading)
	}
	return b.String()
}
