package airworthiness_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// FuzzDetermine decodes arbitrary bytes into a case, sensible or not. No case may make the engine panic, and none may
// depend on the order of its squawks.
func FuzzDetermine(f *testing.F) {
	r := rules(f)
	f.Add([]byte{})
	f.Add([]byte("one altimeter, then the other"))
	f.Add([]byte{0, 3, 1, 2, 2, 5, 9, 200, 3, 40, 1, 7, 4, 0, 33, 5, 11, 6, 2, 7, 1, 1, 10, 255, 7, 2, 1, 11, 255})
	f.Add(slices.Repeat([]byte{7, 1, 1, 10, 255, 13}, 30))
	f.Fuzz(func(t *testing.T, data []byte) { holdsWildly(t, r, data) })
}

// TestWildCases runs the same over random bytes, so that every run of the tests tries some.
func TestWildCases(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) { holdsWildly(t, r, rapid.SliceOf(rapid.Byte()).Draw(t, "data")) })
}

func holdsWildly(t interface {
	Helper()
	Fatalf(format string, args ...any)
}, r *airworthiness.Ruleset, data []byte,
) {
	t.Helper()
	w := decode(data, r)
	plan, err := r.Plan(&w.aircraft)
	if err != nil {
		return // the record contradicts itself: two units of one name, or one that needs what is not there
	}
	flight := r.Prepare(w.flight)
	forth, back := answer{plan: plan}, answer{plan: plan}
	plan.Determine(&forth.Determination, w.defects, &flight)
	told := forth.tell(w.defects)

	reversed := slices.Clone(w.defects)
	slices.Reverse(reversed)
	plan.Determine(&back.Determination, reversed, &flight)
	if forth.Verdict != back.Verdict {
		t.Fatalf("%s, and the other way about %s", forth.Verdict, back.Verdict)
	}
	ids := map[string]bool{}
	for _, d := range w.defects {
		ids[d.ID] = true
	}
	if len(ids) == len(w.defects) && !slices.Equal(told, back.tell(reversed)) {
		t.Fatalf("another order, another answer:%s%s", tell(told), tell(back.tell(reversed)))
	}
	if forth.Verdict.Permits() && slices.ContainsFunc(w.defects, func(d airworthiness.Defect) bool { return !w.excused(&d) }) {
		t.Fatalf("%s with a condition, or with a squawk that nobody has deferred", forth.Verdict)
	}
}

// excused says whether anything in the world may let a flight go with a squawk: a permit that covers it, all that clears a
// condition, an MEL that governs, or a deferral.
func (w *world) excused(d *airworthiness.Defect) bool {
	if w.flight.Permit != nil && slices.Contains(w.flight.Permit.Covers, d.ID) {
		return true
	}
	yes := airworthiness.Yes
	if f := d.Found; f != nil && f.Result != airworthiness.FoundUnstated && f.Rated == yes && f.Data == yes && f.Approved == yes {
		return true
	}
	if d.Kind != airworthiness.KindInoperative || d.Deferral == nil {
		return false
	}
	if w.aircraft.MELAuthorized == yes {
		return w.aircraft.MEL.OnRecord == yes && d.Deferral.Placarded == yes && d.Deferral.Recorded == yes
	}
	return d.Deferral.MethodDone == yes
}

// program reads bytes until there are none, and then noughts.
type program []byte

func (p *program) next() byte {
	if len(*p) == 0 {
		return 0
	}
	b := (*p)[0]
	*p = (*p)[1:]
	return b
}

// decode reads bytes as changes to the plain airplane and its plain flight.
func decode(data []byte, r *airworthiness.Ruleset) world {
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	p := program(data)
	for len(p) > 0 {
		switch p.next() % 10 {
		case 0:
			forget(p.field(&w.aircraft))
		case 1:
			forget(p.field(&w.flight))
		case 2:
			p.set(p.field(&w.aircraft))
		case 3:
			p.set(p.field(&w.flight))
		case 4:
			items := r.Items()
			u := airworthiness.Unit{ID: fmt.Sprintf("unit-%d", p.next()), Item: items[int(p.next())*2%len(items)].Item, Serves: uint64(p.next())}
			if need := p.next(); need%4 == 0 && len(w.aircraft.Units) > 0 {
				u.Needs = []string{w.aircraft.Units[int(need)%len(w.aircraft.Units)].ID}
			}
			w.aircraft.Units = append(w.aircraft.Units, u)
		case 5:
			if n := len(w.aircraft.Units); n > 0 {
				i := int(p.next()) % n
				w.aircraft.Units = slices.Delete(slices.Clone(w.aircraft.Units), i, i+1)
			}
		case 6:
			lists := []*airworthiness.OwnList{&w.aircraft.TypeCertification, &w.aircraft.EquipmentList, &w.aircraft.KOEL, &w.aircraft.Directives}
			l := lists[p.next()%4]
			l.Rows = append(l.Rows, airworthiness.OwnRow{
				Item: usual[int(p.next())%len(usual)], Quantity: int(int8(p.next())), Kinds: airworthiness.Kinds(p.next()),
			})
		case 7:
			w.defects = append(w.defects, p.defect(&w.aircraft))
		case 8:
			w.aircraft.MELAuthorized = airworthiness.Truth(p.next() % 3)
			w.aircraft.MEL.OnRecord = airworthiness.Truth(p.next() % 3)
			w.aircraft.MEL.LetterAboard = airworthiness.Truth(p.next() % 3)
			w.aircraft.MEL.Rows = append(w.aircraft.MEL.Rows, p.melRow())
		case 9:
			w.flight.Permit = p.permit()
		}
	}
	return w
}

func (p *program) defect(a *airworthiness.Aircraft) airworthiness.Defect {
	d := airworthiness.Defect{ID: fmt.Sprintf("squawk-%d", p.next()%16), Kind: airworthiness.DefectKind(p.next() % 5)}
	if i := int(p.next()); i < len(a.Units) {
		d.Unit = a.Units[i].ID
	} else {
		d.Item = usual[i%len(usual)]
	}
	if steps := p.next(); steps > 0 {
		truth := func(shift int) airworthiness.Truth { return airworthiness.Truth(steps >> shift & 3 % 3) }
		d.Deferral = done(airworthiness.Method(p.next() % 4))
		d.Deferral.MethodDone, d.Deferral.Placarded = truth(0), truth(2)
		d.Deferral.Recorded, d.Deferral.HazardDetermined = truth(4), truth(6)
		for id := range p.next() % 17 { // the squawks that it was determined in view of, from the first
			d.Deferral.HazardConsidered = append(d.Deferral.HazardConsidered, fmt.Sprintf("squawk-%d", id))
		}
		if steps == math.MaxUint8 {
			considered := d.Deferral.HazardConsidered
			*d.Deferral = *done(d.Deferral.Method)
			d.Deferral.HazardConsidered = considered
		}
	}
	if found := p.next(); found > 128 {
		d.Found = &airworthiness.Found{
			Result: airworthiness.FoundResult(found % 4), Rated: airworthiness.Truth(found >> 2 % 3),
			Data: airworthiness.Truth(found >> 3 % 3), Approved: airworthiness.Truth(found >> 4 % 3),
		}
	}
	return d
}

func (p *program) melRow() airworthiness.MELRow {
	row := airworthiness.MELRow{
		Item: usual[int(p.next())%len(usual)], Required: airworthiness.Given(int(int8(p.next()))), Category: string(rune('A' + p.next()%5)),
		Days: airworthiness.Given(int(int8(p.next()))), Operations: airworthiness.Truth(p.next() % 3), Maintenance: airworthiness.Truth(p.next() % 3),
	}
	row.OnlyWhen = []string{"", "!night", "ifr", "night !night", "pressurized", "altitude-above:high"}[p.next()%6]
	return row
}

func (p *program) permit() *airworthiness.Permit {
	permit := &airworthiness.Permit{
		Issued: airworthiness.Given(airworthiness.Date(20600 + int(p.next()))), OnlyRequiredCrew: airworthiness.Truth(p.next() % 3),
		ValidFrom:  airworthiness.Given(time.Unix(int64(p.next())<<24, 0)),
		ValidUntil: airworthiness.Given(time.Unix(int64(p.next())<<24, 0)),
		Kinds:      airworthiness.Given(airworthiness.Kinds(p.next())),
	}
	for n := p.next() % 16; n > 0; n-- {
		permit.Covers = append(permit.Covers, fmt.Sprintf("squawk-%d", n))
	}
	return permit
}

// field picks a field of an aircraft or a flight that holds a fact.
func (p *program) field(of any) reflect.Value {
	v := reflect.ValueOf(of).Elem()
	field := v.Field(int(p.next()) % v.NumField())
	if field.Type() == reflect.TypeFor[airworthiness.OwnList]() || field.Type() == reflect.TypeFor[airworthiness.MEL]() {
		return field.FieldByName("OnRecord")
	}
	switch of := field.Addr().Interface().(type) {
	case *airworthiness.Papers:
		return p.field(of)
	case *airworthiness.Upkeep:
		if len(of.Items) == 0 || p.next()%4 == 0 {
			of.Items = append(of.Items, airworthiness.UpkeepItem{ID: "item", Kind: []string{"directive", "life-limit", "program", "own"}[p.next()%4], What: "work"})
		}
		if p.next()%4 == 0 {
			return reflect.ValueOf(&of.Complete).Elem()
		}
		item := reflect.ValueOf(&of.Items[len(of.Items)-1]).Elem()
		return item.FieldByName([]string{"Over", "InDays", "InHours", "InCycles", "Done", "Through", "HoursLeft", "CyclesLeft", "Barred"}[p.next()%9])
	}
	return field
}

// set writes a value into a fact of any type: sensible, or out of all bounds.
func (p *program) set(v reflect.Value) {
	b := p.next()
	switch v.Interface().(type) {
	case airworthiness.Truth:
		v.SetUint(uint64(b % 3))
		return
	case time.Time:
		v.Set(reflect.ValueOf(time.Unix(int64(b)<<24, 0)))
		return
	}
	words := append(airworthiness.Vocabulary("airspace"), "Class B", "", "standard", "experimental", "glider", "turbine", "none", "vor", "ads-b")
	switch v.Kind() { //nolint:exhaustive // the other kinds hold no fact
	case reflect.Struct: // a Fact
		v.Field(1).SetBool(true)
		p.set(v.Field(0))
	case reflect.String:
		v.SetString(words[int(b)%len(words)])
	case reflect.Int, reflect.Int32:
		v.SetInt([]int64{int64(int8(b)), math.MaxInt32, math.MinInt32, int64(b) << 8}[b%4])
	case reflect.Float64:
		v.SetFloat([]float64{float64(b) * 100, math.Inf(1), math.NaN(), -1}[b%4])
	case reflect.Uint8:
		v.SetUint(uint64(b))
	case reflect.Bool:
		v.SetBool(b%2 == 1)
	case reflect.Slice:
		if v.Type().Elem().Kind() == reflect.String {
			v.Set(reflect.ValueOf([]string{words[int(b)%len(words)]}))
		}
	}
}
