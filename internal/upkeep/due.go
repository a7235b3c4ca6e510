package upkeep

import (
	"cmp"
	"slices"

	"tiedown/internal/airworthiness"
)

// Demand is one thing that has to be done: again and again, or once.
type Demand struct {
	ID       string
	Kind     Kind
	What     string // in words, without an article: "annual inspection"
	Citation string
	Words    string // of the rule
	Status   string // how well its row has been read; empty for what is not in the book
	Applies  Truth  // No: it does not bind this aircraft

	Every     Limit   // from when it was last done; zero: once is enough
	First     Due     // by when it has to be done for the first time
	Allowance float64 // hours by which it may be overflown on the way to where it can be done; they count in the next
	Ended     bool    // it need not be done again: a directive's terminating action, a part taken out

	Record Record
	Lacks  string // what to supply if its record says too little
	Stops  []Stop
}

// Kind says where a demand comes from.
type Kind uint8

// The kinds.
const (
	ByRegulation Kind = iota // a row of the book, for every aircraft that it binds
	ByDirective              // an airworthiness directive
	ByLifeLimit              // the airworthiness limitations, of a part
	ByProgram                // a progressive inspection's schedule (14 CFR 91.409(d))
	ByOwner                  // the organization's own
)

// Kinds lists the names of the kinds, in the order of their numbers.
func Kinds() []string { return []string{"regulation", "directive", "life-limit", "program", "own"} }

func (k Kind) String() string { return Kinds()[k] }

// ParseKind returns the kind of that name, or false.
func ParseKind(name string) (Kind, bool) {
	i := slices.Index(Kinds(), name)
	return Kind(max(i, 0)), i >= 0
}

// Due is when the demand falls due next, as its record stands. In any order, the same records give the same.
func (d *Demand) Due() Due {
	work := d.Record.Work
	if len(work) == 0 {
		return d.First
	}
	if d.over() {
		return Due{}
	}
	due := Due{Through: d.through(work)}
	hours := func(r Reading) Fact[float64] { return r.Hours }
	cycles := func(r Reading) Fact[float64] { return r.Cycles }
	due.Hours = d.counted(work, hours, d.Every.Hours, d.Allowance)
	due.Cycles = d.counted(work, cycles, float64(d.Every.Cycles), 0)
	return due
}

// over reports whether nothing more comes due.
func (d *Demand) over() bool { return d.Ended || !d.Every.Given() && len(d.Record.Work) > 0 }

// through is the last day that the latest work leaves.
func (d *Demand) through(work []Work) Fact[Date] {
	var latest Fact[Date]
	for _, w := range work {
		if t := d.Every.Through(w); t.Known && (!latest.Known || t.Value > latest.Value) {
			latest = t
		}
	}
	return latest
}

// counted is what the meter may read, at most. Work that was late gives up what it was late by, up to the allowance, or what
// its record says was flown on the way to it; work that was early gives up what was left.
func (d *Demand) counted(work []Work, of func(Reading) Fact[float64], every, allowance float64) Fact[float64] {
	if every <= 0 {
		return Fact[float64]{}
	}
	read := slices.DeleteFunc(slices.Clone(work), func(w Work) bool { return !of(w.At).Known })
	slices.SortFunc(read, func(a, b Work) int {
		return cmp.Or(cmp.Compare(of(a.At).Value, of(b.At).Value), cmp.Compare(a.On.Value, b.On.Value))
	})
	due := of(Reading{Hours: d.First.Hours, Cycles: d.First.Cycles})
	var last Work
	for len(read) > 0 {
		at := of(read[0].At).Value
		same := 0
		for same < len(read) && of(read[same].At).Value == at {
			same++
		}
		due = airworthiness.Given(round(at + every - min(late(read[:same], at, due, allowance), every)))
		last, read = read[same-1], read[same:]
	}
	if slices.ContainsFunc(work, func(w Work) bool { return !of(w.At).Known && mayFollow(w, last) }) {
		return Fact[float64]{}
	}
	return due
}

// late is by how much of its limit what was done at a reading, as one or more records have it, shortens what comes next.
func late(records []Work, at float64, due Fact[float64], allowance float64) float64 {
	if allowance <= 0 {
		return 0
	}
	var stated Fact[float64]
	for _, w := range records {
		if w.Overflown.Known && w.Overflown.Value >= stated.Value {
			stated = w.Overflown
		}
	}
	if stated.Known || !due.Known {
		return stated.Value
	}
	return min(max(at-due.Value, 0), allowance)
}

// mayFollow reports whether work whose reading is not known may have been done after another.
func mayFollow(w, last Work) bool { return !w.On.Known || !last.On.Known || w.On.Value > last.On.Value }
