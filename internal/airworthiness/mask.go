package airworthiness

import "math/bits"

// maxConditions bounds the distinct conditions of one ruleset: two machine words, so that a row is tested in a few
// instructions.
const maxConditions = 128

// mask is a set of conditions.
type mask [maxConditions / 64]uint64

func (m *mask) set(i int) { m[i/64] |= 1 << (i % 64) }

func (m mask) has(i int) bool { return m[i/64]&(1<<(i%64)) != 0 }

func (m mask) and(n mask) mask { return mask{m[0] & n[0], m[1] & n[1]} }

func (m mask) or(n mask) mask { return mask{m[0] | n[0], m[1] | n[1]} }

func (m mask) without(n mask) mask { return mask{m[0] &^ n[0], m[1] &^ n[1]} }

func (m mask) empty() bool { return m[0]|m[1] == 0 }

func (m mask) overlaps(n mask) bool { return !m.and(n).empty() }

// each calls f for every member, in ascending order.
func (m mask) each(f func(i int)) {
	for w, word := range m {
		for ; word != 0; word &= word - 1 {
			f(w*64 + bits.TrailingZeros64(word))
		}
	}
}

// state is what is known of every condition: a condition in neither set is unknown.
type state struct{ yes, no mask }

func (s *state) put(i int, t Truth) {
	switch t {
	case Yes:
		s.yes.set(i)
	case No:
		s.no.set(i)
	}
}

func (s state) or(t state) state { return state{s.yes.or(t.yes), s.no.or(t.no)} }

// clause is a conjunction: every condition of all holds and none of none does.
type clause struct{ all, none mask }

// holds evaluates the conjunction in three values.
func (c *clause) holds(s *state) Truth {
	if !c.all.and(s.no).empty() || !c.none.and(s.yes).empty() {
		return No
	}
	if c.all.without(s.yes).empty() && c.none.without(s.no).empty() {
		return Yes
	}
	return Unknown
}

// open is the set of conditions whose being unknown leaves the conjunction unknown.
func (c *clause) open(s *state) mask {
	return c.all.without(s.yes).or(c.none.without(s.no))
}
