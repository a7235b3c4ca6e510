package pages

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// blocksView is what keeps an aircraft from flying because somebody says so, and the form for more of it.
type blocksView struct {
	Aircraft techlog.Aircraft
	Base     techlog.Base
	Zone     *time.Location
	Stand    []techlog.Block
	Off      []techlog.Block // taken back, those that would still be to come
	May      bool
	Form     blockForm
	Done     string
}

// blockForm is one block as somebody writes it.
type blockForm struct {
	Editing techlog.ID // zero: a new one
	Version int
	Kind    string
	From    string
	Until   string
	Words   string
	Which   map[string]string      // which of two times on the wall is meant, by field
	Twice   map[string][]time.Time // fields whose time clocks strike twice
	Once    string
	Faults  casefile.Faults
	Stale   *techlog.Block // what it has become meanwhile
	Note    string
}

// Fault is what is wrong with a field.
func (f *blockForm) Fault(field string) *casefile.Fault { return faultOf(f.Faults, field) }

// blockKinds are the kinds of block in words.
var blockKinds = []struct {
	Kind  techlog.BlockKind
	Words string
}{
	{techlog.BlockedForMaintenance, "Maintenance"},
	{techlog.BlockedAway, "Away"},
	{techlog.BlockedReserved, "Reserved"},
	{techlog.BlockedOtherwise, "Something else"},
}

// Kinds are those that can be chosen.
func (f *blockForm) Kinds() []struct {
	Kind  techlog.BlockKind
	Words string
} {
	return blockKinds
}

// Is reports whether a kind is chosen.
func (f *blockForm) Is(kind techlog.BlockKind) bool { return f.Kind == string(kind) }

// blocksPage shows an aircraft's blocks with the form.
func (p *pages) blocksPage(v *visit, status int, aircraft techlog.ID, form blockForm) error {
	view := blocksView{Form: form, Done: v.URL.Query().Get("done"), May: v.who.May(techlog.KeepBlocks)}
	var err error
	if view.Aircraft, err = p.Service.Aircraft(v, v.who, aircraft); err != nil {
		return err
	}
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	view.Base = baseIn(bases, view.Aircraft.Base)
	view.Zone = zoneOf(view.Base)
	all, err := p.Service.Blocks(v, v.who, hangar.BlockFilter{Aircraft: aircraft, EndsAfter: p.Now(), Cancelled: true}, hangar.Page{Limit: blocksShown})
	if err != nil {
		return err
	}
	for _, b := range all {
		if b.Cancelled {
			view.Off = append(view.Off, b)
		} else {
			view.Stand = append(view.Stand, b)
		}
	}
	slices.SortStableFunc(view.Stand, func(a, b techlog.Block) int { return a.From.Compare(b.From) })
	slices.Reverse(view.Off) // what was made last comes first
	view.Form.Once = newOnce()
	title := "Blocks of "
	if !form.Editing.IsZero() {
		title = "A block of "
	}
	return p.showIn(v, status, "blocks", frame{Title: title + view.Aircraft.Registration, Here: "fleet", Page: &view, About: aircraft.String()})
}

func (p *pages) showBlocks(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	return p.blocksPage(v, http.StatusOK, id, blockForm{})
}

// read reads the form, with times in the zone of the aircraft's base.
func (f *blockForm) read(v *visit, zone *time.Location) hangar.BlockPlan {
	f.Kind, f.Words = v.form.Get("kind"), strings.TrimSpace(v.text("words"))
	f.From, f.Until = strings.TrimSpace(v.form.Get("from")), strings.TrimSpace(v.form.Get("until"))
	f.Which = map[string]string{"from": v.form.Get("from-which"), "until": v.form.Get("until-which")}
	f.Twice = map[string][]time.Time{}
	plan := hangar.BlockPlan{Kind: techlog.BlockKind(f.Kind), Words: f.Words}
	plan.From, f.Twice["from"] = readWall("from", f.From, f.Which["from"], zone, &f.Faults)
	if f.Until != "" {
		plan.Until, f.Twice["until"] = readWall("until", f.Until, f.Which["until"], zone, &f.Faults)
	}
	if f.Kind == "" {
		f.Faults.Add("kind", "required", "no kind is chosen", "choose one of them")
	}
	if f.Words == "" {
		f.Faults.Add("words", "required", "nothing is written about it", "say in a sentence why")
	}
	return plan
}

// fill writes a block into the form.
func (f *blockForm) fill(b techlog.Block, zone *time.Location) {
	f.Editing, f.Version, f.Kind, f.Words = b.ID, b.Version, string(b.Kind), b.Words
	f.Which = map[string]string{}
	write := func(field string, at time.Time) string {
		at = at.In(zone)
		_, offset := at.Zone()
		if all := onTheWall(at.Add(time.Duration(offset)*time.Second).UTC(), zone); len(all) == 2 {
			f.Which[field] = map[bool]string{true: "first", false: "second"}[all[0].Equal(at.Truncate(time.Minute))]
		}
		return at.Format(atForm)
	}
	f.From = write("from", b.From)
	if !b.Until.IsZero() {
		f.Until = write("until", b.Until)
	}
}

// zoneOfAircraft is the zone of an aircraft's base.
func (p *pages) zoneOfAircraft(v *visit, id techlog.ID) (*time.Location, error) {
	a, err := p.Service.Aircraft(v, v.who, id)
	if err != nil {
		return nil, err
	}
	bases, err := p.bases(v)
	return zoneOf(baseIn(bases, a.Base)), err
}

func (p *pages) blockAircraft(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	zone, err := p.zoneOfAircraft(v, id)
	if err != nil {
		return err
	}
	var form blockForm
	plan := form.read(v, zone)
	if len(form.Faults) == 0 {
		var n int
		n, err = kept[int](p.Service.BlockAircraft(v, v.who, id, plan, v.once("", nil), keep(func(b hangar.BlockedAircraft) int { return len(b.Changes) })))
		if err == nil {
			return v.goTo("/aircraft/" + id.String() + "/blocks?done=" + strconv.Itoa(n))
		}
	}
	return p.notBlocked(v, id, form, err)
}

// notBlocked shows the form again with what is wrong.
func (p *pages) notBlocked(v *visit, aircraft techlog.ID, form blockForm, err error) error {
	var faults casefile.Faults
	switch kind := techlog.KindOf(err); {
	case errors.As(err, &faults):
		form.Faults = append(form.Faults, faults...)
	case err == nil:
	case kind == techlog.KindStale:
		b, err := p.Service.Block(v, v.who, form.Editing)
		if err != nil {
			return err
		}
		form.Stale, form.Version = &b, b.Version
		return p.blocksPage(v, http.StatusConflict, aircraft, form)
	case kind == techlog.KindConflict, kind == techlog.KindReused:
		form.Note = problems[kind].title + ": " + strings.TrimSuffix(err.Error(), ".") + "."
		return p.blocksPage(v, http.StatusConflict, aircraft, form)
	default:
		return err
	}
	return p.blocksPage(v, http.StatusUnprocessableEntity, aircraft, form)
}

// theBlock is the block that the address names, with the zone of its aircraft's base.
func (p *pages) theBlock(v *visit) (techlog.Block, *time.Location, error) {
	id, err := v.named("block")
	if err != nil {
		return techlog.Block{}, nil, err
	}
	b, err := p.Service.Block(v, v.who, id)
	if err != nil {
		return b, nil, err
	}
	zone, err := p.zoneOfAircraft(v, b.Aircraft)
	return b, zone, err
}

func (p *pages) showBlock(v *visit) error {
	b, zone, err := p.theBlock(v)
	if err != nil {
		return err
	}
	if b.Cancelled {
		return v.goTo("/aircraft/" + b.Aircraft.String() + "/blocks")
	}
	var form blockForm
	form.fill(b, zone)
	return p.blocksPage(v, http.StatusOK, b.Aircraft, form)
}

// versionOf is the version that a form was filled in from.
func versionOf(v *visit) (int, error) {
	version, err := strconv.Atoi(v.form.Get("version"))
	if err != nil {
		return 0, &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version was seen", Cause: err}
	}
	return version, nil
}

func (p *pages) changeBlock(v *visit) error {
	b, zone, err := p.theBlock(v)
	if err != nil {
		return err
	}
	form := blockForm{Editing: b.ID}
	if form.Version, err = versionOf(v); err != nil {
		return err
	}
	plan := form.read(v, zone)
	if len(form.Faults) == 0 {
		var n int
		n, err = kept[int](p.Service.ChangeBlock(v, v.who, b.ID, form.Version, plan, v.once("", nil), keep(func(b hangar.BlockedAircraft) int { return len(b.Changes) })))
		if err == nil {
			return v.goTo("/aircraft/" + b.Aircraft.String() + "/blocks?done=" + strconv.Itoa(n))
		}
	}
	return p.notBlocked(v, b.Aircraft, form, err)
}

// cancelBlock takes a block back. Undo blocks the aircraft again, for the same time and with the same words.
func (p *pages) cancelBlock(v *visit) error {
	b, zone, err := p.theBlock(v)
	if err != nil {
		return err
	}
	version, err := versionOf(v)
	if err != nil {
		return err
	}
	n, err := kept[int](p.Service.CancelBlock(v, v.who, b.ID, version, v.once("", nil), keep(func(b hangar.BlockedAircraft) int { return len(b.Changes) })))
	if err == nil {
		return v.goTo("/aircraft/" + b.Aircraft.String() + "/blocks?done=" + strconv.Itoa(n))
	}
	form := blockForm{}
	form.fill(b, zone)
	return p.notBlocked(v, b.Aircraft, form, err)
}

func (p *pages) blockAgain(v *visit) error {
	b, _, err := p.theBlock(v)
	if err != nil {
		return err
	}
	if !b.Cancelled {
		return techlog.Errorf(techlog.KindConflict, "the block stands")
	}
	plan := hangar.BlockPlan{From: b.From, Until: b.Until, Kind: b.Kind, Words: b.Words}
	n, err := kept[int](p.Service.BlockAircraft(v, v.who, b.Aircraft, plan, v.once("", nil), keep(func(b hangar.BlockedAircraft) int { return len(b.Changes) })))
	if err != nil {
		return p.notBlocked(v, b.Aircraft, blockForm{}, err)
	}
	return v.goTo("/aircraft/" + b.Aircraft.String() + "/blocks?done=" + strconv.Itoa(n))
}
