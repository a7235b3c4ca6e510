package pages

import (
	"html/template"
	"strings"
	"time"

	"tiedown/internal/chart"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// availabilityView is how free the aircraft of the fleet are on the days to come.
type availabilityView struct {
	Aircraft []freeAircraft
	Days     int
	AsOf     time.Time
	Uses     []useWords // those that are met on the page
	More     string
	Later    bool
}

// freeAircraft is one aircraft by the day.
type freeAircraft struct {
	Aircraft techlog.Aircraft
	Picture  template.HTML
	Share    string      // of the time that it is free
	Sums     []useSum    // what takes the rest, the most first
	Whys     []string    // why it is not available, in words
	Heads    []time.Time // the days
	Table    []useRow
}

// useSum is what one use takes in all.
type useSum struct {
	useWords
	Hours float64
	Share string
}

// useRow is one use by the day, in hours.
type useRow struct {
	Name  string
	Cells []float64
}

// useWords is what a use is called, with the letter that it has in the picture.
type useWords struct {
	Use    string
	Name   string
	Letter string
}

// useNames are what the days are taken for, in the order of the key.
var useNames = map[hangar.DayUse]string{
	hangar.UseBlocked: "kept from flying", hangar.UseGrounded: "grounded", hangar.UseDefer: "not before a deferral is signed",
	hangar.UseUndetermined: "undetermined", hangar.UseHeld: "flight that is held", hangar.UseBooked: "flight",
}

const (
	// freeDays is how far ahead the page looks.
	freeDays = 14
	// freeAircraftPage is how many aircraft it has.
	freeAircraftPage = 16
	// whysShown is how many reasons it names of one aircraft.
	whysShown = 3
)

func (p *pages) showAvailability(v *visit) error {
	view := availabilityView{Days: freeDays, AsOf: p.Now()}
	fleet, later, more, err := p.fleetOnPage(v, freeAircraftPage)
	if err != nil {
		return err
	}
	view.Later, view.More = later, more
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	met := map[hangar.DayUse]bool{}
	for i, a := range fleet {
		zone := zoneOf(baseIn(bases, a.Base))
		from := p.Now().In(zone)
		if i == 0 {
			view.AsOf = from
		}
		until := time.Date(from.Year(), from.Month(), from.Day()+freeDays, 0, 0, 0, 0, zone)
		f, err := p.Service.FreeBusy(v, v.who, a.ID, from, until)
		if err != nil {
			return err
		}
		view.Aircraft = append(view.Aircraft, freeOf(&f, zone, met))
	}
	for _, use := range hangar.DayUses() {
		if met[use] {
			view.Uses = append(view.Uses, wordsOf(use))
		}
	}
	return p.showIn(v, ok, "availability", frame{Title: "Availability", Here: "more", Page: &view, Live: renewed})
}

func wordsOf(use hangar.DayUse) useWords {
	return useWords{string(use), useNames[use], chart.Letter(string(use))}
}

// freeOf is how free one aircraft is. met takes in the uses that it has.
func freeOf(f *hangar.FreeBusy, zone *time.Location, met map[hangar.DayUse]bool) freeAircraft {
	one := freeAircraft{Aircraft: f.Aircraft}
	days := f.Days(zone)
	columns := chart.Columns{Columns: make([]chart.Column, len(days))}
	sums := map[hangar.DayUse]float64{}
	rows := map[hangar.DayUse][]float64{}
	whole, free := 0.0, 0.0
	var freeCells []float64
	for i := range days {
		d := &days[i]
		one.Heads = append(one.Heads, d.From)
		column := chart.Column{Label: d.From.Format("2"), Strong: i == 0 || d.From.Weekday() == time.Monday}
		for _, use := range hangar.DayUses() {
			hours := d.Hours[use]
			if rows[use] == nil {
				rows[use] = make([]float64, len(days))
			}
			rows[use][i] = hours
			if hours == 0 {
				continue
			}
			met[use] = true
			sums[use] += hours
			column.Parts = append(column.Parts, chart.Part{Class: string(use), Share: hours / d.Whole()})
		}
		whole, free = whole+d.Whole(), free+d.Free()
		freeCells = append(freeCells, d.Free())
		columns.Columns[i] = column
	}
	one.Share = percent(free, whole)
	says := []string{one.Share + " free"}
	for _, use := range hangar.DayUses() {
		if sums[use] > 0 {
			sum := useSum{wordsOf(use), sums[use], percent(sums[use], whole)}
			one.Sums = append(one.Sums, sum)
			one.Table = append(one.Table, useRow{sum.Name, rows[use]})
			says = append(says, sum.Share+" "+sum.Name)
		}
	}
	one.Table = append(one.Table, useRow{"free", freeCells})
	columns.Words = chart.Words{ID: "free-" + f.Aircraft.ID.String(), Title: f.Aircraft.Registration + ", the coming " + plural(len(days), "day"), Says: strings.Join(says, ", ")}
	one.Picture = picture(columns.Draw())
	one.Whys = whysOf(f, zone)
	return one
}

// percent is a share in whole percent. What is little is not nothing, and what is nearly all is not all.
func percent(part, whole float64) string {
	share := part / whole * 100
	switch {
	case whole <= 0:
		return "0 %"
	case share > 0 && share < 1:
		return "under 1 %"
	case share > 99 && share < 100:
		return "over 99 %"
	default:
		return decimal(share, 0) + " %"
	}
}

// whysOf says why an aircraft is not available, in the words of the records: of blocks, and of what keeps it from every kind of
// operation.
func whysOf(f *hangar.FreeBusy, zone *time.Location) []string {
	var whys []string
	for i := range f.Busy {
		b := &f.Busy[i]
		switch {
		case b.Block != nil && b.Open:
			whys = append(whys, b.Block.Words+" (from "+b.Block.From.In(zone).Format("Mon 2 Jan, 15:04 MST")+", no end is on record)")
		case b.Block != nil:
			whys = append(whys, b.Block.Words+" ("+b.Block.From.In(zone).Format("Mon 2 Jan, 15:04")+" to "+b.Block.Until.In(zone).Format("Mon 2 Jan, 15:04 MST")+")")
		case b.Kind == hangar.Unavailable:
			said := map[string]bool{}
			for _, stop := range b.Stops {
				if stop.Defect != "" && said[stop.Defect] {
					continue // one reason of a squawk is enough here: its page has all
				}
				said[stop.Defect] = true
				words := says(stop)
				if stop.Defect != "" {
					words = "Squawk " + stop.Defect + ": " + words
				}
				whys = append(whys, words)
			}
		}
	}
	return whys
}

// WhysShown are the first of them.
func (f *freeAircraft) WhysShown() []string { return f.Whys[:min(len(f.Whys), whysShown)] }
