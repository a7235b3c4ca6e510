package techlog_test

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// sampleRecord has every field of a record and of an act filled.
func sampleRecord() techlog.Record {
	until := time.Date(2031, 6, 1, 0, 0, 0, 0, time.UTC)
	return techlog.Record{
		Organization: techlog.ID{1}, Aircraft: techlog.ID{2}, Registration: "N0A", Version: 3,
		Squawk: &techlog.Squawk{ID: techlog.ID{4}, Number: 5, Kind: "inoperative", Unit: "beacon", Item: "beacon", Words: "dark"},
		Rests:  techlog.ID{6}, RestsOn: []byte{7},
		Signer: techlog.Signer{Person: techlog.ID{8}, Name: "M. Chanic", Certificate: techlog.Certificate{
			ID: techlog.ID{9}, Version: 1, Kind: "mechanic", Number: "1", Grade: "x", Ratings: []string{"airframe"},
		}},
		Act: casefile.Act{
			Action: "work", Certificate: "c", Basis: "mel", Method: "removed", Placard: "p", Entry: "e", RemovedOn: "2031-05-01",
			ELT: &casefile.RemovedELT{Make: "m", Model: "m", SerialNumber: "s", Reason: "r"}, InvolvesMaintenance: new(true),
			MaintenanceProcedure: new(true), Considered: []string{"00001"}, Until: &until, Discovered: "2031-05-01", ExtendedUntil: "2031-05-09",
			Work: "repair", Result: "repaired", Found: "f", Done: "d", Data: "d", Form: "f", Completed: "2031-05-02", PerformedBy: "p",
			PartsUsed: []casefile.UsedPart{{Part: "p", Number: "n"}}, PartsAwaited: []casefile.AwaitedPart{{Part: "p", Expected: "2031-05-03"}},
			CheckFlightRequired: new(true), GroundTests: "g", Inspection: "i", Extent: "e", TotalTimeHours: new(1.5), Airworthy: new(true),
			Corrects: "c", Words: "w",
			Declared: &casefile.Declared{
				Part: "airframe", Paragraph: 1, WithinLimits: new(true), Complex: new(true), ApprovedData: new(true), ApprovedProduct: new(true),
				AuthorizedByMaker: new(true), InstalledByMaker: new(true), LimitationsName: new(true), DidWork: new(true), Understands: new(true),
				DoneBefore: new(true), InCommand: new(true), Rated: new(true), Equipped: new(true),
			},
		},
	}
}

func text(t interface{ Fatal(args ...any) }, r techlog.Record) string {
	s, err := r.Text()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// vary gives every leaf of a value another value in turn, and undoes it.
func vary(t *testing.T, path string, v reflect.Value, try func(path string)) {
	t.Helper()
	with := func(other any) {
		was := reflect.ValueOf(v.Interface())
		v.Set(reflect.ValueOf(other).Convert(v.Type()))
		try(path)
		v.Set(was)
	}
	switch {
	case v.Type() == reflect.TypeFor[time.Time]():
		with(v.Interface().(time.Time).Add(time.Microsecond))
	case v.Type() == reflect.TypeFor[techlog.ID]():
		with(techlog.ID{0xff})
	case v.Kind() == reflect.Pointer && !v.IsNil():
		vary(t, path, v.Elem(), try)
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			vary(t, path+"."+v.Type().Field(i).Name, v.Field(i), try)
		}
	case v.Kind() == reflect.Slice && v.Len() > 0:
		vary(t, path+"[]", v.Index(0), try)
	case v.Kind() == reflect.String:
		with(v.String() + " ")
	case v.Kind() == reflect.Bool:
		with(!v.Bool())
	case v.Kind() == reflect.Int:
		with(v.Int() + 1)
	case v.Kind() == reflect.Uint8:
		with(v.Uint() + 1)
	case v.Kind() == reflect.Float64:
		with(v.Float() + 1)
	}
}

// TestTheDigestChangesWithAnyField varies whatever a record says, one at a time.
func TestTheDigestChangesWithAnyField(t *testing.T) {
	t.Parallel()
	r := sampleRecord()
	want := techlog.DigestOf(text(t, r))
	n := 0
	v := reflect.ValueOf(&r).Elem()
	for _, field := range []string{"Organization", "Aircraft", "Registration", "Version", "Rests", "RestsOn", "Act"} {
		vary(t, field, v.FieldByName(field), func(path string) {
			n++
			if techlog.DigestOf(text(t, r)) == want {
				t.Errorf("the digest does not hang on %s", path)
			}
		})
	}
	for path, change := range map[string]func(*techlog.Record){
		"label": func(r *techlog.Record) { r.Squawk.Number++ }, "kind": func(r *techlog.Record) { r.Squawk.Kind = "condition" },
		"unit": func(r *techlog.Record) { r.Squawk.Unit = "x" }, "words": func(r *techlog.Record) { r.Squawk.Words += "." },
		"squawk": func(r *techlog.Record) { r.Squawk = nil }, "person": func(r *techlog.Record) { r.Signer.Person[0]++ },
		"name":        func(r *techlog.Record) { r.Signer.Name += "." },
		"certificate": func(r *techlog.Record) { r.Signer.Certificate.ID[0]++ },
		"version":     func(r *techlog.Record) { r.Signer.Certificate.Version++ },
		"of the kind": func(r *techlog.Record) { r.Signer.Certificate.Kind = "pilot" },
		"number":      func(r *techlog.Record) { r.Signer.Certificate.Number += "0" },
		"grade":       func(r *techlog.Record) { r.Signer.Certificate.Grade += "0" },
		"ratings":     func(r *techlog.Record) { r.Signer.Certificate.Ratings = []string{"powerplant"} },
	} {
		n++
		other := sampleRecord()
		change(&other)
		if techlog.DigestOf(text(t, other)) == want {
			t.Errorf("the digest does not hang on the %s", path)
		}
	}
	if techlog.DigestOf(text(t, r)) != want || n < 60 {
		t.Errorf("%d fields varied, the record is put back: %v", n, techlog.DigestOf(text(t, r)) == want)
	}
}

// TestTheTextSaysTheActAgain: what was signed can be read back, whatever letters it has.
func TestTheTextSaysTheActAgain(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := sampleRecord()
		r.Act.Done, r.Act.Words = rapid.String().Draw(t, "done"), rapid.String().Draw(t, "words")
		r.Act.Considered = rapid.SliceOf(rapid.String()).Draw(t, "considered")
		r.Squawk.Words = rapid.String().Draw(t, "squawk")
		one := text(t, r)
		act, err := techlog.ActOf(one)
		if err != nil {
			t.Fatal(err)
		}
		r.Act = act
		if text(t, r) != one {
			t.Fatalf("read back it says something else:\n%s\n%s", one, text(t, r))
		}
	})
}

// FuzzActs: whatever is said to be signed, checking it neither fails nor depends on more than it, and no two acts that
// differ have the same text.
func FuzzActs(f *testing.F) {
	good, err := json.Marshal(sampleRecord().Act)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good, good)
	f.Add([]byte(`{"action":"work"}`), []byte(`{"action":"work","found":"<>& "}`))
	f.Add([]byte(`{}`), []byte(`{"considered":[]}`))
	f.Fuzz(func(t *testing.T, one, other []byte) {
		a, b := sampleRecord(), sampleRecord()
		a.Act, b.Act = casefile.Act{}, casefile.Act{}
		if json.Unmarshal(one, &a.Act) != nil || json.Unmarshal(other, &b.Act) != nil || !utf8.Valid(one) || !utf8.Valid(other) {
			return
		}
		if u := a.Act.Until; u != nil && (u.Year() < 0 || u.Year() > 9999) {
			return // the contract takes no such instant
		}
		if u := b.Act.Until; u != nil && (u.Year() < 0 || u.Year() > 9999) {
			return
		}
		_ = a.Act.Check()
		textA, textB := text(t, a), text(t, b)
		if actA, err := techlog.ActOf(textA); err != nil || text(t, func() techlog.Record { c := a; c.Act = actA; return c }()) != textA {
			t.Fatalf("it cannot be read back: %v\n%s", err, textA)
		}
		rawA, _ := json.Marshal(a.Act)
		rawB, _ := json.Marshal(b.Act)
		if (string(rawA) == string(rawB)) != (techlog.DigestOf(textA) == techlog.DigestOf(textB)) {
			t.Fatalf("%s and %s have digests that say otherwise", rawA, rawB)
		}
	})
}
