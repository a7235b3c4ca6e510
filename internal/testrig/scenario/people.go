package scenario

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
)

// people is what a story says of people, work and records.
type people struct {
	person     *airworthiness.Person
	supervisor *airworthiness.Person
	work       airworthiness.Work
	on         airworthiness.Date

	may      []authority
	todo     []expectation
	todoNot  []expectation
	tasks    []taskExpectation
	entries  []entry
	discards []discard
}

// authority is one "may:" line.
type authority struct {
	verb, action string
	number       int
	items        []string
	answer       airworthiness.Truth
	rows         []string
	without      []string // rows that must not be among those that say so
	missing      []string
	but          []string // phrases that change the person or the work for this line alone
}

func (p *people) asked() bool { return len(p.may)+len(p.tasks)+len(p.entries)+len(p.discards) > 0 }

func (p *people) whole(aircraft string) error {
	switch {
	case len(p.may) > 0 && p.person == nil:
		return errors.New("a story that asks who may names no person")
	case len(p.may) > 0 && aircraft == "":
		return errors.New("a story that asks who may names no aircraft")
	case len(p.todo)+len(p.todoNot) > 0:
		return errors.New("a story without a verdict has nothing to do: want task")
	}
	return nil
}

// named lists every row that the story speaks of.
func (p *people) named() []string {
	rows := p.rows()
	for _, m := range p.may {
		rows = append(rows, m.without...)
	}
	for _, e := range p.todoNot {
		rows = append(rows, e.row)
	}
	return rows
}

// rows lists the rows that the story says must be found.
func (p *people) rows() []string {
	var rows []string
	for _, m := range p.may {
		rows = append(rows, m.rows...)
	}
	for _, e := range p.todo {
		rows = append(rows, e.row)
	}
	for _, t := range p.tasks {
		rows = append(rows, t.rows...)
	}
	for _, e := range p.entries {
		rows = append(rows, e.lacks...)
	}
	for _, d := range p.discards {
		rows = append(rows, d.rows...)
	}
	return rows
}

func (s *Story) readPerson(value string) error {
	p, err := readPerson(value)
	s.people.person = p
	return err
}

func (s *Story) readSupervisor(value string) error {
	p, err := readPerson(value)
	s.people.supervisor = p
	return err
}

func readPerson(value string) (*airworthiness.Person, error) {
	no, none := airworthiness.No, airworthiness.Given([]string{})
	p := &airworthiness.Person{
		Pilot: airworthiness.NoPilot, PilotRatings: none, Airframe: no, Powerplant: no, InspectionAuthorization: no,
		Repairman: none, RepairStation: none, Manufacturer: no, Program: no,
	}
	phrases := strings.Split(value, ", ")
	if phrases[0] == "somebody" {
		p, phrases = &airworthiness.Person{}, phrases[1:]
	}
	for _, phrase := range phrases {
		if err := readCertificate(p, phrase); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// readCertificate reads one phrase about a person.
func readCertificate(p *airworthiness.Person, phrase string) error {
	if grade, ratings, ok := strings.Cut(phrase, " pilot"); ok && !strings.HasSuffix(phrase, "pilot in command") {
		return readPilot(p, grade, strings.TrimPrefix(ratings, " "))
	}
	switch {
	case phrase == "nobody in particular":
		return nil
	case strings.HasPrefix(phrase, "mechanic "):
		return readMechanic(p, strings.TrimPrefix(phrase, "mechanic "))
	case strings.HasPrefix(phrase, "inspection authorization"):
		p.InspectionAuthorization = airworthiness.Yes
		if date, ok := strings.CutPrefix(phrase, "inspection authorization until "); ok {
			return readDate(date, &p.InspectionAuthorizationEnds)
		}
		return nil
	case strings.HasPrefix(phrase, "repair station "):
		return readWords("repair_station", strings.TrimPrefix(phrase, "repair station "), &p.RepairStation)
	case strings.HasSuffix(phrase, " repairman"):
		return readWords("repairman", strings.TrimSuffix(phrase, " repairman"), &p.Repairman)
	}
	return readTruth(personPhrases(p), phrase)
}

func readPilot(p *airworthiness.Person, grade, ratings string) error {
	var ok bool
	if p.Pilot, ok = airworthiness.ParsePilotGrade(grade); !ok {
		return fmt.Errorf("no such grade of pilot %q", grade)
	}
	p.PilotRatings = airworthiness.Given([]string{})
	if ratings == "" {
		return nil
	}
	p.PilotRatings.Value = list(ratings)
	for _, rating := range p.PilotRatings.Value {
		if !slices.Contains(airworthiness.PilotRatings(), rating) {
			return fmt.Errorf("no such rating %q", rating)
		}
	}
	return nil
}

func readMechanic(p *airworthiness.Person, ratings string) error {
	for _, rating := range list(ratings) {
		switch rating {
		case "airframe":
			p.Airframe = airworthiness.Yes
		case "powerplant":
			p.Powerplant = airworthiness.Yes
		default:
			return fmt.Errorf("a mechanic has no rating %q", rating)
		}
	}
	return nil
}

func readWords(fact, value string, into *airworthiness.Fact[[]string]) error {
	words := list(value)
	for _, word := range words {
		if !slices.Contains(airworthiness.Vocabulary(fact), word) {
			return fmt.Errorf("no such word %q: want one of %v", word, airworthiness.Vocabulary(fact))
		}
	}
	*into = airworthiness.Given(words)
	return nil
}

func readDate(value string, into *airworthiness.Fact[airworthiness.Date]) error {
	day, ok := airworthiness.ParseDate(value)
	if !ok {
		return fmt.Errorf("want a date YYYY-MM-DD, have %q", value)
	}
	*into = airworthiness.Given(day)
	return nil
}

// readTruth reads a phrase that is so or, after "not", is not so.
func readTruth(phrases map[string]*airworthiness.Truth, phrase string) error {
	name, negated := strings.CutPrefix(phrase, "not ")
	truth, ok := phrases[name]
	if !ok {
		return fmt.Errorf("%q says nothing that is known here", phrase)
	}
	*truth = airworthiness.TruthOf(!negated)
	return nil
}

func personPhrases(p *airworthiness.Person) map[string]*airworthiness.Truth {
	return map[string]*airworthiness.Truth{
		"owner": &p.Owns, "operator": &p.Operates, "builder": &p.Built, "pilot in command": &p.InCommand, "recent": &p.Recent,
		"understands": &p.Understands, "done before": &p.DoneBefore, "did the work": &p.DidWork, "trained": &p.Trained,
		"rated": &p.Rated, "equipped": &p.Equipped, "manufacturer": &p.Manufacturer, "program": &p.Program,
		"competent": &p.Competent, "observed": &p.Observed, "available": &p.Available, "airframe": &p.Airframe,
		"powerplant": &p.Powerplant, "authorization": &p.InspectionAuthorization,
	}
}

func (s *Story) readWork(value string) error {
	for _, phrase := range strings.Split(value, ", ") {
		if date, ok := strings.CutPrefix(phrase, "dated "); ok {
			var day airworthiness.Fact[airworthiness.Date]
			if err := readDate(date, &day); err != nil {
				return err
			}
			s.people.on = day.Value
			continue
		}
		if err := readWorkPhrase(&s.people.work, phrase); err != nil {
			return err
		}
	}
	return nil
}

// readWorkPhrase reads one phrase about the work.
func readWorkPhrase(w *airworthiness.Work, phrase string) error {
	truths := map[string]*airworthiness.Truth{
		"within limits": &w.WithinLimits, "complex": &w.Complex, "approved data": &w.ApprovedData,
		"approved product": &w.ApprovedProduct, "authorized by maker": &w.AuthorizedByMaker,
		"installed by maker": &w.InstalledByMaker, "limitations name": &w.LimitationsName, "from flight deck": &w.FromFlightDeck,
		"disassembly": &w.Disassembly, "tools": &w.Tools, "by instructions": &w.ByInstructions,
		"involves maintenance": &w.InvolvesMaintenance,
	}
	word, rest, _ := strings.Cut(phrase, " ")
	switch {
	case word == "on" && slices.Contains(airworthiness.Vocabulary("part"), rest):
		w.Part = rest
	case word == "policy" && (rest == "strict" || rest == "rule-text"):
		w.Policy = rest
	default:
		return readTruth(truths, phrase)
	}
	return nil
}

// apply changes a person and the work as the phrases of one line say.
func (a *authority) apply(p *airworthiness.Person, w *airworthiness.Work) error {
	for _, phrase := range a.but {
		if name, ok := strings.CutPrefix(phrase, "work "); ok {
			if err := readWorkPhrase(w, name); err != nil {
				return err
			}
			continue
		}
		if err := readCertificate(p, phrase); err != nil {
			return err
		}
	}
	return nil
}

// readBut reads "PHRASE, PHRASE = MAY".
func (s *Story) readBut(value string) error {
	phrases, may, ok := strings.Cut(value, " = ")
	if !ok {
		return fmt.Errorf("want PHRASES = VERB ACTION ANSWER, have %q", value)
	}
	if err := s.readMay(may); err != nil {
		return err
	}
	m := &s.people.may[len(s.people.may)-1]
	m.but = strings.Split(phrases, ", ")
	return m.apply(&airworthiness.Person{}, &airworthiness.Work{})
}

// readMay reads "VERB ACTION [NUMBER] [of ITEM/ITEM] ANSWER [because ROW/ROW] [without ROW/ROW] [missing CONDITION/...]".
func (s *Story) readMay(value string) error {
	words := strings.Fields(value)
	if len(words) < 3 || !slices.Contains(airworthiness.Verbs(), words[0]) {
		return fmt.Errorf("want VERB ACTION ANSWER, have %q", value)
	}
	m := authority{verb: words[0], action: words[1], items: []string{""}}
	words = words[2:]
	if n, err := strconv.Atoi(words[0]); err == nil {
		m.number, words = n, words[1:]
	}
	if len(words) > 2 && words[0] == "of" {
		m.items, words = list(words[1]), words[2:]
	}
	if len(words) == 0 {
		return fmt.Errorf("want an answer, have %q", value)
	}
	var err error
	if m.answer, err = readAnswer(words[0]); err != nil {
		return err
	}
	for words = words[1:]; len(words) >= 2; words = words[2:] {
		switch words[0] {
		case "because":
			m.rows = list(words[1])
		case "without":
			m.without = list(words[1])
		case "missing":
			m.missing = list(words[1])
		default:
			return fmt.Errorf("want because, without or missing, have %q", words[0])
		}
	}
	if len(words) > 0 || m.answer != airworthiness.Unknown && len(m.rows) == 0 {
		return fmt.Errorf("want ANSWER because ROW, have %q", value)
	}
	s.people.may = append(s.people.may, m)
	return nil
}

func readAnswer(word string) (airworthiness.Truth, error) {
	for _, t := range []airworthiness.Truth{airworthiness.Yes, airworthiness.No, airworthiness.Unknown} {
		if t.String() == word {
			return t, nil
		}
	}
	return airworthiness.Unknown, fmt.Errorf("want yes, no or unknown, have %q", word)
}
