package airworthiness

import "math/bits"

// maxConditions bounds the distinct conditions of one ruleset: three machine words, so that a row is tested in a few
// instructions.
const maxConditions = 192

// mask is a set of conditions. Its words are named, as the compiler keeps no array in registers.
type mask struct{ low, middle, high uint64 }

// only is the set of one condition.
func only(i int) mask {
	switch {
	case i < 64:
		return mask{low: 1 << i}
	case i < 128:
		return mask{middle: 1 << (i - 64)}
	default:
		return mask{high: 1 << (i - 128)}
	}
}

func (m *mask) set(i int) { *m = m.or(only(i)) }

func (m mask) has(i int) bool { return m.overlaps(only(i)) }

func (m mask) and(n mask) mask { return mask{m.low & n.low, m.middle & n.middle, m.high & n.high} }

func (m mask) or(n mask) mask { return mask{m.low | n.low, m.middle | n.middle, m.high | n.high} }

func (m mask) without(n mask) mask {
	return mask{m.low &^ n.low, m.middle &^ n.middle, m.high &^ n.high}
}

func (m mask) empty() bool { return m.low|m.middle|m.high == 0 }

func (m mask) overlaps(n mask) bool {
	return m.low&n.low|m.middle&n.middle|m.high&n.high != 0
}

// words are a mask of which one member after another is asked for.
type words [3]uint64

func (m mask) words() words { return words{m.low, m.middle, m.high} }

func (w *words) has(i int16) bool { return w[uint(i)/64%3]>>(uint(i)%64)&1 != 0 }

// each calls f for every member, in ascending order.
func (m mask) each(f func(i int)) {
	for ; m.low != 0; m.low &= m.low - 1 {
		f(bits.TrailingZeros64(m.low))
	}
	for ; m.middle != 0; m.middle &= m.middle - 1 {
		f(64 + bits.TrailingZeros64(m.middle))
	}
	for ; m.high != 0; m.high &= m.high - 1 {
		f(128 + bits.TrailingZeros64(m.high))
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
	case Unknown:
	}
}

func (s state) or(t state) state { return state{s.yes.or(t.yes), s.no.or(t.no)} }

// truth is what is known of one condition.
func (s state) truth(i int) Truth {
	switch {
	case s.yes.has(i):
		return Yes
	case s.no.has(i):
		return No
	default:
		return Unknown
	}
}

// among is what is known of some conditions only.
func (s state) among(m mask) state { return state{s.yes.and(m), s.no.and(m)} }

// clause is a conjunction: every condition of all holds and none of none does.
type clause struct{ all, none mask }

// fails says that the conjunction is known not to hold.
func (c *clause) fails(s *state) bool {
	return c.all.low&s.no.low|c.none.low&s.yes.low|c.all.middle&s.no.middle|c.none.middle&s.yes.middle|
		c.all.high&s.no.high|c.none.high&s.yes.high != 0
}

// open is the set of conditions that are unknown. A conjunction that does not fail is unknown while there are any, and
// holds when there are none.
func (c *clause) open(s *state) mask { return c.all.or(c.none).without(s.yes).without(s.no) }

// holds evaluates the conjunction in three values.
func (c *clause) holds(s *state) Truth {
	switch {
	case c.fails(s):
		return No
	case c.open(s).empty():
		return Yes
	default:
		return Unknown
	}
}
