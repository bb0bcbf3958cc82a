package web

import (
	"crypto/sha256"
	"encoding/json"
	"sync"
)

// memo keeps what was last made of all that it was told, up to most of them. What
// can't be written as JSON (a figure that is not finite) is made each time. The
// zero memo keeps nothing until most is set.
type memo[T any] struct {
	most int

	mu   sync.Mutex
	made map[[32]byte]T
}

// of returns what was made of told, made now where it was not. What is returned is
// shared: nobody changes it.
func (m *memo[T]) of(told any, make func() (T, error)) (T, error) {
	body, err := json.Marshal(told)
	if err != nil {
		return make()
	}
	key := sha256.Sum256(body)
	m.mu.Lock()
	is, had := m.made[key]
	m.mu.Unlock()
	if had {
		return is, nil
	}
	if is, err = make(); err != nil {
		return is, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.made) >= m.most || m.made == nil {
		m.made = map[[32]byte]T{}
	}
	m.made[key] = is
	return is, nil
}
