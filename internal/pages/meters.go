package pages

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// metersView is the book of an aircraft's meters, with the form that goes on in it.
type metersView struct {
	about
	Meters  []meterRow
	Form    meterForm
	Flights []techlog.Flight // that it may have been read after
	May     bool
	Entered bool // just now
}

// meterRow is one meter with what was entered of it, newest first.
type meterRow struct {
	Meter   string
	Name    string
	Words   string // what it counts
	Entries []meterEntry
	More    int // number of the last entry that is listed, if there are more; 0: there are none
}

// meterEntry is one entry with what it adds to the one before.
type meterEntry struct {
	walkaround.BookEntry
	When  time.Time
	Added string // empty: it is the first that is known here
}

// meterForm is what somebody has read.
type meterForm struct {
	Hobbs, Tach, Total, Air string
	Flight, Because         string
	Once                    string
	Sent                    bool // before, with other values
	Faults                  casefile.Faults
}

// Fault is what is wrong with a field.
func (f meterForm) Fault(field string) *casefile.Fault { return faultOf(f.Faults, field) }

// AsksWhy says whether a reading contradicts the book, so that it needs words.
func (f meterForm) AsksWhy() bool {
	return f.Because != "" || f.Fault("because") != nil || slices.ContainsFunc(f.Faults, func(fault casefile.Fault) bool {
		return slices.Contains([]string{string(walkaround.StepBack), string(walkaround.Implausible), string(walkaround.Gap)}, fault.Rule)
	})
}

// Words about the meters.
var meterWords = map[walkaround.Meter]string{
	walkaround.Hobbs:         "Commonly runs on the ground, too.",
	walkaround.Tach:          "Counts by the speed of the engine.",
	walkaround.TimeInService: "From leaving the surface to touching it: what everything due by hours is counted from.",
}

const (
	entriesShown = 10
	// lastFlights is how long ago a flight may have ended to be offered: our choice.
	lastFlights    = 7 * 24 * time.Hour
	flightsOffered = 20
	// maxBecause bounds the reason, in bytes: as the interface does.
	maxBecause = 400
)

func (p *pages) showMeters(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	return p.meters(v, ok, metersView{about: on, Form: meterForm{Once: newOnce()}, Entered: v.URL.Query().Get("entered") != ""})
}

// meters shows the book. An address may ask for older entries of one meter.
func (p *pages) meters(v *visit, status int, view metersView) error {
	id := view.Aircraft.ID
	for _, meter := range walkaround.Meters() {
		page := hangar.Page{Limit: entriesShown + 1}
		if from, err := strconv.Atoi(v.URL.Query().Get(string(meter))); err == nil && from > 0 {
			page.AfterRevision = from
		}
		entries, err := p.Service.MeterEntries(v, v.who, id, meter, page)
		if err != nil {
			return err
		}
		view.Meters = append(view.Meters, rowOfMeter(meter, entries, view.Zone))
	}
	now := p.Now()
	flights, err := p.Service.Flights(v, v.who, hangar.FlightFilter{
		Aircraft: id, State: techlog.Planned, EndsAfter: now.Add(-lastFlights), DepartBefore: now,
	}, hangar.Page{Limit: flightsOffered})
	if err != nil {
		return err
	}
	slices.SortFunc(flights, func(a, b techlog.Flight) int { return b.Departs.Compare(a.Departs) })
	view.Flights, view.May = flights, v.who.May(techlog.EnterMeters)
	return p.showIn(v, status, "meters", frame{Title: "Meters of " + view.Aircraft.Registration, Here: "fleet", Page: &view})
}

func rowOfMeter(meter walkaround.Meter, entries []walkaround.BookEntry, zone *time.Location) meterRow {
	row := meterRow{Meter: string(meter), Name: meterName(string(meter)), Words: meterWords[meter]}
	for i, e := range entries {
		if i == entriesShown {
			row.More = entries[i-1].Number
			break
		}
		one := meterEntry{BookEntry: e, When: e.At.In(zone)}
		if i+1 < len(entries) {
			one.Added = signedHours(e.Hours - entries[i+1].Hours)
		}
		row.Entries = append(row.Entries, one)
	}
	return row
}

func signedHours(h float64) string {
	if h < 0 {
		return decimal(h, 2)
	}
	return "+" + decimal(h, 2)
}

// enterMeters goes on in the book.
func (p *pages) enterMeters(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	said := func(field string) string { return strings.TrimSpace(v.form.Get(field)) }
	form := meterForm{
		Hobbs: said("hobbs"), Tach: said("tach"), Total: said("time_in_service"), Air: said("air_hours"), Flight: said("flight"),
		Because: strings.TrimSpace(v.text("because")), Once: v.form.Get("once"),
	}
	reading := hangar.MeterReading{Aircraft: on.Aircraft.ID, Because: form.Because}
	for field, into := range map[string]**float64{
		"hobbs": &reading.Hobbs, "tach": &reading.Tach, "time_in_service": &reading.TimeInService, "air_hours": &reading.AirHours,
	} {
		*into = readHours(field, said(field), &form.Faults)
	}
	if form.Flight != "" {
		flight, valid := techlog.ParseID(form.Flight)
		if !valid {
			form.Faults.Add("flight", "form", "it names no flight", "choose one of the list")
		}
		reading.Flight = flight
	}
	if len(form.Because) > maxBecause || strings.ContainsRune(form.Because, 0) {
		form.Faults.Add("because", "length", "the reason is longer than 400 characters, or has some that cannot be kept", "say it in a sentence or two")
	}
	if len(form.Faults) > 0 {
		return p.meters(v, problems[techlog.KindInvalid].status, metersView{about: on, Form: form})
	}
	_, err = p.Service.EnterMeters(v, v.who, reading, v.once("", nil), keep(func(book []walkaround.BookEntry) int { return len(book) }))
	if kind := techlog.KindOf(err); kind == techlog.KindInvalid || kind == techlog.KindReused {
		if form.Faults = faultsOf(err); kind == techlog.KindReused {
			form.Sent, form.Once = true, newOnce()
		}
		return p.meters(v, problems[kind].status, metersView{about: on, Form: form})
	}
	if err != nil {
		return err
	}
	return v.goTo("/aircraft/" + on.Aircraft.ID.String() + "/meters?entered=yes")
}

// readHours reads the hours of a field; nil: nothing is said.
func readHours(field, said string, bad *casefile.Faults) *float64 {
	if said == "" {
		return nil
	}
	hours, err := strconv.ParseFloat(strings.ReplaceAll(said, ",", "."), 64)
	if err != nil || math.IsNaN(hours) || math.IsInf(hours, 0) {
		bad.Add(field, "number", fmt.Sprintf("%q is no number of hours", said), "write it in digits, such as 4312.4")
		return nil
	}
	return &hours
}
