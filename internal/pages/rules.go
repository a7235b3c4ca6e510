package pages

import (
	"slices"
	"strconv"
	"strings"
	"sync"

	"tiedown/internal/airworthiness"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
)

func (p *pages) rulesRoutes() {
	p.acting("GET /rules", p.showRules)
	p.acting("GET /rules/{table}/{row}", p.showRule)
}

// How many rows and stories one page shows.
const (
	rowsShown    = 40
	storiesShown = 12
)

// bookTable is a table of the book, as people know it.
type bookTable struct {
	Key   string
	Name  string
	Words string // what its rows say
	Rows  int
}

// bookRow is a version of a row with where it is found.
type bookRow struct {
	*regulation.SheetRow
	Path  string
	Title string // the row's own words, or the name of what it is
}

// Status is how well the row has been read; empty in a table of words.
func (r *bookRow) Status() string { return r.Fields["status"] }

// Sort is the table's name.
func (r *bookRow) Sort() string { return tableNames[r.Table][0] }

// Window says when the row is in force.
func (r *bookRow) Window() string {
	from, to := r.Fields["from"], r.Fields["to"]
	switch {
	case r.Fields["status"] == "":
		return ""
	case from == "" && to == "":
		return "always"
	case to == "":
		return "from " + from + " on"
	case from == "":
		return "until " + to + ", no longer on that day"
	default:
		return "from " + from + " until " + to + ", no longer on that day"
	}
}

// rulebook is the book as it is browsed. It is made once: the book is part of the program.
type rulebook struct {
	tables []bookTable
	rows   []bookRow
	paths  map[string]string // of a row of law, of people or of what comes due, or of a step, by its name
}

var theRulebook = sync.OnceValues(func() (*rulebook, error) {
	sheets, err := regulation.Sheets()
	if err != nil {
		return nil, err
	}
	book := &rulebook{paths: map[string]string{}}
	for _, key := range tableOrder {
		i := slices.IndexFunc(sheets, func(s regulation.Sheet) bool { return s.Name == key })
		sheet := &sheets[i]
		names := tableNames[key]
		book.tables = append(book.tables, bookTable{key, names[0], names[1], len(sheet.Rows)})
		for i := range sheet.Rows {
			r := bookRow{SheetRow: &sheet.Rows[i]}
			r.Path = "/rules/" + key + "/" + r.Key
			r.Title = titleOf(r.SheetRow)
			book.rows = append(book.rows, r)
			if _, ok := book.paths[r.Key]; !ok && (r.Citation() != "" || key == "steps") {
				book.paths[r.Key] = r.Path
			}
		}
	}
	return book, nil
})

// titleOf is what a row says of itself in a list.
func titleOf(r *regulation.SheetRow) string {
	for _, column := range []string{"words", "name", "title", "holds", "passed"} {
		if said := r.Fields[column]; said != "" {
			return upperFirst(said)
		}
	}
	return r.Key
}

// rulePath leads from the row of a finding to the book; empty for what stands in no table of it, such as a rule of the
// organization or a row of the aircraft's own papers.
func rulePath(row string) string {
	book, err := theRulebook()
	if err != nil {
		return ""
	}
	return book.paths[row]
}

// rulesView is what the list shows.
type rulesView struct {
	Query, Table, Status string
	Tables               []bookTable
	Statuses             []bookChoice
	Rows                 []bookRow
	Found                int
	From                 int // the first that is shown, counted from one
	Earlier, Later       string
	Digest               string
	Clauses              int // rows that rest on a paragraph
}

// Asked reports whether rows are looked for.
func (l rulesView) Asked() bool { return l.Query != "" || l.Table != "" || l.Status != "" }

func (p *pages) showRules(v *visit) error {
	book, err := theRulebook()
	if err != nil {
		return err
	}
	asked := v.URL.Query()
	view := rulesView{
		Query: strings.Join(strings.Fields(asked.Get("q")), " "), Table: asked.Get("table"), Status: asked.Get("status"),
		Tables: book.tables, Statuses: statusChoices, Digest: p.Service.Book().Digest,
	}
	for _, r := range book.rows {
		if r.Citation() != "" {
			view.Clauses++
		}
	}
	if view.Asked() {
		found := book.search(p.Service.Book().Rules, view)
		view.Found = len(found)
		page, _ := strconv.Atoi(asked.Get("page"))
		page = max(1, min(page, (len(found)+rowsShown-1)/rowsShown))
		view.From = (page-1)*rowsShown + 1
		view.Rows = found[min(len(found), view.From-1):min(len(found), page*rowsShown)]
		if page > 1 {
			asked.Set("page", strconv.Itoa(page-1))
			view.Earlier = "/rules?" + asked.Encode()
		}
		if page*rowsShown < len(found) {
			asked.Set("page", strconv.Itoa(page+1))
			view.Later = "/rules?" + asked.Encode()
		}
	}
	return p.showIn(v, ok, "rules", frame{Title: "The book of rules", Here: "more", Page: view})
}

// search finds rows that have every word of the question, wherever in them: in small letters or large.
func (b *rulebook) search(rules *airworthiness.Ruleset, l rulesView) []bookRow {
	var found []bookRow
	words := strings.Fields(strings.ToLower(l.Query))
	for _, r := range b.rows {
		if l.Table != "" && r.Table != l.Table || l.Status != "" && r.Status() != l.Status {
			continue
		}
		text := r.text(rules)
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(text, w) }) {
			found = append(found, r)
		}
	}
	return found
}

// text is what a row is searched by: its fields, and the names of the items in them.
func (r *bookRow) text(rules *airworthiness.Ruleset) string {
	var all strings.Builder
	for column, value := range r.Fields {
		all.WriteString(value + " ")
		if slices.Contains(itemColumns, column) {
			for _, key := range keysOf(value) {
				if item, ok := rules.Item(key); ok {
					all.WriteString(item.Name + " ")
				}
			}
		}
	}
	return strings.ToLower(all.String())
}

func keysOf(value string) []string {
	return strings.FieldsFunc(value, func(c rune) bool { return c == ' ' || c == '|' || c == ';' })
}

// ruleView is what the page of a row shows.
type ruleView struct {
	Row      bookRow
	Table    bookTable
	Versions []ruleVersion
	Stories  []storyTold
	Found    int // stories in which it must be found
	NotFound int // stories in which it must not
	From     int
	Earlier  string
	Later    string
	Held     string // what holds the row where no story speaks of it
}

// Told reports whether any story speaks of the row.
func (r ruleView) Told() bool { return r.Found+r.NotFound > 0 }

// ruleVersion is one version of a row, as its page shows it.
type ruleVersion struct {
	bookRow
	Says   string
	Read   string // how well, in words
	Source string
	Fields []ruleField
}

func (p *pages) showRule(v *visit) error {
	book, err := theRulebook()
	if err != nil {
		return err
	}
	table, key := v.PathValue("table"), v.PathValue("row")
	var view ruleView
	for _, r := range book.rows {
		if r.Table == table && r.Key == key {
			view.Row = r
			view.Versions = append(view.Versions, p.version(book, r))
		}
	}
	if len(view.Versions) == 0 {
		return techlog.Errorf(techlog.KindNotFound, "the book has no such row")
	}
	view.Row.Path = view.Versions[0].Path
	view.Table = book.tables[slices.IndexFunc(book.tables, func(t bookTable) bool { return t.Key == table })]
	view.Held = heldBy[table]
	if err := p.retellAll(v, book, &view); err != nil {
		return err
	}
	title := view.Row.Citation()
	if title == "" {
		title = view.Row.Title
	}
	return p.showIn(v, ok, "rule", frame{Title: title, Here: "more", Page: view})
}

// retellAll shows the stories that hold a row. A row of words, such as one of the catalog, has its own name in them as well, but
// it is no row of law there.
func (p *pages) retellAll(v *visit, book *rulebook, view *ruleView) error {
	if book.paths[view.Row.Key] != view.Row.Path {
		return nil
	}
	told, err := regulation.StoriesOf(view.Row.Key)
	if err != nil {
		return err
	}
	for i := range told {
		if _, ok := slices.BinarySearch(told[i].Rows, view.Row.Key); ok {
			view.Found++
		}
	}
	view.NotFound = len(told) - view.Found
	page, _ := strconv.Atoi(v.URL.Query().Get("page"))
	page = max(1, min(page, (len(told)+storiesShown-1)/storiesShown))
	view.From = (page-1)*storiesShown + 1
	for _, t := range told[min(len(told), view.From-1):min(len(told), page*storiesShown)] {
		view.Stories = append(view.Stories, book.retell(&t, view.Row.Key))
	}
	if page > 1 {
		view.Earlier = view.Row.Path + "?page=" + strconv.Itoa(page-1) + "#stories"
	}
	if page*storiesShown < len(told) {
		view.Later = view.Row.Path + "?page=" + strconv.Itoa(page+1) + "#stories"
	}
	return nil
}
