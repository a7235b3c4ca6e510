package papers

import "slices"

// mmPerInch is exact (the international inch).
const mmPerInch = 25.4

// Paper is a size of paper, upright.
type Paper struct {
	Name   string
	Width  float64 // mm
	Height float64 // mm
}

// The papers that lists and log pages are printed on.
var (
	A4     = Paper{"a4", 210, 297} // ISO 216
	Letter = Paper{"letter", 8.5 * mmPerInch, 11 * mmPerInch}
)

// Papers lists every paper.
func Papers() []Paper { return []Paper{A4, Letter} }

// PaperNamed finds a paper.
func PaperNamed(name string) (Paper, bool) {
	return named(Papers(), name, func(p Paper) string { return p.Name })
}

// Label is what placards are printed on: single labels off a roll, each a page of its own, or a sheet of them.
type Label struct {
	Name   string
	Width  float64 // of one label, mm
	Height float64 // of one label, mm
	Sheet  *Grid   // nil: single labels
	Source string  // where the measures are from
}

// WidthIn is the width of one label in inches.
func (l Label) WidthIn() float64 { return l.Width / mmPerInch }

// HeightIn is the height of one label in inches.
func (l Label) HeightIn() float64 { return l.Height / mmPerInch }

// Grid says how labels lie on a sheet. Measures are in mm, from the upper left corner of the sheet.
type Grid struct {
	Paper         Paper
	Columns, Rows int
	Left, Top     float64 // of the first label
	Right, Down   float64 // from one label to the next
}

// Places is how many labels a sheet has.
func (g Grid) Places() int { return g.Columns * g.Rows }

// at is where a label lies. Places count from 0, along the rows.
func (g Grid) at(place int, l Label) box {
	column, row := place%g.Columns, place/g.Columns
	return box{g.Left + float64(column)*g.Right, g.Top + float64(row)*g.Down, l.Width, l.Height}
}

const (
	practice  = "common practice: a usual roll label"
	templates = "common practice: sheet layout as public collections of label templates give it"
)

// labels is the table of labels. No regulation prescribes a size: 14 CFR 43.11(b) asks for a placard that meets the
// rules under which the aircraft was certificated, and those ask for one that is legible and stays where it is.
var labels = []Label{
	{Name: "57x32", Width: 2.25 * mmPerInch, Height: 1.25 * mmPerInch, Source: practice},
	{Name: "76x51", Width: 3 * mmPerInch, Height: 2 * mmPerInch, Source: practice},
	{Name: "102x51", Width: 4 * mmPerInch, Height: 2 * mmPerInch, Source: practice},
	{Name: "102x76", Width: 4 * mmPerInch, Height: 3 * mmPerInch, Source: practice},
	{Name: "102x152", Width: 4 * mmPerInch, Height: 6 * mmPerInch, Source: practice},
	{Name: "a4-21", Width: 63.5, Height: 38.1, Sheet: &Grid{A4, 3, 7, 7.2, 15.15, 66.04, 38.1}, Source: templates},
	{Name: "a4-14", Width: 99.1, Height: 38.1, Sheet: &Grid{A4, 2, 7, 4.65, 15.15, 101.6, 38.1}, Source: templates},
	{Name: "a4-8", Width: 99.1, Height: 67.7, Sheet: &Grid{A4, 2, 4, 4.65, 13.1, 101.6, 67.7}, Source: templates},
	{
		Name: "letter-30", Width: 2.625 * mmPerInch, Height: 1 * mmPerInch, Source: templates,
		Sheet: &Grid{Letter, 3, 10, 0.1875 * mmPerInch, 0.5 * mmPerInch, 2.75 * mmPerInch, 1 * mmPerInch},
	},
	{
		Name: "letter-14", Width: 4 * mmPerInch, Height: 1.5 * mmPerInch, Source: templates,
		Sheet: &Grid{Letter, 2, 7, 0.15625 * mmPerInch, 0.25 * mmPerInch, 4.1875 * mmPerInch, 1.5 * mmPerInch},
	},
	{
		Name: "letter-10", Width: 4 * mmPerInch, Height: 2 * mmPerInch, Source: templates,
		Sheet: &Grid{Letter, 2, 5, 0.15625 * mmPerInch, 0.5 * mmPerInch, 4.1875 * mmPerInch, 2 * mmPerInch},
	},
}

// Labels lists every label, single ones first.
func Labels() []Label { return slices.Clone(labels) }

// LabelNamed finds a label.
func LabelNamed(name string) (Label, bool) {
	return named(labels, name, func(l Label) string { return l.Name })
}

func named[T any](all []T, name string, nameOf func(T) string) (T, bool) {
	i := slices.IndexFunc(all, func(v T) bool { return nameOf(v) == name })
	if i < 0 {
		var none T
		return none, false
	}
	return all[i], true
}
