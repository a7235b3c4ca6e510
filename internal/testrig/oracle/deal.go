package oracle

import (
	"math/rand/v2"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
)

// Dealer deals random cases. It draws every choice from one source, so that the same source deals the same cases.
type Dealer struct {
	intN  func(n int) int
	blank int  // chance in a hundred that a fact is not known
	calm  bool // aircraft and flights are mostly as they should be, so that what is odd decides by itself
}

// Seeded deals quickly: the same seed deals the same cases.
func Seeded(seed uint64) *Dealer {
	return &Dealer{intN: rand.New(rand.NewPCG(seed, 0)).IntN} //nolint:gosec // cases, not secrets
}

// Drawn deals what rapid draws, so that rapid can shrink it.
func Drawn(t *rapid.T) *Dealer {
	return &Dealer{intN: func(n int) int { return rapid.IntRange(0, n-1).Draw(t, "choice") }}
}

// chance is true so many times in a hundred.
func (d *Dealer) chance(percent int) bool { return d.intN(100) < percent }

// pick takes one of several.
func pick[T any](d *Dealer, from ...T) T { return from[d.intN(len(from))] }

// usual is mostly the ordinary one when things are calm, else any of them.
func usual[T any](d *Dealer, ordinary T, odd ...T) T {
	if d.calm && !d.chance(3) {
		return ordinary
	}
	return pick(d, append(odd, ordinary)...)
}

// mostly is a yes or no that is mostly the ordinary one when things are calm, or not known.
func (d *Dealer) mostly(ordinary bool) *bool { return maybe(d, usual(d, ordinary, !ordinary)) }

// maybe is a fact, or nothing when it is not known.
func maybe[T any](d *Dealer, value T) *T {
	if d.chance(d.blank) {
		return nil
	}
	return &value
}

// fact is a yes or no that is true so many times in a hundred, or not known.
func (d *Dealer) fact(percent int) *bool { return maybe(d, d.chance(percent)) }

// word is one of several words, or none when it is not known.
func (d *Dealer) word(from ...string) string {
	if w := maybe(d, pick(d, from...)); w != nil {
		return *w
	}
	return ""
}

// subset takes some of several, each so many times in a hundred.
func subset[T any](d *Dealer, percent int, from ...T) []T {
	some := []T{}
	for _, v := range from {
		if d.chance(percent) {
			some = append(some, v)
		}
	}
	return some
}

// howMuchIsKnown sets how many of the facts that follow are missing: mostly none or few.
func (d *Dealer) howMuchIsKnown() {
	if d.calm {
		d.blank = pick(d, 0, 0, 0, 0, 1)
		return
	}
	d.blank = pick(d, 0, 0, 0, 2, 8, 30)
}

// Case deals one case.
func (d *Dealer) Case() casefile.Case {
	a := d.Aircraft()
	house := d.House(a)
	defects, flight := d.Occasion(a)
	return casefile.Case{Aircraft: a, Defects: defects, Flight: flight, Policy: house.Policy, CompanyRules: house.Rules}
}

// Occasion deals what is wrong with an aircraft and a flight that it is to make.
func (d *Dealer) Occasion(a casefile.Aircraft) ([]casefile.Defect, casefile.Flight) {
	d.howMuchIsKnown()
	defects, flight := d.defects(a), d.flight(a.Facts)
	if d.chance(20) {
		d.errand(a, defects, &flight)
	}
	if d.chance(8) {
		d.couple(a, defects)
	}
	d.consider(defects)
	if d.chance(12) {
		flight.SpecialFlightPermit = d.permit(defects, flight)
	}
	return defects, flight
}
