package pages

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"math"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

//go:embed templates
var templateFiles embed.FS

// views are the templates of the pages, by name.
type views map[string]*template.Template

// frame is what stands around every page.
type frame struct {
	Title   string
	Name    string // of whoever is signed in; empty: nobody
	Person  string // that person in the organization, to the browser
	Club    bool   // an organization is chosen
	Here    string // which entry of the menu this is
	Form    string // form token of the session
	Caution string
	Query   template.URL // of the visitor's own flight, to be carried along
	Page    any

	Live  live   // what becomes of the page when something has changed
	About string // aircraft that it is about; empty: the whole organization
	Since int64  // place of the newest event that it shows
}

// live is what becomes of a page when something has changed while it is looked at.
type live string

const (
	renewed   live = "renewed"   // it is brought up to date, unless somebody is at work on it
	announced live = "announced" // it says so, and offers to be loaded anew
)

// shared names the templates that every page may use.
var shared = []string{"layout", "parts", "pictures", "signatures", "office"}

func loadViews(a assets) views {
	base := template.New("").Funcs(functions(a))
	for _, name := range shared {
		template.Must(base.ParseFS(templateFiles, "templates/"+name+".html"))
	}
	all := views{}
	entries, err := fs.ReadDir(templateFiles, "templates")
	if err != nil {
		panic(err) // the folder is a constant of this file
	}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), path.Ext(e.Name()))
		all[name] = template.Must(template.Must(base.Clone()).ParseFS(templateFiles, "templates/"+e.Name()))
	}
	return all
}

// functions are those of the templates.
func functions(a assets) template.FuncMap {
	return template.FuncMap{
		"asset": func(name string) string { return a.names[name] },
		"once":  newOnce,
		"verdict": func(v string) verdictWords {
			parsed, ok := airworthiness.ParseVerdict(v)
			if !ok {
				parsed = airworthiness.Undetermined
			}
			return verdicts[parsed]
		},
		"verdicts": func() []verdictWords {
			all := make([]verdictWords, 0, len(verdicts))
			for _, v := range airworthiness.Verdicts() {
				all = append(all, verdicts[v])
			}
			return all
		},
		"day":     func(t time.Time) string { return t.Format("Mon 2 Jan") },
		"clock":   func(t time.Time) string { return t.Format("15:04") },
		"moment":  moment,
		"machine": func(t time.Time) string { return t.Format(time.RFC3339) },
		"hours":   hours,
		"decimal": decimalOf,
		"weekday": func(t time.Time) string { return t.Format("Mon 15:04 MST") },
		"short":   func(t time.Time) string { return t.Format("2 Jan 2006, 15:04 MST") },
		"plural":  plural,
		"days":    daysLeft,
		"cited":   func(row, citation string) rulePart { return rulePart{citation, rulePath(row)} },
		"colors":  func() []string { return sampleColors },
		"lines":   func(s string) []string { return strings.Split(s, "\n") },
		"inwords": inWords,
		"full":    sentence,
		"pair":    pair,
		"split":   strings.Fields,
		"more":    func(list []string, shown int) int { return len(list) - shown },
	}
}

// pair hands several values to a template, by name.
func pair(named ...any) map[string]any {
	all := map[string]any{}
	for i := 0; i+1 < len(named); i += 2 {
		all[named[i].(string)] = named[i+1] //nolint:forcetypeassert // the names are written in our templates
	}
	return all
}

// sampleColors are what a sample of fuel may look like: dyes in use, clear, and what has gone wrong.
var sampleColors = []string{"blue", "green", "clear", "straw", "red", "purple", "cloudy", "brown", "another color"}

// verdictWords is how a verdict is said and shown: by word, by shape and by color, in this order of trust.
type verdictWords struct {
	Class  string // of the style
	Word   string
	Answer string // to "may I take it?"
}

var verdicts = map[airworthiness.Verdict]verdictWords{
	airworthiness.Clear:        {"clear", "Clear", "You may take it"},
	airworthiness.Limited:      {"limited", "Limited", "You may take it, within limits"},
	airworthiness.DeferFirst:   {"defer", "Defer first", "Not before the deferral is signed"},
	airworthiness.Undetermined: {"unknown", "Undetermined", "Not before a fact is known"},
	airworthiness.Grounded:     {"grounded", "Grounded", "You may not take it"},
}

// moment is an instant with its zone, as it is written everywhere.
func moment(t time.Time) string { return t.Format("Mon 2 Jan 2006, 15:04 MST") }

func hours(h float64) string { return strconv.FormatFloat(h, 'f', -1, 64) + " h" }

// daysLeft counts whole days from an instant to another: below zero if that has passed.
func daysLeft(from, until time.Time) int { return int(math.Floor(until.Sub(from).Hours() / 24)) }

// plural counts something: "1 flight", "2 flights".
func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// show writes a page. It is written out whole before the first byte is sent.
func (p *pages) show(v *visit, status int, view, title string, content any) error {
	return p.showIn(v, status, view, frame{Title: title, Page: content})
}

func (p *pages) showIn(v *visit, status int, view string, f frame) error {
	f.Caution, f.Since = p.caution, v.since
	if !v.session.Account.ID.IsZero() {
		f.Name, f.Form, f.Club = v.who.Name, people.FormToken(v.secret), !v.who.Organization.IsZero()
		f.Person = personKey(v.who)
		v.w.Header().Set(headerPerson, v.person())
	}
	if status >= http.StatusBadRequest && v.w.Header().Get(headerProblem) == "" {
		v.w.Header().Set(headerProblem, string(techlog.KindInvalid))
	}
	var body bytes.Buffer
	if err := p.views[view].ExecuteTemplate(&body, "layout", f); err != nil {
		return fmt.Errorf("the page %s: %w", view, err)
	}
	h := v.w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Length", strconv.Itoa(body.Len()))
	v.w.WriteHeader(status)
	_, _ = v.w.Write(body.Bytes()) // whoever asked may have gone
	return nil
}

func cautionOf(rules *airworthiness.Ruleset) string { return rules.Term(airworthiness.TermCaution) }

// zoneOf is a base's time zone. What is on record has been checked when it was entered.
func zoneOf(b techlog.Base) *time.Location { return zoneNamed(b.Zone) }

func zoneNamed(name string) *time.Location {
	zone, err := time.LoadLocation(name)
	if err != nil {
		return time.UTC
	}
	return zone
}

const ok = http.StatusOK
