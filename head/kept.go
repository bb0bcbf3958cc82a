package head

import (
	"encoding/binary"
	"fmt"
	"math"
	"sync"

	"seatproof/leak"
)

// Kept holds what takes long of a job's card (ports taken apart by sampling, plans
// of masks, what steps are expected to come to), by all that it depends on, from
// one card to the next: a change concerns one port of many. A card is the same with
// it and without. What the last card did not ask for is forgotten with the next.
// The zero value is ready; it is safe for concurrent use.
type Kept struct {
	mu   sync.Mutex
	made map[string]any
}

// keeping is what one card asks of a [Kept]; nil keeps nothing.
type keeping struct {
	of        *Kept
	had, asks map[string]any
}

func (k *Kept) begin() *keeping {
	if k == nil {
		return nil
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	return &keeping{of: k, had: k.made, asks: map[string]any{}}
}

// end hands over what the card asked for.
func (k *keeping) end() {
	if k == nil {
		return
	}
	k.of.mu.Lock()
	defer k.of.mu.Unlock()
	k.of.made = k.asks
}

// keptOf returns what was made of told, made now where it was not. It is shared:
// nobody changes it.
func keptOf[T any](k *keeping, told key, make func() T) T {
	if k == nil {
		return make()
	}
	is, had := k.asks[string(told)]
	if !had {
		is, had = k.had[string(told)]
	}
	if !had {
		is = make()
	}
	k.asks[string(told)] = is
	return is.(T)
}

// key is all that something depends on, one after the other.
type key []byte

func (k key) figures(x ...float64) key {
	k = binary.LittleEndian.AppendUint64(k, uint64(len(x)))
	for _, v := range x {
		k = binary.LittleEndian.AppendUint64(k, math.Float64bits(v))
	}
	return k
}

func (k key) words(s ...string) key {
	k = binary.LittleEndian.AppendUint64(k, uint64(len(s)))
	for _, w := range s {
		k = append(binary.LittleEndian.AppendUint64(k, uint64(len(w))), w...)
	}
	return k
}

func (k key) yes(b bool) key {
	if b {
		return append(k, 1)
	}
	return append(k, 0)
}

// keyOf is all that a system is made of.
func (s *apartSystem) keyOf() key {
	k := key(nil).words("apart").figures(float64(s.n), float64(s.rest), float64(s.guide), s.room, s.temp, s.factor).figures(s.sigma...).figures(s.prior...)
	for i := range s.tests {
		t := &s.tests[i]
		k = k.words(t.id).figures(t.row...).figures(t.e.Median, t.e.Mean, t.e.Own, t.e.Added, t.e.Factor)
	}
	for _, t := range s.told {
		k = k.figures(t.row...).figures(t.share)
	}
	return k
}

// keyOf is all that a step that settles a verdict is worked out of. What a reading
// says never changes once it is made, so that where it lies stands for it; whoever
// keeps the answer holds the readings too.
func (l *stepped) keyOf(tests []*leak.Reading, of *leak.Reading, strict bool) key {
	k := key(nil).words("settle").figures(l.one[:]...).figures(l.all[:]...).yes(l.exact).yes(strict)
	for _, t := range tests {
		k = k.words(fmt.Sprintf("%p", t))
	}
	if of.Leak != nil && of.TestedAgain != nil && len(of.Budget) > 0 { // [Shrink]
		k = k.figures(of.Leak.Low, of.Leak.High, of.TestedAgain.Low, of.TestedAgain.High)
	}
	for _, b := range of.Budget {
		k = k.words(b.Input).figures(b.Share)
	}
	return k
}
