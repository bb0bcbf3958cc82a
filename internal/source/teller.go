package source

import (
	"slices"
	"time"
)

// Teller hands notices to a sink, each code at most once a second, with the
// number of times it happened since. What is held back is told by the next
// Tell or Due after its second, so Due wants calling now and then, and Rest at
// the end. It is for one goroutine.
type Teller struct {
	sink  Sink
	told  map[Code]time.Time
	held  []Notice // one a code at most, in the order in which they first came
	every time.Duration
}

// NewTeller returns a Teller.
func NewTeller(sink Sink) *Teller {
	return &Teller{sink: sink, told: map[Code]time.Time{}, every: time.Second}
}

// Tell tells a notice, now or when its second is over. A Count of 0 is 1.
func (t *Teller) Tell(n Notice) {
	n.Count = max(n.Count, 1)
	t.Due(n.At)
	if i := t.index(n.Code); i >= 0 {
		// the newest says most, and stands where it happened last
		n.Count += t.held[i].Count
		t.held = append(slices.Delete(t.held, i, i+1), n)
		return
	}
	if last, ok := t.told[n.Code]; ok && n.At.Sub(last) < t.every {
		t.held = append(t.held, n)
		return
	}
	t.tell(n)
}

// Due tells what was held back for its second.
func (t *Teller) Due(now time.Time) {
	for i := 0; i < len(t.held); {
		n := t.held[i]
		if now.Sub(t.told[n.Code]) < t.every {
			i++
			continue
		}
		t.held = slices.Delete(t.held, i, i+1)
		t.tell(n)
	}
}

// Rest tells all that is held back: the source has ended.
func (t *Teller) Rest() {
	for _, n := range t.held {
		t.sink.Tell(n)
	}
	t.held = nil
}

func (t *Teller) index(c Code) int {
	return slices.IndexFunc(t.held, func(n Notice) bool { return n.Code == c })
}

func (t *Teller) tell(n Notice) {
	t.told[n.Code] = n.At
	t.sink.Tell(n)
}
