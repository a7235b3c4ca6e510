package upkeep_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
	"tiedown/internal/regulation"
	"tiedown/internal/upkeep"
)

// failer is what a test fails by, one on random cases as well.
type failer interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

func rules(tb failer) *upkeep.Rules {
	tb.Helper()
	book, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return book.Upkeep
}

// story is one due date, with the words of the rule that it follows from. Its parts are written as told below.
type story struct {
	says string
	asks string // a row of the book, or a demand of the aircraft's own papers: "directive every 12m 100h", "own first 4500h"
	of   string // the aircraft, where it is none of the standard category
	done string // records between semicolons: "annual-inspection 2025-03-04 4210h", "... +8h" overflown by 8 hours
	now  string // the day, and what the meters read: "2026-03-31 4300h 812c"
	want string // as written by sum
	why  string
}

// aircraftOf is an airplane with everything that a row may ask for.
func aircraftOf(certificate string) upkeep.Aircraft {
	a := upkeep.Aircraft{ELT: airworthiness.Yes, Transponder: airworthiness.Yes, Progressive: airworthiness.No, OwnComplete: airworthiness.Yes}
	a.Category, a.Certificate = "airplane", "standard"
	a.USRegistered, a.EngineDrivenElectrical, a.Seats = airworthiness.Yes, airworthiness.Yes, airworthiness.Given(4)
	switch certificate {
	case "":
	case "papers unknown":
		a.OwnComplete = airworthiness.Unknown
	case "progressive, papers unknown":
		a.Progressive, a.OwnComplete = airworthiness.Yes, airworthiness.Unknown
	case "progressive":
		a.Progressive = airworthiness.Yes
	case "no elt":
		a.ELT = airworthiness.No
	case "one seat":
		a.Seats = airworthiness.Given(1)
	case "perhaps a transponder":
		a.Transponder = airworthiness.Unknown
	case "no transponder":
		a.Transponder = airworthiness.No
	case "glider", "rotorcraft", "balloon":
		a.Category = certificate
	case "battery used 1h":
		a.ELTBatteryHours = airworthiness.Given(1.0)
	case "battery used 1.1h":
		a.ELTBatteryHours = airworthiness.Given(1.1)
	case "foreign":
		a.USRegistered = airworthiness.No
	default:
		a.Certificate = certificate
	}
	return a
}

// check tells the story of a set of rules.
func (s *story) check(r *upkeep.Rules) error {
	a := aircraftOf(s.of)
	on, now, err := parseNow(s.now)
	if err != nil {
		return err
	}
	a.Now = now
	if a.Log, err = parseWork(s.done); err != nil {
		return err
	}
	id, rest, isOwn := strings.Cut(s.asks, " ")
	if isOwn {
		d, err := parseDemand(id, rest)
		if err != nil {
			return err
		}
		d.Record = upkeep.Record{Work: a.Log, Now: now}
		a.Own = []upkeep.Demand{d}
		id = d.ID
	}
	have := "not asked"
	for _, i := range r.Items(&a, on) {
		if i.ID == id {
			have = sum(&i)
		}
	}
	if have != s.want {
		return fmt.Errorf("%s:\nwant %s\nhave %s\nas %s", s.says, s.want, have, s.why)
	}
	return nil
}

// sum writes how an item stands: "serves through 2026-03-31 (0 days) to 4310 h (2.5 h)".
func sum(i *upkeep.Item) string {
	b := i.State.String()
	if i.Due.Through.Known {
		b += fmt.Sprintf(" through %s (%d days)", i.Due.Through.Value, i.Left.Days.Value)
	}
	if h := i.Due.Hours; h.Known {
		b += fmt.Sprintf(" to %v h", h.Value)
		if i.Left.Hours.Known {
			b += fmt.Sprintf(" (%v h)", i.Left.Hours.Value)
		}
	}
	if c := i.Due.Cycles; c.Known {
		b += fmt.Sprintf(" to %v cycles", c.Value)
		if i.Left.Cycles.Known {
			b += fmt.Sprintf(" (%v)", i.Left.Cycles.Value)
		}
	}
	return b
}

func parseNow(s string) (upkeep.Date, upkeep.Reading, error) {
	var w upkeep.Work
	for word := range strings.FieldsSeq(s) {
		if err := parseWord(&w, word); err != nil {
			return 0, upkeep.Reading{}, err
		}
	}
	return w.On.Value, w.At, nil
}

func parseWork(s string) ([]upkeep.Work, error) {
	var log []upkeep.Work
	if s == "" {
		return nil, nil
	}
	for one := range strings.SplitSeq(s, "; ") {
		task, rest, _ := strings.Cut(one, " ")
		w := upkeep.Work{Task: task}
		for word := range strings.FieldsSeq(rest) {
			if err := parseWord(&w, word); err != nil {
				return nil, err
			}
		}
		log = append(log, w)
	}
	return log, nil
}

func parseWord(w *upkeep.Work, word string) error {
	if day, ok := strings.CutPrefix(word, "expires:"); ok {
		return parseDay(&w.Expires, day)
	}
	if day, ok := strings.CutPrefix(word, "marked:"); ok {
		return parseDay(&w.Through, day)
	}
	if check, ok := strings.CutPrefix(word, "by:"); ok {
		w.Check = check
		return nil
	}
	if strings.Count(word, "-") == 2 {
		return parseDay(&w.On, word)
	}
	unit := word[strings.LastIndexAny(word, "0123456789")+1:]
	n, err := strconv.ParseFloat(strings.TrimSuffix(word, unit), 64)
	if err != nil {
		return err
	}
	switch {
	case unit == "h" && word[0] == '+':
		w.Overflown = airworthiness.Given(n)
	case unit == "h":
		w.At.Hours = airworthiness.Given(n)
	case unit == "c":
		w.At.Cycles = airworthiness.Given(n)
	case unit == "°":
		w.ErrorDegrees = airworthiness.Given(n)
	default:
		return fmt.Errorf("no such unit: %q", word)
	}
	return nil
}

func parseDay(into *upkeep.Fact[upkeep.Date], s string) error {
	d, ok := airworthiness.ParseDate(s)
	if !ok {
		return fmt.Errorf("%q is no date", s)
	}
	*into = airworthiness.Given(d)
	return nil
}

// parseDemand reads "every 12m 100h", "first 2026-12-31 4500h", or both.
func parseDemand(kind, s string) (upkeep.Demand, error) {
	k, ok := upkeep.ParseKind(kind)
	if !ok {
		return upkeep.Demand{}, fmt.Errorf("no such kind: %q", kind)
	}
	d := upkeep.Demand{ID: "own-1", Kind: k, What: "own"}
	first := false
	for word := range strings.FieldsSeq(s) {
		var err error
		switch {
		case word == "every" || word == "first":
			first = word == "first"
		case word == "ended":
			d.Ended = true
		case first:
			err = parseFirst(&d.First, word)
		default:
			err = parseLimit(&d.Every, word)
		}
		if err != nil {
			return d, err
		}
	}
	return d, nil
}

func parseFirst(due *upkeep.Due, word string) error {
	var w upkeep.Work
	err := parseWord(&w, word)
	if w.On.Known {
		due.Through = w.On
	}
	if w.At.Hours.Known {
		due.Hours = w.At.Hours
	}
	if w.At.Cycles.Known {
		due.Cycles = w.At.Cycles
	}
	return err
}

func parseLimit(l *upkeep.Limit, word string) error {
	at := strings.IndexFunc(word, func(r rune) bool { return r != '.' && (r < '0' || r > '9') })
	n, err := strconv.ParseFloat(word[:at], 64)
	if err != nil {
		return err
	}
	switch word[at:] {
	case "cm":
		l.CalendarMonths = int(n)
	case "m":
		l.Months = int(n)
	case "d":
		l.Days = int(n)
	case "h":
		l.Hours = n
	case "c":
		l.Cycles = int(n)
	default:
		return fmt.Errorf("no such limit: %q", word)
	}
	return nil
}

func tell(t *testing.T, stories []story) {
	t.Helper()
	for _, s := range stories {
		t.Run(s.says, func(t *testing.T) {
			t.Parallel()
			if err := s.check(rules(t)); err != nil {
				t.Error(err)
			}
		})
	}
}
