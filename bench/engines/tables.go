package engines

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"

	aw "tiedown/internal/airworthiness"
)

// book is the regulation's tables as the baselines read them: the same files as the engine's, in rows.
type book struct {
	items       []catalogItem
	index       map[string]int // item -> its place in items
	eligibility []bookRow
	rows        []bookRow // type certification first, then requirements, as the engine has them
	reliefs     []bookRow
	procedure   []bookRow
	pairs       []bookRow // on two squawks
}

type catalogItem struct {
	key      string
	nature   string
	servesAs []string
}

// bookRow is one row of any of the tables; a table leaves what it does not have at its zero value.
type bookRow struct {
	id         string
	step       aw.Step
	prefill    bool     // from a type-certification list by certification basis
	items      []string // any of them will do
	second     []string // of a row on two squawks: items on the other side
	quantity   string
	must       string
	when       []term
	lasting    []string // conditions of when that no defect undoes
	relieves   []string
	limits     bool // a relief that binds the flight to something
	otherwise  aw.Verdict
	from, upTo aw.Date
}

// term is one condition of a clause, such as "!in-alaska".
type term struct {
	key     string
	negated bool
}

func (r *bookRow) inForce(on aw.Date) bool {
	return (r.from == 0 || on >= r.from) && (r.upTo == 0 || on < r.upTo)
}

// count is the number that the row's quantity names, or 0 where it is a word.
func (r *bookRow) count() int {
	n, err := strconv.Atoi(r.quantity)
	if err != nil {
		return 0
	}
	return n
}

// readBook reads NAME.csv of each table. The engine's own loader has checked them.
func readBook(tables fs.FS) (*book, error) {
	b := &book{index: map[string]int{}}
	read := func(name string, use func(field map[string]string) error) error {
		return readTable(tables, name, use)
	}
	faults := []error{
		read("items", func(f map[string]string) error {
			b.index[f["item"]] = len(b.items)
			b.items = append(b.items, catalogItem{f["item"], f["nature"], strings.Fields(f["serves_as"])})
			return nil
		}),
		read("eligibility", appendRow(&b.eligibility, aw.StepPath)),
		read("type_certification", appendRow(&b.rows, aw.StepTypeCertification)),
		read("requirements", appendRow(&b.rows, aw.StepRegulation)),
		read("reliefs", appendRow(&b.reliefs, aw.StepRegulation)),
		read("procedure", appendRow(&b.procedure, aw.StepDisposition)),
		read("interactions", appendRow(&b.pairs, aw.StepHazard)),
	}
	for i := range b.rows {
		b.rows[i].lasting = lasting(&b.rows[i])
	}
	return b, errors.Join(faults...)
}

func readTable(tables fs.FS, name string, use func(map[string]string) error) error {
	file, err := tables.Open(name + ".csv")
	if err != nil {
		return err
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil {
		return fmt.Errorf("table %s: %w", name, err)
	}
	for _, record := range records[1:] {
		field := map[string]string{}
		for i, column := range records[0] {
			field[column] = record[i]
		}
		if err := use(field); err != nil {
			return fmt.Errorf("table %s, %s: %w", name, record[0], err)
		}
	}
	return nil
}

func appendRow(rows *[]bookRow, step aw.Step) func(map[string]string) error {
	return func(f map[string]string) error {
		if slices.Contains(strings.Fields(f["when"]), "mel-authorized") {
			return nil // of the path under an MEL: no case has one on record
		}
		r := bookRow{
			id: f["id"], step: step, prefill: step == aw.StepTypeCertification, quantity: f["quantity"], must: f["must"],
			relieves: strings.Fields(f["relieves"]), limits: f["limitation"] != "",
		}
		if f["first"] != "" {
			r.items, r.second = strings.Split(f["first"], "|"), strings.Split(f["second"], "|")
		} else if f["item"] != "" {
			r.items = strings.Split(f["item"], "|")
		} else if step == aw.StepTypeCertification || step == aw.StepRegulation {
			r.step = aw.StepAircraft
		}
		for _, word := range strings.Fields(f["when"]) {
			key, negated := strings.CutPrefix(word, "!")
			r.when = append(r.when, term{key, negated})
		}
		var err error
		if name := f["step"]; name != "" {
			r.step, err = stepNamed(name)
		}
		if word := f["otherwise"]; word != "" {
			r.otherwise, _ = aw.ParseVerdict(word)
		}
		r.from, _ = aw.ParseDate(f["from"])
		r.upTo, _ = aw.ParseDate(f["to"])
		*rows = append(*rows, r)
		return err
	}
}

// lasting finds the conditions of a requirement that ask for other equipment than its own to be there: a rule that binds
// an aircraft because of other equipment is not undone by that equipment failing.
func lasting(r *bookRow) []string {
	var keys []string
	if r.quantity == "note" {
		return nil
	}
	for _, t := range r.when {
		name, item, _ := strings.Cut(t.key, ":")
		presence := name == "installed" || name == "works"
		if presence && !t.negated && !(name == "installed" && slices.Contains(r.items, item)) {
			keys = append(keys, t.key)
		}
	}
	return keys
}

func stepNamed(name string) (aw.Step, error) {
	i := slices.Index(aw.StepNames(), name)
	if i < 0 {
		return 0, fmt.Errorf("no such step %q", name)
	}
	return aw.Step(i), nil
}

// conditions lists every distinct condition of the book, in order of appearance.
func (b *book) conditions() []string {
	var keys []string
	add := func(key string) {
		if key != "" && !slices.Contains(keys, key) {
			keys = append(keys, key)
		}
	}
	add("mel-authorized")
	for _, kind := range aw.KindNames() {
		add("kind:" + kind)
	}
	for _, table := range [][]bookRow{b.eligibility, b.rows, b.reliefs, b.procedure, b.pairs} {
		for _, r := range table {
			for _, t := range r.when {
				add(t.key)
			}
			add(r.must)
		}
	}
	return keys
}
