package pages

import (
	"html/template"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/chart"
)

// papersView is what goes along in an aircraft.
type papersView struct {
	about
	On      time.Time // the day at the base
	Papers  []paperRow
	Lacking int // of those that every flight asks for
}

// paperRow is one paper.
type paperRow struct {
	casefile.PaperNow
	Name    string
	Verdict string // whose shape and color its state is shown with
	Word    string
	Cites   []string
	Words   []string // of the rows that ask for it
	Until   string   // its last day, in words
	Days    int      // that are left
	Picture template.HTML
}

// paperNames are the papers in the words of the trade.
var paperNames = map[string]string{
	"airworthiness-certificate": "Airworthiness certificate", "registration": "Registration certificate",
	"operating-limitations": "Operating limitations: flight manual, or markings and placards", "weight-and-balance": "Weight and balance",
	"radio-licence": "Radio station licence",
}

// paperWords are the states of a paper, each with the verdict whose shape it is shown with.
var paperWords = map[casefile.PaperState]struct{ verdict, word string }{
	casefile.PaperGood:    {"clear", "Aboard, in order"},
	casefile.PaperUnknown: {"undetermined", "Not known"},
	casefile.PaperOver:    {"grounded", "Not good any more"},
	casefile.PaperMissing: {"grounded", "Missing"},
}

func (p *pages) showPapers(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	view := papersView{about: on, On: p.Now().In(on.Zone)}
	today := view.On.Format(time.DateOnly)
	written := casefile.Aircraft{Facts: on.Aircraft.Facts, Configuration: on.Aircraft.Configuration}
	for _, paper := range written.PapersOn(today) {
		row := paperRow{PaperNow: paper, Name: paperNames[paper.Paper]}
		words, known := paperWords[paper.State]
		if !known {
			words = paperWords[casefile.PaperUnknown]
		}
		row.Verdict, row.Word = words.verdict, words.word
		for _, rule := range p.Service.Book().Rules.Rules() {
			if !slices.Contains(paper.Musts, rule.Must) {
				continue
			}
			row.Words = append(row.Words, rule.Words)
			if !slices.Contains(row.Cites, rule.Citation) {
				row.Cites = append(row.Cites, rule.Citation)
			}
		}
		row.runsOut(today)
		if paper.State != casefile.PaperGood && !paper.Abroad {
			view.Lacking++
		}
		view.Papers = append(view.Papers, row)
	}
	return p.showIn(v, ok, "papers", frame{Title: "Papers of " + on.Aircraft.Registration, Here: "fleet", Page: &view, Live: announced, About: on.Aircraft.ID.String()})
}

// runsOut draws how much is left of a year until the last day of a paper.
func (r *paperRow) runsOut(today string) {
	days, known := daysFrom(today, r.Through)
	if !known {
		return
	}
	last, _ := time.Parse(time.DateOnly, r.Through) // it has been counted to
	r.Until, r.Days = last.Format("Mon 2 Jan 2006"), days
	share := min(float64(days)/365, 1)
	if days < 0 {
		share = -1
	}
	drawn := chart.Left{Words: chart.Words{ID: r.Paper, Title: r.Name + ": " + r.LeftSays()}, Share: share}
	r.Picture = picture(drawn.Draw())
}

// LeftSays is how long it is good yet.
func (r *paperRow) LeftSays() string {
	if r.Days < 0 {
		return decimal(float64(-r.Days), 0) + " " + unitOf(float64(r.Days), "day") + " over"
	}
	return decimal(float64(r.Days), 0) + " " + unitOf(float64(r.Days), "day") + " left"
}

// Says is what is wrong with it, or not known, as a sentence.
func (r paperRow) Says() string {
	if len(r.Lacks) == 0 {
		return ""
	}
	said := strings.Join(r.Lacks, "; ")
	if r.State == casefile.PaperUnknown {
		return "Nobody has said " + said + "."
	}
	return sentence(said)
}
