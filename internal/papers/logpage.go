package papers

import "time"

// LogPage is a maintenance record entry with the contents of 14 CFR 43.9(a), to print, complete and sign by hand. What
// is empty is a line to write on: nothing is filled in for the person who signs.
type LogPage struct {
	Registration string
	Type         string
	Serial       string
	TotalTime    string // time in service with its unit, such as "3,412.6 h"
	Squawk       string // its reference
	Discrepancy  string // what was reported
	ReportedAt   time.Time

	Work      string    // description of the work, or reference to data acceptable to the Administrator: 43.9(a)(1)
	Completed time.Time // date of completion: 43.9(a)(2)
	DoneBy    string    // who did the work, if not who signs: 43.9(a)(3)
	Signer    string    // 43.9(a)(4), as are the next two
	Number    string    // of the certificate
	Kind      string    // of the certificate

	Made time.Time // when the page is made out
}

const logCaution = "Not an approval until it is signed by hand. The signature approves the aircraft for return to service only for the work described (14 CFR 43.9(a)). " +
	"Not for inspections: their entry is that of 14 CFR 43.11."

// Measures of the lower part of the page, in mm.
const (
	signatureHeight = 65.0 // of the block for the signature and the gap below it
	writingLine     = 8.0  // between lines to write on
	fewestLines     = 6    // to write on, when no work is described
)

// LogPages prints the entry, upright. The signature is on the last page.
func LogPages(p LogPage, on Paper) ([]byte, error) { return drawLog(p, on).bytes() }

func drawLog(p LogPage, on Paper) *canvas {
	c := newCanvas("Maintenance entry "+p.Registration+" "+p.Squawk, p.Made)
	s := sheet{
		width: on.Width, height: on.Height, title: "MAINTENANCE ENTRY",
		aircraft: show(p.Registration), caution: logCaution,
	}
	body := s.body(c)
	pages := c.fitLog(p, body)
	for i, page := range pages {
		s.begin(c, i+1, len(pages))
		y := c.rows(page, body.x, body.y, body.w)
		if i < len(pages)-1 {
			continue
		}
		block := box{body.x, body.y + body.h - signatureHeight, body.w, signatureHeight - 3}
		if show(p.Work) == "" {
			for y += writingLine; y < block.y-2; y += writingLine {
				c.rule(body.x, y, body.w, thinRule)
			}
		}
		c.signature(p, block)
	}
	return c
}

// fitLog finds the largest letters with which everything is on one page, or divides it into pages in the smallest. The
// last page has room for the signature.
func (c *canvas) fitLog(p LogPage, body box) [][]row {
	room := signatureHeight
	if show(p.Work) == "" {
		room += fewestLines * writingLine
	}
	all := append(p.rows(), c.overflow(p, body)...)
	var pages [][]row
	for _, size := range sizes(LargestRow+1, SmallestRow) {
		rows := c.layAll(all, body.w, size)
		if heights(rows) <= body.h-room {
			return [][]row{rows}
		}
		pages = paginate(rows, body.h)
		if heights(pages[len(pages)-1]) > body.h-room {
			pages = append(pages, []row{c.lay(across(0, cellText{text: "(the entry is on the pages before)"}), body.w, size)})
		}
	}
	return pages
}

func (p LogPage) rows() []row {
	const blank = "________________"
	value := func(name, value shown) cell {
		return cell{{text: name, label: true}, {text: value.orElse(blank), bold: true}}
	}
	reported := shown("")
	if !p.ReportedAt.IsZero() {
		reported = instant(p.ReportedAt)
	}
	rows := []row{
		{
			shares: []float64{0.2, 0.3, 0.25, 0.25}, weight: thinRule,
			cells: []cell{
				value("Aircraft", show(p.Registration)), value("Type", show(p.Type)), value("Serial number", show(p.Serial)),
				value("Total time in service", show(p.TotalTime)),
			},
		},
		{
			shares: []float64{0.2, 0.8}, weight: thinRule,
			cells: []cell{value("Squawk", show(p.Squawk)), value("Reported", reported)},
		},
	}
	if words := show(p.Discrepancy); words != "" {
		rows = append(rows, across(thinRule, cellText{text: "Discrepancy as reported", label: true}, cellText{text: words}))
	}
	rows = append(rows, across(0,
		cellText{text: "Work performed: description, or reference to data acceptable to the Administrator (14 CFR 43.9(a)(1))", label: true},
		cellText{text: show(p.Work)}))
	if anyMarked(show(p.Registration), show(p.Type), show(p.Serial), show(p.TotalTime), show(p.Squawk), show(p.Discrepancy),
		show(p.Work), show(p.DoneBy), show(p.Signer), show(p.Number), show(p.Kind)) {
		rows = append(rows, across(0, cellText{text: markNote}))
	}
	return rows
}

// signature draws the block that is completed and signed by hand. A value that its field cannot hold stands above.
func (c *canvas) signature(p LogPage, b box) {
	c.frame(b, thickRule)
	statement := style{false, 8}
	in := b.within(3)
	c.lines(in.x, in.y+16, statement, c.all(statement,
		"The work described was performed satisfactorily; approved for return to service for that work only (43.9(a)(4)):", in.w))
	for _, f := range p.fields(b) {
		c.text(f.box.x, f.box.y, fieldName, f.name)
		c.rule(f.box.x, f.box.y+f.box.h, f.box.w, thinRule)
		if s, lines, ok := c.fitField(f); ok {
			h := float64(len(lines)) * s.line()
			c.lines(f.box.x, f.box.y+f.box.h-0.5-h, s, lines)
		} else {
			c.text(f.box.x, f.box.y+f.box.h-0.5-fieldName.line(), fieldName, "(in full above)")
		}
	}
}

// field is a name, a value and the line that the value stands on.
type field struct {
	box         box
	name, value shown
}

var fieldName = style{false, 7}

// fields are those of the block for the signature.
func (p LogPage) fields(b box) []field {
	in := b.within(3)
	half := (in.w - 6) / 2
	right := in.x + half + 6
	completed := shown("")
	if !p.Completed.IsZero() {
		completed = day(p.Completed)
	}
	return []field{
		{box{in.x, in.y, half, 14}, "Date of completion (43.9(a)(2))", completed},
		{box{right, in.y, half, 14}, "Work performed by, if not the signer (43.9(a)(3))", show(p.DoneBy)},
		{box{in.x, in.y + 24, half, 15}, "Signature", ""},
		{box{right, in.y + 24, half, 15}, "Name", show(p.Signer)},
		{box{in.x, in.y + 41, half, 14}, "Certificate number", show(p.Number)},
		{box{right, in.y + 41, half, 14}, "Kind of certificate", show(p.Kind)},
	}
}

// fitField finds the largest letters with which a value fits into its field.
func (c *canvas) fitField(f field) (style, []shown, bool) {
	room := f.box.h - fieldName.line() - 0.5
	for _, breakWords := range []bool{false, true} {
		for _, size := range sizes(11, SmallestRow) {
			s := style{true, size}
			if lines, ok := c.wrap(s, f.value, f.box.w, breakWords); ok && float64(len(lines))*s.line() <= room {
				return s, lines, true
			}
		}
	}
	return style{}, nil, false
}

// overflow is the values that their fields cannot hold.
func (c *canvas) overflow(p LogPage, body box) []row {
	var rows []row
	for _, f := range p.fields(body) {
		if _, _, ok := c.fitField(f); !ok {
			rows = append(rows, across(0, cellText{text: f.name, label: true}, cellText{text: f.value}))
		}
	}
	return rows
}
