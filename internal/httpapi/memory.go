package httpapi

import (
	"sync"
	"time"
)

const (
	// memoryLife is how long what was found is not asked for again, and so how long what another process has taken back
	// may still be good.
	memoryLife = 2 * time.Second
	// maxRemembered bounds what is remembered.
	maxRemembered = 4096
)

// memory remembers for a moment what was found by a digest. What was not found is asked for each time.
type memory[T any] struct {
	now func() time.Time

	mu    sync.RWMutex
	known map[[32]byte]found[T]
}

type found[T any] struct {
	value T
	until time.Time
}

func newMemory[T any](now func() time.Time) *memory[T] {
	return &memory[T]{now: now, known: map[[32]byte]found[T]{}}
}

// find gives what is remembered, if it is still good.
func (m *memory[T]) find(digest [32]byte) (T, bool) {
	m.mu.RLock()
	f, ok := m.known[digest]
	m.mu.RUnlock()
	return f.value, ok && m.now().Before(f.until)
}

// keep remembers for a moment, but no longer than something is good (zero: it does not run out). It makes room by
// forgetting everything: it is asked for again within two seconds anyway.
func (m *memory[T]) keep(digest [32]byte, value T, good time.Time) {
	until := m.now().Add(memoryLife)
	if !good.IsZero() && good.Before(until) {
		until = good
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.known) >= maxRemembered {
		clear(m.known)
	}
	m.known[digest] = found[T]{value, until}
}

// forget forgets everything: something was taken back.
func (m *memory[T]) forget() {
	m.mu.Lock()
	defer m.mu.Unlock()
	clear(m.known)
}
