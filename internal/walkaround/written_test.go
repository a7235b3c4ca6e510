package walkaround_test

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/walkaround"
)

const header = "id,station,way,words,required,when,equipped,serials,means,item,unit,in,at_least,at_most,below,above,fuel,color,meter,paper,dated,used_up\n"

// TestWrittenFormsReadBack holds that a checklist reads back from both of its written forms as it was.
func TestWrittenFormsReadBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := checklists().Draw(t, "list")
		var csv bytes.Buffer
		if err := walkaround.WriteCSV(&csv, &list); err != nil {
			t.Fatal(err)
		}
		if got, err := walkaround.ReadCSV(bytes.NewReader(csv.Bytes()), known); err != nil || !reflect.DeepEqual(got, list) {
			t.Fatalf("%v\n%s\n%+v", err, csv.String(), got)
		}
		raw, err := walkaround.WriteJSON(&list)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := walkaround.ReadJSON(raw, known); err != nil || !reflect.DeepEqual(got, list) {
			t.Fatalf("%v\n%s\n%+v", err, raw, got)
		}
	})
}

// placed lists line, rule and field of every fault.
func placed(t *testing.T, err error) []string {
	t.Helper()
	var faults casefile.Faults
	if err != nil && !errors.As(err, &faults) {
		t.Fatal(err)
	}
	var all []string
	for _, f := range faults {
		all = append(all, itoa(f.Line)+" "+f.Rule+" "+f.Field)
	}
	return all
}

func TestMuseumOfCSV(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ what, csv, want string }{
		{"a good one", "door,cabin,look,Door latched,true,,,,condition,,,,,,,,,,,,,\n", ""},
		{"no header", "", ""},
		{"a strange header", "id,words\n", "1 header document"},
		{"nothing checked", header, "0 required checks"},
		{"too few columns", header + "door,cabin\n", "2 columns document"},
		{"a quote out of place", header + "do\"or,cabin,look,x,,,,,condition,,,,,,,,,,,,,\n", "2 csv document"},
		{"broken UTF-8", header + "\xff", "2 utf-8 document"},
		{
			"everything at once",
			header + "Door,cabin,look, Door,yes,dusk,,,condition,,,,x,,,,,,,,,\ncowl,nose,peek,Cowling,,,,,condition,,,,,,,,,,,,,\n",
			"2 one-line checks[0].words|2 type checks[0].required|2 type checks[0].at_least|2 form checks[0].id|2 enum checks[0].when|3 enum checks[1].way",
		},
		{"a number with a sign before it", header + "oil,nose,measure,Oil,,,,,servicing,,,qt,+5,,,,,,,,,\n", "2 type checks[0].at_least"},
		{"stray spaces between words", header + "oil,nose,look,Oil,,ifr  night,,,servicing,,,,,,,,,,,,,\n", "2 one-line checks[0].when"},
	} {
		csv := c.csv
		if c.what == "a good one" {
			csv = header + csv
		}
		_, err := walkaround.ReadCSV(strings.NewReader(csv), known)
		if c.what == "no header" {
			c.want = "1 header document"
		}
		if got := strings.Join(placed(t, err), "|"); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.what, got, c.want)
		}
	}
}

func TestMuseumOfJSON(t *testing.T) {
	t.Parallel()
	const door = `{"id": "door", "station": "cabin", "way": "look", "words": "Door latched", "means": "condition"`
	for _, c := range []struct{ what, json, want string }{
		{"a good one", `{"checks": [` + door + `}]}`, ""},
		{"half", `{"checks": [`, "1 syntax document"},
		{"a list", `[]`, "1 type document"},
		{"no checks", `{}`, "1 type checks"},
		{"checks that are none", `{"checks": {}}`, "1 type checks"},
		{"null", `{"checks": null}`, "1 type checks"},
		{"a check that is none", "{\"checks\": [\n1,\n" + door + `}]}`, "2 type checks[0]"},
		{"a field twice", `{"checks": [` + door + `, "id": "x"}]}`, "1 unique-field checks[0].id"},
		{
			"everything at once", "{\"name\": 1, \"checks\": [\n" + door + ",\n\"at_least\": \"5\",\n\"required\": null,\n\"when\": [null],\n\"colour\": \"red\"},\n" +
				`{"id": "Cowl", "station": "nose", "way": "look", "words": "Cowling", "means": "condition"}]}`,
			"1 unknown-field name|3 type checks[0].at_least|6 unknown-field checks[0].colour|4 type checks[0].required|5 type checks[0].when|7 form checks[1].id",
		},
	} {
		_, err := walkaround.ReadJSON([]byte(c.json), known)
		if got := strings.Join(placed(t, err), "|"); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.what, got, c.want)
		}
	}
}

func TestOneFormOfTwo(t *testing.T) {
	t.Parallel()
	csv := header + "Door,cabin,look,Door latched,true,,,,condition,,,,,,,,,,,,,\n"
	_, err := walkaround.Read([]walkaround.Check{look("door", walkaround.Cabin)}, csv, known)
	wantRules(t, "both", err, "one-form csv")
	_, err = walkaround.Read(nil, csv, known)
	wantRules(t, "a fault in CSV", err, "form csv.rows[0].id")
	_, err = walkaround.Read(nil, "", known)
	wantRules(t, "neither", err, "required checks")
	list, err := walkaround.Read([]walkaround.Check{look("door", walkaround.Cabin)}, "", known)
	wantRules(t, "checks", err)
	if len(list.Checks) != 1 {
		t.Errorf("%+v", list)
	}
}

// FuzzCSV holds that nothing breaks the reader, and that what it takes it writes back.
func FuzzCSV(f *testing.F) {
	f.Add(header + "door,cabin,look,Door latched,true,,,,condition,,,,,,,,,,,,,\n")
	f.Add(header + "oil,nose,measure,\"Oil, level\",true,ifr night,,1..9,servicing,engine-oil,,qt,5.5,8,condition,,,,,,\n")
	f.Add("id\n\xff")
	f.Fuzz(func(t *testing.T, csv string) {
		list, err := walkaround.ReadCSV(strings.NewReader(csv), known)
		if err != nil {
			return
		}
		var out bytes.Buffer
		if err := walkaround.WriteCSV(&out, &list); err != nil {
			t.Fatal(err)
		}
		if again, err := walkaround.ReadCSV(bytes.NewReader(out.Bytes()), known); err != nil || !reflect.DeepEqual(again, list) {
			t.Fatalf("%v\n%q\n%q", err, csv, out.String())
		}
	})
}

// FuzzJSON holds the same of JSON.
func FuzzJSON(f *testing.F) {
	f.Add([]byte(`{"checks": [{"id": "door", "station": "cabin", "way": "look", "words": "Door latched", "means": "condition"}]}`))
	f.Add([]byte(`{"checks": [{"id": "oil", "at_least": 1e400}, null, [], {"id": {}}]}`))
	f.Add([]byte("\xff"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		list, err := walkaround.ReadJSON(raw, known)
		if err != nil {
			return
		}
		out, err := walkaround.WriteJSON(&list)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := walkaround.ReadJSON(out, known); err != nil || !reflect.DeepEqual(again, list) {
			t.Fatalf("%v\n%q\n%q", err, raw, out)
		}
	})
}
