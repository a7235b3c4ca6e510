package airworthiness

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// RecordRow says what a record must hold, or how long it is kept.
type RecordRow struct {
	Origin
	Record string // kind of record, such as work or defect-list
	Needs  string // what an entry of that kind must hold: a name, or several of which one will do
	Keep   string // or how long it is kept; see keepings
}

// Record kinds and their elements are those that the rows name.

// Records lists the kinds of record that the rows speak of, in the order of the table.
func (r *Ruleset) Records() []string {
	var kinds []string
	for i := range r.records {
		if !slices.Contains(kinds, r.records[i].Record) {
			kinds = append(kinds, r.records[i].Record)
		}
	}
	return kinds
}

// Elements lists what entries may hold, in the order of the table.
func (r *Ruleset) Elements() []string {
	var names []string
	for i := range r.records {
		for _, name := range r.records[i].needs() {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	return names
}

func (r *RecordRow) needs() []string {
	if r.Needs == "" {
		return nil
	}
	return strings.Split(r.Needs, "|")
}

// EntryLacks says what an entry of a kind of record still lacks. known is false for a kind of which no row says what it
// must hold: then nothing can be said, least of all that it is complete.
func (r *Ruleset) EntryLacks(record string, has []string, on Date) (lacks []Origin, known bool) {
	for i := range r.records {
		row := &r.records[i]
		if row.Record != record || row.Needs == "" || !row.inForce(on) {
			continue
		}
		known = true
		if !slices.ContainsFunc(row.needs(), func(name string) bool { return slices.Contains(has, name) }) {
			lacks = append(lacks, row.Origin)
		}
	}
	return lacks, known
}

// Kept is a record that somebody would throw away.
type Kept struct {
	Record      string
	Done        Fact[Date] // when the work was performed
	On          Date       // the day on which it would go
	Superseded  Truth      // the work has been repeated, or superseded by other work
	Repaired    Truth      // the listed defects have been repaired
	Approved    Truth      // and the aircraft has been approved for return to service
	Transferred Truth      // it has gone with the aircraft to a new owner
}

// keepings are the ways in which the rules say how long a record is kept: each says whether it may go.
var keepings = map[string]func(*Kept) Truth{
	"year-or-superseded": func(k *Kept) Truth { return k.Superseded.Or(k.yearOver()) },
	"with-aircraft":      func(k *Kept) Truth { return k.Transferred },
	"until-cleared":      func(k *Kept) Truth { return k.Repaired.And(k.Approved) },
}

// yearOver says whether a year has gone by since the work was performed.
func (k *Kept) yearOver() Truth {
	if !k.Done.Known || k.On == 0 {
		return Unknown
	}
	done := time.Unix(int64(k.Done.Value)*86400, 0).UTC()
	return TruthOf(k.On > DateOf(done.AddDate(1, 0, 0)))
}

// MayDiscard says whether a record no longer has to be kept, and which rows say so. Of a kind that no row speaks of
// nothing is known.
func (r *Ruleset) MayDiscard(k Kept) Authority {
	a := Authority{Answer: Yes}
	for i := range r.records {
		row := &r.records[i]
		if row.Record == k.Record && row.Keep != "" && row.inForce(k.On) {
			a.Answer = a.Answer.And(keepings[row.Keep](&k))
			a.Rows = append(a.Rows, row.Origin)
		}
	}
	if len(a.Rows) == 0 {
		return Authority{}
	}
	return a
}

func (r *Ruleset) compileRecords(rows []RecordRow, collect func(string, error)) {
	for _, row := range rows {
		if (row.Needs == "") == (row.Keep == "") {
			collect(row.ID, fmt.Errorf("record %q: want what it needs, or how long it is kept", row.Record))
		}
		if row.Keep != "" && keepings[row.Keep] == nil {
			collect(row.ID, fmt.Errorf("keep %q: want year-or-superseded, with-aircraft or until-cleared", row.Keep))
		}
		r.records = append(r.records, row)
	}
}
