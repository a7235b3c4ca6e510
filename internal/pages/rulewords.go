package pages

import (
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/regulation"
)

// tableOrder is the order in which the tables are shown: law first, then people and records, what comes due, and the
// words and lists that the others use.
var tableOrder = []string{
	"requirements", "type_certification", "reliefs", "eligibility", "procedure", "interactions", "intervals", "permits",
	"who", "preventive_maintenance", "tasks", "records", "upkeep", "upkeep_stops", "vor_checks",
	"steps", "conditions", "items", "jasc", "practice", "terms",
}

// tableNames are the name of each table and what its rows say.
var tableNames = map[string][2]string{
	"requirements":           {"Required for the flight", "What the rules ask of the aircraft for a flight, each with the conditions that bring it into play."},
	"type_certification":     {"Required for certification", "The VFR-day instruments and equipment under which aircraft were type certificated."},
	"reliefs":                {"Reliefs", "What lifts a requirement, and to what it binds the flight."},
	"eligibility":            {"Who may go without an MEL", "The classes of aircraft that may carry inoperative items without an approved MEL."},
	"procedure":              {"Steps of a deferral", "What has to be done before an inoperative item may be carried."},
	"interactions":           {"Two squawks together", "Pairs of inoperative items that are each the other's backup."},
	"intervals":              {"Repair intervals", "The categories of an MEL, and how long each may stay."},
	"permits":                {"Special flight permits", "What a special flight permit lifts, and what has to be so for it to serve."},
	"who":                    {"Who may do and sign", "Who may perform, approve, determine or answer for what, and who may not."},
	"preventive_maintenance": {"Preventive maintenance", "The list of work that counts as preventive maintenance, paragraph by paragraph."},
	"tasks":                  {"What to do", "What takes a finding out of the way: by whom, with which placard and entry."},
	"records":                {"Records", "What an entry has to hold, and how long it is kept."},
	"upkeep":                 {"What comes due", "Inspections, tests and checks with their intervals."},
	"upkeep_stops":           {"Flights that stop", "Which flights may not be made once something is due."},
	"vor_checks":             {"VOR checks", "How a VOR receiver may be checked, and how far it may be off."},
	"steps":                  {"Steps of the decision", "The questions that every squawk goes through, in their order."},
	"conditions":             {"Conditions", "What the rows ask of aircraft and flight, in words, and which fact answers it."},
	"items":                  {"Catalog of items", "Instruments, equipment, furnishings and conditions that a squawk may be about."},
	"jasc":                   {"JASC codes", "The codes by which maintenance records name systems."},
	"practice":               {"What each step says", "The words in which the outcome of each step is told."},
	"terms":                  {"Terms", "Words that stand on every answer."},
}

// heldBy says what keeps a row right of which no story speaks.
var heldBy = map[string]string{
	"upkeep":       "Tests of due dates hold this row: without it, or with one of its terms changed, a date or a stopped flight comes out otherwise.",
	"upkeep_stops": "Tests of due dates hold this row: without it, or with one of its terms changed, a date or a stopped flight comes out otherwise.",
	"vor_checks":   "Tests of due dates hold this row: without it, or with one of its terms changed, a date or a stopped flight comes out otherwise.",
	"tasks":        "The task stands once for each paragraph of the list that covers the item; the stories name that paragraph.",
	"items":        "The book does not load, or a story comes out otherwise, without this entry of the catalog.",
	"jasc":         "The book does not load without this code.",
	"conditions":   "The book does not load without these words.",
	"steps":        "The book does not load without this step.",
	"practice":     "The book does not load without these words.",
	"terms":        "The book does not load without these words.",
}

// statusWords say how well a row has been read.
var statusWords = map[string]string{
	"verified":    "Verified: read in the text of the regulation",
	"second-hand": "Second-hand: as somebody else quotes it",
	"infer":       "Inferred: a reading of the text, which does not say it outright",
	"memory":      "From memory: not read anywhere. Such a row may forbid, and never permits",
}

// bookChoice is an entry of a list to choose from.
type bookChoice struct{ Value, Words string }

var statusChoices = []bookChoice{
	{"", "However it was read"},
	{"verified", "Verified"},
	{"second-hand", "Second-hand"},
	{"infer", "Inferred"},
	{"memory", "From memory"},
}

// columnNames are what the columns of the tables are called on a page, in the order in which they stand there. A column
// that has none, and the one that names the row, are told elsewhere on the page.
var columnNames = [][2]string{
	{"name", "Name"},
	{"title", "Name"},
	{"action", "Work or decision"},
	{"may", "May"},
	{"effect", "Effect"},
	{"who", "In words"},
	{"number", "Paragraph"},
	{"category", "Category"},
	{"record", "Record"},
	{"for", "When this is found"},
	{"outcome", "and it is"},
	{"item", "Item"},
	{"first", "One item"},
	{"second", "The other"},
	{"quantity", "How many"},
	{"covers", "Covers"},
	{"excludes", "Does not cover"},
	{"part", "Part"},
	{"step", "Step"},
	{"stops", "When this is due"},
	{"when", "When"},
	{"must", "Must hold"},
	{"unless", "Unless"},
	{"otherwise", "Until then"},
	{"flights", "Flights"},
	{"relieves", "Lifts"},
	{"lifts", "Lifts"},
	{"limitation", "Binds the flight to"},
	{"days", "Days"},
	{"extension", "May be extended"},
	{"done_by", "Done by"},
	{"calendar_months", "Calendar months"},
	{"hours", "Hours"},
	{"life_percent", "Percent of its life"},
	{"overfly_hours", "Hours it may be exceeded by"},
	{"asks", "Asks for"},
	{"by", "Who may"},
	{"placard", "Placard"},
	{"where", "Where"},
	{"entry", "Entry"},
	{"needs", "Must hold one of"},
	{"keep", "Is kept"},
	{"check", "Check"},
	{"degrees", "Degrees"},
	{"synonyms", "Also called"},
	{"jasc", "JASC code"},
	{"nature", "Nature"},
	{"serves_as", "Serves as"},
	{"chapter", "Chapter"},
	{"holds", "Says that"},
	{"not_holding", "Keeps a flight out of it"},
	{"holding", "Keeps a flight to it"},
	{"fact", "Is answered by"},
	{"asked", "Is asked"},
	{"passed", "When it passes"},
	{"breached", "When it does not"},
	{"unknown", "When it is not known"},
	{"term", "Term"},
}

// Columns by what they hold. Whatever is in none of these lists is prose, or a single word.
var (
	itemColumns      = []string{"item", "first", "second", "covers", "excludes", "serves_as"}
	rowColumns       = []string{"relieves", "lifts", "for", "stops"}
	conditionColumns = []string{"when", "unless", "must"}
	wordColumns      = []string{"action", "may", "effect", "outcome", "part", "done_by", "record", "needs", "keep", "check", "nature", "quantity", "otherwise", "by", "asked"}
)

// occasionWords say the conditions of rows about people and work, which no row of conditions.csv says.
var occasionWords = map[string]string{
	"mechanic": "the person is a mechanic", "mechanic-airframe": "the mechanic has the airframe rating",
	"mechanic-powerplant": "the mechanic has the powerplant rating", "recent": "the mechanic has the experience that is asked of the last months",
	"trained": "the repairman is trained for this category and class of aircraft", "rated": "the station's rating covers this article or test",
	"equipped": "the station has the data, equipment and facilities for it", "manufacturer": "the person manufactured this aircraft",
	"program": "the person holds a continuous airworthiness maintenance program", "owns": "the person owns the aircraft",
	"owns-or-operates": "the person owns or operates the aircraft", "built": "the person built the aircraft, as its primary builder",
	"in-command": "the person is pilot in command of the flight", "competent": "the person holds a certificate of competency for this primary category aircraft",
	"understands": "the person understands the manufacturer's current instructions for the work", "done-before": "the person has done this work satisfactorily before",
	"did-work": "the person did the work, or as a mechanic supervised or inspected it", "under-supervision": "the person works under somebody",
	"supervised":    "a supervisor who may do the work observes it and is readily available",
	"within-limits": "the work stays within its limits, without complex assembly", "approved-data": "the work was done to data that the authority approved",
	"approved-product": "the product was made under an approval of the authority", "authorized-by-maker": "the manufacturer authorized the work and gave instructions",
	"installed-by-maker": "the manufacturer of the aircraft installed what is tested", "limitations-name": "the operating limitations name such a person for it",
	"from-flight-deck": "the upload is started from the flight deck", "disassembly": "the work takes the unit apart",
	"tools": "the work needs tools or special equipment", "by-instructions": "the work keeps to the manufacturer's instructions or the flight manual",
	"listed": "the work is in the list of preventive maintenance", "rated-for-aircraft": "the pilot is rated for the aircraft",
	"rated-for-part": "the mechanic is rated for the part", "inspection-authorization": "the mechanic holds an inspection authorization that is in force",
	"pilot": "the person is a {} pilot", "pilot-at-least": "the person is a {} pilot or of a higher grade",
	"repairman": "the person is a repairman: {}", "repair-station": "the person is a repair station", "part": "the work is on: {}",
	"policy":             "the policy on deactivation is {}",
	"experimental-under": "the experimental certificate is for the purpose of paragraph {} of its rule", "air-carrier-use": "the aircraft is used by an air carrier",
	"elt-installed": "an emergency locator transmitter is installed", "transponder-installed": "a transponder is installed",
	"special-flight-permit": "the flight is made under a special flight permit",
	"issued":                "the permit has been issued", "window": "the flight is within the time that the permit states",
	"kinds": "the flight is of a kind that the permit allows", "crew": "only the people are aboard whom the permit allows",
	"covers": "the permit covers what is wrong",
}

// ruleField is a column of a row with what stands in it, part by part.
type ruleField struct {
	Name  string
	Parts []rulePart
}

// rulePart is a text that may lead somewhere.
type rulePart struct{ Text, Href string }

// version is a row as its page shows it.
func (p *pages) version(book *rulebook, r bookRow) ruleVersion {
	rules := p.Service.Book().Rules
	v := ruleVersion{bookRow: r, Read: statusWords[r.Status()], Source: r.Fields["source"], Says: r.Fields["words"]}
	for _, c := range columnNames {
		value := r.Fields[c[0]]
		if value == "" || value == r.Key && c[0] != "name" {
			continue
		}
		v.Fields = append(v.Fields, ruleField{c[1], book.parts(rules, r.Table, c[0], value)})
	}
	return v
}

// parts says what stands in a field.
func (b *rulebook) parts(rules *airworthiness.Ruleset, table, column, value string) []rulePart {
	switch {
	case slices.Contains(itemColumns, column):
		return eachOf(keysOf(value), func(key string) rulePart {
			if item, ok := rules.Item(key); ok {
				return rulePart{item.Name, "/rules/items/" + key}
			}
			return rulePart{Text: key}
		})
	case slices.Contains(rowColumns, column):
		return eachOf(strings.Fields(value), func(name string) rulePart {
			if path := b.paths[name]; path != "" {
				return rulePart{name, path}
			}
			if table == "upkeep_stops" {
				return rulePart{name, "/rules/upkeep/" + name}
			}
			return rulePart{Text: strings.TrimSuffix(name, "*") + wild(name)}
		})
	case column == "step" && table != "steps":
		return []rulePart{{value, "/rules/steps/" + value}}
	case column == "jasc" && table == "items":
		return []rulePart{{value, "/rules/jasc/" + value}}
	case slices.Contains(conditionColumns, column):
		return eachOf(b.inWords(rules, value), func(said string) rulePart { return rulePart{Text: said} })
	case slices.Contains(wordColumns, column):
		separator := " "
		if strings.Contains(value, "|") {
			separator = "|"
		}
		return eachOf(strings.Split(value, separator), func(word string) rulePart {
			return rulePart{Text: strings.NewReplacer("-", " ", ":", ": ").Replace(word)}
		})
	default:
		return []rulePart{{Text: value}}
	}
}

// wild says of a name that ends in a star that it stands for every row that begins so.
func wild(name string) string {
	if strings.HasSuffix(name, "*") {
		return "…, every row that begins so"
	}
	return ""
}

// inWords says conditions, as the tables write them, as statements; one alternative after the other.
func (b *rulebook) inWords(rules *airworthiness.Ruleset, clause string) []string {
	var says []string
	or := ""
	for term := range strings.FieldsSeq(clause) {
		if term == "|" {
			or = "or "
			continue
		}
		key, negated := strings.CutPrefix(term, "!")
		said := b.condition(rules, key)
		if negated {
			said = "not so: " + said
		}
		says = append(says, or+said)
		or = ""
	}
	return says
}

func (b *rulebook) condition(rules *airworthiness.Ruleset, key string) string {
	if said := rules.InWords(key); len(said) == 1 && said[0] != key {
		return said[0]
	}
	name, arg, _ := strings.Cut(key, ":")
	said, ok := occasionWords[name]
	for i := range b.rows {
		if r := &b.rows[i]; !ok && r.Table == "conditions" && r.Key == name {
			said, ok = r.Fields["holds"], true
		}
	}
	if !ok {
		return key
	}
	if !strings.Contains(said, "{") && arg != "" {
		said += ": {}"
	}
	words := strings.NewReplacer("-", " ", "/", ", ").Replace(arg)
	return strings.NewReplacer("{}", words, "{key}", words).Replace(said)
}

// storyTold is a story as it stands beside a row that it holds.
type storyTold struct {
	Title   string
	Must    bool // the row must be found in it; otherwise it must not
	Lines   []storyLine
	Verdict string
	Because []rulePart
	Source  string
}

// storyLine is one line of a story with what it is about.
type storyLine struct{ Name, Words string }

// storyNames are what the lines of a story are called. A line that has no name is told otherwise, or is of the tests alone.
var storyNames = [][2]string{
	{"aircraft", "Aircraft"},
	{"fact", "but"},
	{"without", "without"},
	{"add", "with"},
	{"units", "List of units"},
	{"document", "Document"},
	{"on-list", "On a list"},
	{"off-list", "Off a list"},
	{"mel", "MEL"},
	{"inspections", "Inspections"},
	{"papers", "Papers"},
	{"upkeep", "Upkeep"},
	{"item", "Comes due"},
	{"company", "Rule of the organization"},
	{"policy", "Policy"},
	{"given", "What is wrong"},
	{"considered", "Considered"},
	{"found", "Found"},
	{"person", "Person"},
	{"supervisor", "Supervisor"},
	{"work", "Work"},
	{"flight", "Flight"},
	{"permit", "Permit"},
	{"limited-to", "Limited to"},
	{"missing", "Not known"},
	{"refused", "Refused"},
}

// askingNames are the lines of which a story about people may have dozens: those that name the row are told.
var askingNames = map[string]string{
	"may": "May", "but": "May, with", "task": "To do", "entry": "Entry", "discard": "Discard", "to-do": "To do", "to-do-not": "Not to do",
}

// askedWords says what is asked of a person, a record or a finding, and what comes of it. Which rows say so is left out: it
// is told beside the row.
func askedWords(value string) string {
	said, _, _ := strings.Cut(value, " because ")
	said, _, _ = strings.Cut(said, " without ")
	for _, answer := range []string{" yes", " no", " unknown"} {
		if rest, ok := strings.CutSuffix(said, answer); ok {
			said = rest + ":" + answer
		}
	}
	return strings.Replace(said, " = ", ": ", 1)
}

// retell tells a story beside a row.
func (b *rulebook) retell(t *regulation.Told, row string) storyTold {
	told := storyTold{Title: t.Title, Source: t.Source, Verdict: t.Line("then")}
	told.Must = slices.Contains(t.Rows, row)
	for _, name := range storyNames {
		for _, line := range t.Lines {
			if value, ok := strings.CutPrefix(line, name[0]+": "); ok {
				told.Lines = append(told.Lines, storyLine{name[1], storyWords(name[0], value)})
			}
		}
	}
	for _, line := range t.Lines {
		keyword, value, _ := strings.Cut(line, ": ")
		if askingNames[keyword] != "" && slices.Contains(strings.FieldsFunc(value, func(c rune) bool { return c == ' ' || c == '/' }), row) {
			told.Lines = append(told.Lines, storyLine{askingNames[keyword], askedWords(value)})
		}
		if keyword == "because" {
			name, _, _ := strings.Cut(value, " ")
			told.Because = append(told.Because, rulePart{value, b.paths[name]})
		}
	}
	return told
}

// lightWords say in which light a flight of a story is made.
var lightWords = map[string]string{
	"day": "by day", "dusk": "between sunset and the end of civil twilight", "night": "at night", "day-and-night": "by day and by night",
	"unlit": "in a light that nobody has said", "vfr": "under VFR", "ifr": "under IFR", "unruled": "under rules that nobody has said",
}

// storyWords says a line of a story in words. What it is about stands there as it was written.
func storyWords(keyword, value string) string {
	switch keyword {
	case "aircraft":
		return "the demonstration aircraft “" + value + "”"
	case "flight":
		first, rest, more := strings.Cut(value, ", ")
		var words []string
		for word := range strings.FieldsSeq(first) {
			if said, ok := lightWords[word]; ok {
				word = said
			}
			words = append(words, word)
		}
		said := strings.Join(words, ", ")
		if more {
			said += ", " + rest
		}
		return said
	default:
		return value
	}
}

// eachOf makes a list of another one.
func eachOf[T, U any](list []T, f func(T) U) []U {
	out := make([]U, len(list))
	for i := range list {
		out[i] = f(list[i])
	}
	return out
}
