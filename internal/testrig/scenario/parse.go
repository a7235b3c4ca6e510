package scenario

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// Story is one story as written, ready to be made into a case.
type Story struct {
	File  string
	Line  int // of its first line
	Title string
	Text  string // its lines as written, without comments

	Source   string
	Aircraft string
	changes  []change
	squawks  []squawk
	flight   casefile.Flight
	permit   *casefile.Permit
	policy   casefile.Policy

	considered []consideration
	company    []casefile.CompanyRule

	verdict    string
	refused    []string
	because    []expectation
	becauseNot []expectation
	missing    []string
	limits     []string
	natures    []nature
	people     people
}

// change is one change to the aircraft.
type change func(*casefile.Aircraft) error

// squawk is one report before it is known whether its subject is a unit or an item.
type squawk struct {
	subject string
	defect  casefile.Defect
}

// expectation is a finding that must be there, or must not. Empty fields are not compared.
type expectation struct {
	row, outcome, relief, subject string
}

type nature struct{ item, nature string }

func (s *Story) at() string { return fmt.Sprintf("%s:%d: %s", s.File, s.Line, s.Title) }

// Load reads every *.scenario file of a folder, in the order of their names.
func Load(folder fs.FS) ([]Story, error) {
	files, err := fs.Glob(folder, "*.scenario")
	if err != nil {
		return nil, err
	}
	var stories []Story
	for _, file := range files {
		text, err := fs.ReadFile(folder, file)
		if err != nil {
			return nil, err
		}
		more, err := Parse(file, string(text))
		if err != nil {
			return nil, err
		}
		stories = append(stories, more...)
	}
	return stories, nil
}

// Parse reads the stories of one file. The error names the file and the line.
func Parse(file, text string) ([]Story, error) {
	p := parser{file: file, titles: map[string]bool{}}
	for i, line := range strings.Split(text, "\n") {
		if err := p.line(i+1, line); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", file, i+1, err)
		}
	}
	if len(p.stories) == 0 {
		return nil, fmt.Errorf("%s: no story", file)
	}
	for i := range p.stories {
		if err := p.stories[i].whole(); err != nil {
			return nil, fmt.Errorf("%s: %w", p.stories[i].at(), err)
		}
	}
	return p.stories, nil
}

type parser struct {
	file    string
	titles  map[string]bool
	seen    map[string]bool // keywords of the story at hand that may stand only once
	stories []Story
}

// keywords gives each keyword its reader. Those in single may stand only once a story.
var (
	single   = []string{"story", "source", "aircraft", "flight", "then", "units", "inspections", "papers", "upkeep", "policy", "permit", "person", "supervisor", "work"}
	keywords = map[string]func(*Story, string) error{
		"source":      func(s *Story, v string) error { s.Source = v; return nil },
		"aircraft":    func(s *Story, v string) error { s.Aircraft = v; return nil },
		"fact":        (*Story).readFact,
		"without":     (*Story).readWithout,
		"add":         (*Story).readAdd,
		"units":       (*Story).readUnits,
		"document":    (*Story).readDocument,
		"on-list":     (*Story).readOnList,
		"off-list":    (*Story).readOffList,
		"given":       (*Story).readGiven,
		"considered":  (*Story).readConsidered,
		"company":     (*Story).readCompany,
		"flight":      (*Story).readFlight,
		"then":        (*Story).readThen,
		"because":     (*Story).readBecause,
		"because-not": (*Story).readBecauseNot,
		"missing":     func(s *Story, v string) error { s.missing = append(s.missing, v); return nil },
		"limited-to":  func(s *Story, v string) error { s.limits = append(s.limits, v); return nil },
		"refused":     func(s *Story, v string) error { s.refused = append(s.refused, v); return nil },
		"nature":      (*Story).readNature,
		"inspections": (*Story).readInspections,
		"policy":      (*Story).readPolicy,
		"papers":      (*Story).readPapers,
		"upkeep":      (*Story).readUpkeep,
		"item":        (*Story).readItem,
		"mel":         (*Story).readMEL,
		"permit":      (*Story).readPermit,
		"found":       (*Story).readFound,
		"person":      (*Story).readPerson,
		"supervisor":  (*Story).readSupervisor,
		"work":        (*Story).readWork,
		"may":         (*Story).readMay,
		"but":         (*Story).readBut,
		"to-do":       (*Story).readToDo,
		"to-do-not":   (*Story).readToDoNot,
		"task":        (*Story).readTask,
		"entry":       (*Story).readEntry,
		"discard":     (*Story).readDiscard,
	}
)

func (p *parser) line(number int, line string) error {
	if strings.TrimSpace(line) != line {
		return errors.New("a space before or after the text")
	}
	if line == "" || strings.HasPrefix(line, "#") {
		return nil
	}
	line, _, _ = strings.Cut(line, " # ")
	line = strings.TrimRight(line, " ")
	keyword, value, ok := strings.Cut(line, ": ")
	if !ok || value == "" || value != strings.TrimSpace(value) {
		return fmt.Errorf("want KEYWORD: VALUE, have %q", line)
	}
	if keyword == "story" {
		return p.begin(number, value)
	}
	read, ok := keywords[keyword]
	if !ok {
		return fmt.Errorf("no such keyword %q", keyword)
	}
	if len(p.stories) == 0 {
		return fmt.Errorf("%s stands before the first story", keyword)
	}
	if slices.Contains(single, keyword) && p.seen[keyword] {
		return fmt.Errorf("%s stands twice in one story", keyword)
	}
	p.seen[keyword] = true
	story := &p.stories[len(p.stories)-1]
	story.Text += line + "\n"
	return read(story, value)
}

func (p *parser) begin(number int, title string) error {
	if p.titles[title] {
		return fmt.Errorf("the story %q stands twice", title)
	}
	p.titles[title], p.seen = true, map[string]bool{}
	p.stories = append(p.stories, Story{File: p.file, Line: number, Title: title, Text: title + "\n", flight: ordinaryFlight()})
	return nil
}

// whole checks the story as a whole, once all its lines are read.
func (s *Story) whole() error {
	judged := s.verdict != "" || len(s.refused) > 0
	switch {
	case s.Source == "":
		return errors.New("the story names no source")
	case len(s.natures) > 0 && (judged || s.Aircraft != ""):
		return errors.New("a story about the catalog has no aircraft and no verdict")
	case len(s.natures) > 0:
		return nil
	case !judged && s.people.asked():
		return s.people.whole(s.Aircraft)
	case s.Aircraft == "":
		return errors.New("the story names no aircraft")
	case !judged:
		return errors.New("the story has no outcome: want then or refused")
	case s.verdict != "" && len(s.refused) > 0:
		return errors.New("a story is refused, or has a verdict, not both")
	case len(s.refused) > 0:
		return nil
	case s.verdict != airworthiness.Clear.String() && len(s.because)+len(s.missing) == 0:
		return fmt.Errorf("the verdict is %s: want a because or a missing", s.verdict)
	case s.verdict == airworthiness.Limited.String() && len(s.limits) == 0:
		return errors.New("the verdict is limited: want limited-to")
	}
	return nil
}

func (s *Story) readThen(value string) error {
	if _, ok := airworthiness.ParseVerdict(value); !ok {
		return fmt.Errorf("no such verdict %q", value)
	}
	s.verdict = value
	return nil
}

func (s *Story) readBecause(value string) error {
	e, err := readExpectation(value)
	if err == nil && e.outcome == "" {
		err = fmt.Errorf("want ROW OUTCOME, have %q", value)
	}
	s.because = append(s.because, e)
	return err
}

func (s *Story) readBecauseNot(value string) error {
	e, err := readExpectation(value)
	s.becauseNot = append(s.becauseNot, e)
	return err
}

// readExpectation reads ROW [OUTCOME] [by RELIEF] [for SUBJECT].
func readExpectation(value string) (expectation, error) {
	words := strings.Fields(value)
	e := expectation{row: words[0]}
	words = words[1:]
	if len(words) > 0 && words[0] != "by" && words[0] != "for" {
		if !slices.Contains(airworthiness.OutcomeNames(), words[0]) {
			return e, fmt.Errorf("no such outcome %q", words[0])
		}
		e.outcome, words = words[0], words[1:]
	}
	for ; len(words) >= 2; words = words[2:] {
		switch {
		case words[0] == "by" && e.relief == "" && e.subject == "":
			e.relief = words[1]
		case words[0] == "for" && e.subject == "":
			e.subject = words[1]
		default:
			return e, fmt.Errorf("want ROW OUTCOME [by RELIEF] [for SUBJECT], have %q", value)
		}
	}
	if len(words) > 0 {
		return e, fmt.Errorf("want ROW OUTCOME [by RELIEF] [for SUBJECT], have %q", value)
	}
	return e, nil
}

func (s *Story) readNature(value string) error {
	words := strings.Fields(value)
	if len(words) != 2 {
		return fmt.Errorf("want ITEM NATURE, have %q", value)
	}
	s.natures = append(s.natures, nature{words[0], words[1]})
	return nil
}
