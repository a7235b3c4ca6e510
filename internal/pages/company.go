package pages

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

func (p *pages) companyRoutes() {
	p.acting("GET /settings/rules", p.showCompany)
	p.acting("POST /settings/rules", p.changeCompany)
	p.acting("GET /settings/rules/{rule}", p.showCompanyRule)
}

// companyView shows the organization's own rules.
type companyView struct {
	refusal
	Version    int
	By         string
	Rules      []companyLine
	Strict     bool // the policy on deactivation
	Keeps      bool
	Entry      ruleEntry
	Items      []item
	Quantities []bookChoice
	Whens      []bookChoice
	Done       string
	Removed    string // a rule that has just been taken out, as JSON
	RemovedIs  string // its words
	Editing    bool
}

// companyLine is a rule in words.
type companyLine struct {
	casefile.CompanyRule
	Asks   string
	When   []string
	Window string
}

// ruleEntry is a rule as somebody writes it in the form.
type ruleEntry struct {
	casefile.CompanyRule
	Name  string   // what its identifier is made of
	Ticks []string // conditions that are ticked
	Other string   // further conditions, as the book writes them
}

// Ticked reports whether a condition is ticked.
func (e ruleEntry) Ticked(condition string) bool { return slices.Contains(e.Ticks, condition) }

// commonWhens are the conditions that are ticked. Any other is written as the book does.
var commonWhens = []bookChoice{
	{"night", "at night"}, {"lights", "between sunset and sunrise"}, {"ifr", "under IFR"}, {"for-hire", "for hire"}, {"over-water", "over water"},
}

// quantities are how many of an item a rule may ask for.
var quantities = []bookChoice{
	{"1", "One"},
	{"2", "Two"},
	{"3", "Three"},
	{"all-installed", "All that are installed"},
	{"each-engine", "One for each engine"},
	{"each-seat", "One for each seat"},
	{"each-occupant", "One for each person aged two or more"},
	{"note", "None: only a note to the pilot"},
}

func (p *pages) showCompany(v *visit) error {
	view := companyView{Done: v.URL.Query().Get("done")}
	if removed := p.takeHanded(v, "rule"); len(removed.Secrets) == 1 {
		view.Removed, view.RemovedIs = removed.Secrets[0], removed.About
	}
	return p.company(v, view)
}

func (p *pages) company(v *visit, view companyView) error {
	company, err := p.Service.CompanyRules(v, v.who)
	if err != nil {
		return err
	}
	book, err := theRulebook()
	if err != nil {
		return err
	}
	for _, r := range company.Rules {
		view.Rules = append(view.Rules, p.companyLine(book, r))
	}
	view.Version, view.By, view.Strict = company.Version, company.By, company.Policy.Deactivation != "rule-text"
	view.Keeps, view.Items, view.Quantities, view.Whens = v.who.May(techlog.KeepCompanyRules), p.items, quantities, commonWhens
	return p.showIn(v, view.code(), "company", frame{Title: "The organization's own rules", Here: "more", Page: view})
}

func (p *pages) companyLine(book *rulebook, r casefile.CompanyRule) companyLine {
	rules := p.Service.Book().Rules
	line := companyLine{CompanyRule: r, When: book.inWords(rules, r.When), Window: window(r.From, r.To)}
	switch {
	case r.Must != "":
		line.Asks = "It must hold that " + strings.Join(book.inWords(rules, r.Must), ", and that ") + "."
	case r.Item != "":
		names := eachOf(book.parts(rules, "company", "item", r.Item), func(part rulePart) string { return part.Text })
		amount := r.Quantity
		for _, q := range quantities {
			if q.Value == amount {
				amount = q.Words
			}
		}
		line.Asks = amount + ": " + strings.Join(names, " or ") + "."
	default:
		line.Asks = "A note to the pilot."
	}
	return line
}

// window says when a rule of the organization is in force.
func window(from, to string) string {
	switch {
	case from != "" && to != "":
		return "from " + dayWords(from) + " until " + dayWords(to) + ", no longer on that day"
	case from != "":
		return "from " + dayWords(from) + " on"
	case to != "":
		return "until " + dayWords(to) + ", no longer on that day"
	default:
		return "always"
	}
}

// showCompanyRule shows a rule to be changed.
func (p *pages) showCompanyRule(v *visit) error {
	company, err := p.Service.CompanyRules(v, v.who)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(company.Rules, func(r casefile.CompanyRule) bool { return r.ID == v.PathValue("rule") })
	if i < 0 {
		return techlog.Errorf(techlog.KindNotFound, "the organization has no such rule")
	}
	return p.company(v, companyView{Editing: true, Entry: entryOf(company.Rules[i])})
}

func entryOf(r casefile.CompanyRule) ruleEntry {
	e := ruleEntry{CompanyRule: r, Name: strings.TrimPrefix(r.ID, companyPrefix)}
	var other []string
	for condition := range strings.FieldsSeq(r.When) {
		if slices.ContainsFunc(commonWhens, func(c bookChoice) bool { return c.Value == condition }) {
			e.Ticks = append(e.Ticks, condition)
		} else {
			other = append(other, condition)
		}
	}
	e.Other = strings.Join(other, " ")
	return e
}

// companyPrefix begins the identifier of every rule of an organization.
const companyPrefix = "company-"

var notInNames = regexp.MustCompile(`[^a-z0-9]+`)

// companyRule reads a rule from the form. A rule that is changed keeps its identifier.
func (v *visit) companyRule() ruleEntry {
	get := func(field string) string { return strings.TrimSpace(v.form.Get(field)) }
	e := ruleEntry{Name: get("name"), Ticks: v.form["when"], Other: strings.Join(strings.Fields(get("when_other")), " ")}
	e.CompanyRule = casefile.CompanyRule{
		ID: get("rule"), Citation: get("citation"), Item: get("item"), Quantity: get("quantity"), Must: get("must"), Words: strings.TrimSpace(v.text("words")),
		From: get("from"), To: get("to"), When: strings.Join(append(slices.Clone(e.Ticks), strings.Fields(e.Other)...), " "),
	}
	if e.Item == "" && e.Quantity != "note" || e.Must != "" {
		e.Quantity = ""
	}
	if e.ID == "" {
		e.ID = companyPrefix + strings.Trim(notInNames.ReplaceAllString(strings.ToLower(e.Name), "-"), "-")
	}
	return e
}

// changeCompany adds a rule, changes one, takes one out or puts it back, or changes the policy. Only what is stricter than
// the regulation is taken: the use case sees to that.
func (p *pages) changeCompany(v *visit) error {
	version, err := v.version()
	if err != nil {
		return err
	}
	company, err := p.Service.CompanyRules(v, v.who)
	if err != nil {
		return err
	}
	step := v.form.Get("step")
	view := companyView{}
	place := len(company.Rules)
	next := techlog.CompanyRules{Version: version, Rules: slices.Clone(company.Rules), Policy: company.Policy}
	var removed casefile.CompanyRule
	switch step {
	case "add", "change":
		view.Entry, view.Editing = v.companyRule(), step == "change"
		place = putRule(&next, view.Entry.CompanyRule, step == "change")
	case "back":
		if err := json.Unmarshal([]byte(v.form.Get("removed")), &removed); err != nil {
			return &techlog.Error{Kind: kindSyntax, Says: "the form does not say which rule is put back", Cause: err}
		}
		view.Entry = entryOf(removed)
		place = putRule(&next, removed, false)
	case "remove":
		i := slices.IndexFunc(next.Rules, func(r casefile.CompanyRule) bool { return r.ID == v.form.Get("rule") })
		if i < 0 {
			return techlog.Errorf(techlog.KindNotFound, "the organization has no such rule")
		}
		removed = next.Rules[i]
		next.Rules = slices.Delete(next.Rules, i, i+1)
	case "policy":
		next.Policy.Deactivation = v.form.Get("deactivation")
	default:
		return techlog.Errorf(kindSyntax, "the form asks for nothing that can be done")
	}
	if missing := view.Entry.missing(); (step == "add" || step == "change") && missing != nil && v.may(techlog.KeepCompanyRules) == nil {
		view.refusal, _ = notTaken(step, missing, nil)
		return p.company(v, view)
	}
	_, err = p.Service.ChangeCompanyRules(v, v.who, next, v.once("", nil), keep(func(r techlog.CompanyRules) int { return r.Version }))
	if a, ok := notTaken(step, err, companyField(place)); ok {
		view.refusal = a
		view.placeFaults()
		return p.company(v, view)
	}
	if err != nil {
		return err
	}
	if step == "remove" {
		raw, err := json.Marshal(removed)
		if err != nil {
			return err
		}
		return p.handOver(v, "/settings/rules", handed{What: "rule", About: removed.Words, Secrets: []string{string(raw)}})
	}
	return v.goTo("/settings/rules?done=" + step)
}

// missing finds what no rule is without.
func (e ruleEntry) missing() error {
	var bad casefile.Faults
	for _, field := range [][3]string{
		{"name", strings.Trim(e.ID, "-"), "give it a short name of letters and digits"},
		{"words", e.Words, "say in your own words what it asks"},
		{"citation", e.Citation, "name the place in your own documents"},
	} {
		if field[1] == "" || field[1] == strings.Trim(companyPrefix, "-") {
			bad.Add(field[0], "required", "it is missing", field[2])
		}
	}
	return bad.Err()
}

// placeFaults puts a fault of the rule as a whole beside the field that has what it names.
func (c *companyView) placeFaults() {
	for i := range c.Faults {
		f := &c.Faults[i]
		if f.Field != "rule" {
			continue
		}
		named, _, _ := strings.Cut(strings.TrimPrefix(f.Says, `condition "`), `"`)
		switch {
		case strings.HasPrefix(f.Says, "condition ") && slices.Contains(strings.Fields(c.Entry.Must), named):
			f.Field = "must"
		case strings.HasPrefix(f.Says, "condition "):
			f.Field = "when"
		case strings.HasPrefix(f.Says, "item ") || strings.Contains(f.Says, "want an item"):
			f.Field = "item"
		default: // it stands above the form
		}
	}
}

// putRule puts a rule in its place, and gives that.
func putRule(company *techlog.CompanyRules, rule casefile.CompanyRule, changes bool) int {
	if changes {
		if i := slices.IndexFunc(company.Rules, func(r casefile.CompanyRule) bool { return r.ID == rule.ID }); i >= 0 {
			company.Rules[i] = rule
			return i
		}
	}
	company.Rules = append(company.Rules, rule)
	return len(company.Rules) - 1
}

// companyField gives the faults of one rule the names of the form's fields. What is wrong with the rule as a whole, or with
// another one, stands above it.
func companyField(place int) func(string) string {
	prefix := fmt.Sprintf("company_rules[%d]", place)
	return func(field string) string {
		rest, ok := strings.CutPrefix(field, prefix)
		switch name := strings.TrimPrefix(rest, "."); {
		case !ok || name == "":
			return "rule"
		case name == "id":
			return "name"
		default:
			return name
		}
	}
}
