package papers

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// DeferredList is the list of deferred items that is carried in the aircraft, so that the records available to the pilot
// describe each inoperative item (14 CFR 91.213(a)(4); with no minimum equipment list it is good practice).
type DeferredList struct {
	Registration string
	Type         string
	AsOf         time.Time // in the zone in which it is read
	Items        []DeferredItem
	NotDeferred  []string // open squawks that are not deferred, as they are to be named
	Caution      string   // at the foot of every page; empty: the sentence below
}

// DeferredItem is one line of the list. What is empty is printed as not on record.
type DeferredItem struct {
	Squawk       string // its reference
	Item         string
	Unit         string // the installed unit
	Place        string // where it is
	Basis        string // citation of the path taken
	Method       Method
	Placard      string // words on the placard
	Entry        string // reference of the maintenance record entry
	DeterminedBy string // who determined that it is no hazard, with the certificate
	DeterminedAt time.Time
	Since        time.Time // when the squawk was reported
	Until        time.Time
	Limitations  []string // on the use of the aircraft
}

// caution is what a list says at its foot if nobody gave it other words: no list goes without.
const caution = "An aid, not an approval. The pilot in command decides whether the aircraft is in condition for safe flight (14 CFR 91.7(b))."

// Sizes of letters on lists and log pages, in points. Rows that do not fit one page are printed smaller down to
// SmallestRow, and then go to a further page.
const (
	LargestRow  = 9.0
	SmallestRow = 6.5
)

func pageNumber(n, m int) string { return fmt.Sprintf("Page %d of %d", n, m) }

var deferredColumns = struct {
	names  []shown
	shares []float64
}{
	[]shown{"Squawk, since", "Item, unit, place", "Basis, method", "Placard", "Record entry", "Determined to be no hazard by", "Expires", "Limitation of use"},
	[]float64{0.09, 0.16, 0.12, 0.11, 0.11, 0.16, 0.09, 0.16},
}

// DeferredItems prints the list, on its side.
func DeferredItems(list DeferredList, on Paper) ([]byte, error) {
	return drawDeferred(list, on).bytes()
}

func drawDeferred(list DeferredList, on Paper) *canvas {
	c := newCanvas("Deferred items "+list.Registration, list.AsOf)
	s := sheet{
		width: on.Height, height: on.Width, title: "DEFERRED ITEMS",
		aircraft: show(list.Registration).orElse("aircraft not on record"), caution: show(list.Caution).orElse(caution),
	}
	body := s.body(c)
	head, pages := c.fitDeferred(list, body)
	for i, page := range pages {
		s.begin(c, i+1, len(pages))
		c.rows(page, body.x, c.rows(head, body.x, body.y, body.w), body.w)
	}
	return c
}

// fitDeferred finds the largest letters with which everything is on one page, or divides it into pages in the smallest.
func (c *canvas) fitDeferred(list DeferredList, body box) (head []row, pages [][]row) {
	for _, size := range sizes(LargestRow, SmallestRow) {
		head = c.layAll(list.head(), body.w, size)
		rows := list.rows()
		if heights(head) > body.h/3 {
			// A name without end would leave no room for the list: it goes below it.
			rows = append(rows, list.about())
			head = c.layAll([]row{across(thinRule, cellText{text: "Aircraft and type are named below the list.", bold: true}), columnNames()}, body.w, size)
		}
		pages = paginate(c.layAll(rows, body.w, size), body.h-heights(head))
		if len(pages) == 1 {
			break
		}
	}
	return head, pages
}

// across is a row of one cell.
func across(weight float64, texts ...cellText) row {
	return row{shares: []float64{1}, cells: []cell{texts}, weight: weight}
}

// head is what stands above the rows of every page.
func (l DeferredList) head() []row { return []row{l.about(), columnNames()} }

func (l DeferredList) about() row {
	return row{
		shares: []float64{0.2, 0.4, 0.25, 0.15}, weight: thinRule,
		cells: []cell{
			{{text: "Aircraft", label: true}, {text: show(l.Registration).orElse("not on record"), bold: true}},
			{{text: "Type", label: true}, {text: show(l.Type).orElse("not on record"), bold: true}},
			{{text: "As of", label: true}, {text: moment(l.AsOf), bold: true}},
			{{text: "Deferred items", label: true}, {text: show(strconv.Itoa(len(l.Items))), bold: true}},
		},
	}
}

func columnNames() row {
	columns := row{shares: deferredColumns.shares, weight: thickRule}
	for _, name := range deferredColumns.names {
		columns.cells = append(columns.cells, cell{{text: name, bold: true, label: true}})
	}
	return columns
}

func (l DeferredList) rows() []row {
	var rows []row
	marked := anyMarked(show(l.Registration), show(l.Type))
	for _, item := range l.Items {
		rows = append(rows, item.row(l.AsOf))
	}
	if len(l.Items) == 0 {
		rows = append(rows, across(thinRule, cellText{text: "No item is deferred.", bold: true}))
	}
	rows = append(rows, across(0, cellText{text: l.others()}, cellText{text: "What limits the aircraft apart from single squawks is in its status."}))
	for _, r := range rows {
		for _, texts := range r.cells {
			for _, t := range texts {
				marked = marked || t.text.marked()
			}
		}
	}
	if marked {
		rows = append(rows, across(0, cellText{text: markNote}))
	}
	return rows
}

func (l DeferredList) others() shown {
	if len(l.NotDeferred) == 0 {
		return "No other squawk is open."
	}
	return show(fmt.Sprintf("Open and not deferred, %d: %s. Nothing on this list permits a flight with them.",
		len(l.NotDeferred), strings.Join(l.NotDeferred, "; ")))
}

func (d DeferredItem) row(asOf time.Time) row {
	const unknown = "not on record"
	unit := cell{{text: show(d.Item).orElse("item not on record"), bold: true}}
	for _, more := range []shown{show(d.Unit), show(d.Place)} {
		if more != "" {
			unit = append(unit, cellText{text: more})
		}
	}
	expires := cell{{text: moment(d.Until), bold: true}}
	if !d.Until.IsZero() && !d.Until.After(asOf) {
		expires = append(expires, cellText{text: "EXPIRED", bold: true})
	}
	determined := cell{{text: show(d.DeterminedBy).orElse(unknown)}}
	if !d.DeterminedAt.IsZero() {
		determined = append(determined, cellText{text: instant(d.DeterminedAt)})
	}
	var limits cell
	for _, l := range d.Limitations {
		limits = append(limits, cellText{text: show(l)})
	}
	if len(limits) == 0 {
		limits = cell{{text: "none found"}}
	}
	return row{
		shares: deferredColumns.shares, weight: thinRule,
		cells: []cell{
			{{text: show(d.Squawk).orElse(unknown), bold: true}, {text: day(d.Since)}},
			unit,
			{{text: show(d.Basis).orElse(unknown)}, {text: show(string(d.Method)).orElse("method " + unknown)}},
			{{text: show(d.Placard).orElse(unknown)}},
			{{text: show(d.Entry).orElse(unknown)}},
			determined, expires, limits,
		},
	}
}

// moment is a time, or the words that there is none.
func moment(t time.Time) shown {
	if t.IsZero() {
		return "not on record"
	}
	return instant(t)
}

func day(t time.Time) shown {
	if t.IsZero() {
		return "not on record"
	}
	return show(t.Format(time.DateOnly))
}
