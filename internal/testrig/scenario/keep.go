package scenario

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// keep gives an aircraft whose inspections are in order good papers, too, and nothing that is due.
func keep(a *casefile.Aircraft, departs time.Time) {
	if a.Facts.AnnualInspected == "" && a.Facts.ConditionInspected == "" {
		return
	}
	day := func(days int) string { return departs.AddDate(0, 0, days).Format(time.DateOnly) }
	a.Facts.Papers = &casefile.Papers{
		Airworthiness: casefile.Certificate{Aboard: yes(true), Displayed: yes(true)},
		Registration:  casefile.Paper{Aboard: yes(true), Through: day(400)},
		Limitations:   casefile.Aboard{Aboard: yes(true)},
		WeightBalance: casefile.WeightBalance{Aboard: yes(true), Dated: day(-500)},
	}
	a.Configuration.EquipmentChanged, a.Configuration.EquipmentRevision = day(-500), "7"
	a.Facts.Upkeep = &casefile.Upkeep{Complete: yes(true)}
}

// readPapers reads "WORD VALUE, WORD VALUE".
func (s *Story) readPapers(value string) error {
	for part := range strings.SplitSeq(value, ", ") {
		word, right, _ := strings.Cut(part, " ")
		if err := setPaper(&casefile.Papers{}, word, right); err != nil {
			return err
		}
		s.changes = append(s.changes, func(a *casefile.Aircraft) error {
			papers := casefile.Papers{}
			if a.Facts.Papers != nil {
				papers = *a.Facts.Papers
			}
			a.Facts.Papers = &papers
			return setPaper(&papers, word, right)
		})
	}
	return nil
}

func setPaper(p *casefile.Papers, word, value string) error {
	aboard := map[string]**bool{
		"airworthiness": &p.Airworthiness.Aboard, "displayed": &p.Airworthiness.Displayed, "registration": &p.Registration.Aboard,
		"limitations": &p.Limitations.Aboard, "weight": &p.WeightBalance.Aboard, "radio": &p.RadioLicence.Aboard,
	}
	words := map[string]*string{
		"registration-through": &p.Registration.Through, "weight-dated": &p.WeightBalance.Dated, "weight-for": &p.WeightBalance.ForRevision,
		"radio-through": &p.RadioLicence.Through,
	}
	if field, ok := words[word]; ok && value != "" {
		*field = strings.TrimSuffix(value, "unknown")
		return nil
	}
	field, ok := aboard[word]
	is, said := map[string]*bool{"aboard": yes(true), "missing": yes(false), "unknown": nil}[value]
	if !ok || !said {
		return fmt.Errorf("papers: %q %q: want airworthiness, displayed, registration, limitations, weight or radio with aboard, missing or unknown, "+
			"or registration-through, weight-dated, weight-for or radio-through with its value", word, value)
	}
	*field = is
	return nil
}

// readUpkeep reads whether the items of upkeep are all that there are.
func (s *Story) readUpkeep(value string) error {
	complete, ok := map[string]*bool{"complete": yes(true), "incomplete": yes(false), "unknown": nil}[value]
	if !ok {
		return fmt.Errorf("upkeep is complete, incomplete or unknown, not %q", value)
	}
	s.changeUpkeep(func(u *casefile.Upkeep) { u.Complete = complete })
	return nil
}

func (s *Story) changeUpkeep(change func(*casefile.Upkeep)) {
	s.changes = append(s.changes, func(a *casefile.Aircraft) error {
		u := casefile.Upkeep{}
		if a.Facts.Upkeep != nil {
			u = *a.Facts.Upkeep
		}
		a.Facts.Upkeep = &u
		change(&u)
		return nil
	})
}

// meterReads is what the meters of a story's aircraft read.
const meterReads = 1000

// readItem reads "KIND ID, PART, PART".
func (s *Story) readItem(value string) error {
	parts := strings.Split(value, ", ")
	kind, id, _ := strings.Cut(parts[0], " ")
	item := casefile.UpkeepItem{ID: id, Kind: kind, What: "work on the " + id, First: &casefile.DueAt{}}
	if kind == "directive" {
		item.Citation = "directive on the " + id
	}
	for _, part := range parts[1:] {
		if err := setItem(&item, part); err != nil {
			return err
		}
	}
	if *item.First == (casefile.DueAt{}) {
		item.First = nil
	}
	s.changeUpkeep(func(u *casefile.Upkeep) {
		reads, cycles := float64(meterReads), meterReads
		at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		u.ReadAt, u.Hours, u.Cycles = &at, &reads, &cycles
		u.Items = append(u.Items[:len(u.Items):len(u.Items)], item)
	})
	return nil
}

func setItem(it *casefile.UpkeepItem, part string) error {
	word, value, _ := strings.Cut(part, " ")
	number, err := strconv.ParseFloat(value, 64)
	switch {
	case word == "through":
		it.First.Through = value
	case word == "done":
		it.Done = append(it.Done, casefile.WorkDone{On: value})
	case word == "days" && err == nil:
		it.Every = &casefile.Every{Days: int(number)}
	case word == "left" && err == nil:
		number += meterReads
		it.First.Hours = &number
	case word == "cycles-left" && err == nil:
		cycles := int(number) + meterReads
		it.First.Cycles = &cycles
	case part == "permit barred":
		it.PermitBarred = yes(true)
	case part == "permit allowed":
		it.PermitBarred = yes(false)
	case part == "ended":
		it.Ended = true
	case word == "stops":
		it.Stops = list(value)
	default:
		return fmt.Errorf("item: %q: want through DATE, done DATE, days N, left HOURS, cycles-left N, permit barred, permit allowed, ended "+
			"or stops FLIGHTS", part)
	}
	return nil
}
