package scenario

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/casefile"
)

// equation reads "NAME = VALUE".
func equation(value string) (name, right string, err error) {
	name, right, ok := strings.Cut(value, " = ")
	if !ok || name == "" || right == "" || strings.Contains(name, " ") {
		return "", "", fmt.Errorf("want NAME = VALUE, have %q", value)
	}
	return name, right, nil
}

func (s *Story) readFact(value string) error {
	name, right, err := equation(value)
	if err != nil {
		return err
	}
	if err := setFact(&casefile.Facts{}, name, right); err != nil {
		return err
	}
	s.changes = append(s.changes, func(a *casefile.Aircraft) error { return setFact(&a.Facts, name, right) })
	return nil
}

// setFact sets the fact of that name, as the written form of facts calls it.
func setFact(facts *casefile.Facts, name, value string) error {
	field, ok := fieldOf(reflect.ValueOf(facts).Elem(), name)
	if !ok {
		return fmt.Errorf("%q is no fact of an aircraft", name)
	}
	if value == "unknown" {
		field.SetZero()
		return nil
	}
	if err := setField(field, value); err != nil {
		return fmt.Errorf("fact %s: %w", name, err)
	}
	return nil
}

// fieldOf finds the field of a struct by its name in JSON.
func fieldOf(v reflect.Value, name string) (reflect.Value, bool) {
	for i := range v.NumField() {
		if tag, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ","); tag == name {
			return v.Field(i), true
		}
	}
	return reflect.Value{}, false
}

// setField reads a value into a field of any type that facts have.
func setField(field reflect.Value, value string) error {
	switch target := field.Addr().Interface().(type) {
	case *string:
		*target = value
	case **bool:
		b, err := strconv.ParseBool(value)
		if err != nil || (value != "true" && value != "false") {
			return fmt.Errorf("want true, false or unknown, have %q", value)
		}
		*target = &b
	case **int:
		n, err := strconv.Atoi(value)
		if err != nil {
			return fmt.Errorf("want a whole number, have %q", value)
		}
		*target = &n
	case **float64:
		x, err := strconv.ParseFloat(value, 64)
		if err != nil {
			return fmt.Errorf("want a number, have %q", value)
		}
		*target = &x
	case **[]string:
		list := list(value)
		*target = &list
	default:
		return fmt.Errorf("no way to write a %s", field.Type())
	}
	return nil
}

// list reads "a/b"; "none" is the empty list.
func list(value string) []string {
	if value == "none" {
		return []string{}
	}
	return strings.Split(value, "/")
}

func (s *Story) readWithout(id string) error {
	s.changes = append(s.changes, func(a *casefile.Aircraft) error {
		units := &a.Configuration.Units
		at := slices.IndexFunc(*units, func(u casefile.Unit) bool { return u.ID == id })
		if at < 0 {
			return fmt.Errorf("without %s: no such unit is installed", id)
		}
		*units = slices.Delete(slices.Clone(*units), at, at+1)
		return nil
	})
	return nil
}

// readAdd reads "ID = ITEM [also ITEM/ITEM] [serves N/N] [needs ID/ID]".
func (s *Story) readAdd(value string) error {
	id, right, err := equation(value)
	if err != nil {
		return err
	}
	words := strings.Fields(right)
	unit := casefile.Unit{ID: id, Item: words[0]}
	for words = words[1:]; len(words) >= 2; words = words[2:] {
		switch words[0] {
		case "also":
			unit.Also = list(words[1])
		case "needs":
			unit.Needs = list(words[1])
		case "serves":
			if unit.Serves, err = numbers(words[1]); err != nil {
				return err
			}
		default:
			return fmt.Errorf("a unit has no %q: want also, serves or needs", words[0])
		}
	}
	if len(words) > 0 {
		return fmt.Errorf("nothing after %q", words[0])
	}
	s.changes = append(s.changes, func(a *casefile.Aircraft) error {
		a.Configuration.Units = append(slices.Clone(a.Configuration.Units), unit)
		return nil
	})
	return nil
}

func numbers(value string) ([]int, error) {
	var numbers []int
	for _, word := range list(value) {
		n, err := strconv.Atoi(word)
		if err != nil {
			return nil, fmt.Errorf("want whole numbers, have %q", value)
		}
		numbers = append(numbers, n)
	}
	return numbers, nil
}

func (s *Story) readUnits(value string) error {
	complete, ok := map[string]*bool{"complete": yes(true), "incomplete": yes(false), "unknown": nil}[value]
	if !ok {
		return fmt.Errorf("units are complete, incomplete or unknown, not %q", value)
	}
	s.changes = append(s.changes, func(a *casefile.Aircraft) error {
		a.Configuration.UnitsComplete = complete
		return nil
	})
	return nil
}

func yes(b bool) *bool { return &b }

// ownList finds one of the aircraft's own documents.
func ownList(c *casefile.Configuration, name string) (*casefile.OwnList, error) {
	switch name {
	case "type_certification":
		return &c.TypeCertification, nil
	case "equipment_list":
		return &c.EquipmentList, nil
	case "koel":
		return &c.KOEL, nil
	case "directives":
		return &c.Directives, nil
	}
	return nil, fmt.Errorf("no such document %q", name)
}

// changeList adds a change to a document, once its name is known to be right.
func (s *Story) changeList(name string, change func(*casefile.OwnList) error) error {
	if _, err := ownList(&casefile.Configuration{}, name); err != nil {
		return err
	}
	s.changes = append(s.changes, func(a *casefile.Aircraft) error {
		l, err := ownList(&a.Configuration, name)
		if err != nil {
			return err
		}
		return change(l)
	})
	return nil
}

func (s *Story) readDocument(value string) error {
	name, right, err := equation(value)
	if err != nil {
		return err
	}
	record, ok := map[string]*bool{"on-record": yes(true), "unconfirmed": yes(true), "none": yes(false), "unknown": nil}[right]
	if !ok || right == "unconfirmed" && name != "type_certification" {
		return fmt.Errorf("a document is on-record, none or unknown, or the type certification list unconfirmed, not %q", right)
	}
	return s.changeList(name, func(l *casefile.OwnList) error {
		l.OnRecord = record
		if record == nil || !*record {
			l.Rows = nil
		}
		if right != "on-record" {
			l.Confirmed = nil
		}
		return nil
	})
}

// readOnList reads "NAME = ITEM N [for KIND/KIND]", and of a directive whether it bars a special flight permit.
func (s *Story) readOnList(value string) error {
	name, right, err := equation(value)
	if err != nil {
		return err
	}
	right, barred := readBarred(right)
	words := strings.Fields(right)
	if len(words) != 2 && (len(words) != 4 || words[2] != "for") {
		return fmt.Errorf("want NAME = ITEM N [for KIND/KIND], have %q", value)
	}
	row := casefile.OwnRow{Item: words[0], PermitBarred: barred}
	if row.Quantity, err = strconv.Atoi(words[1]); err != nil || row.Quantity < 1 {
		return fmt.Errorf("want a number from 1, have %q", words[1])
	}
	if len(words) == 4 {
		row.Kinds = list(words[3])
	}
	return s.changeList(name, func(l *casefile.OwnList) error {
		l.Rows = append(slices.Clone(l.Rows), row)
		return nil
	})
}

func readBarred(right string) (string, *bool) {
	for words, barred := range map[string]bool{", permit barred": true, ", permit allowed": false} {
		if rest, ok := strings.CutSuffix(right, words); ok {
			return rest, &barred
		}
	}
	return right, nil
}

func (s *Story) readOffList(value string) error {
	name, item, err := equation(value)
	if err != nil {
		return err
	}
	return s.changeList(name, func(l *casefile.OwnList) error {
		kept := slices.DeleteFunc(slices.Clone(l.Rows), func(r casefile.OwnRow) bool { return r.Item == item })
		if len(kept) == len(l.Rows) {
			return fmt.Errorf("off-list %s: %s is not on it", name, item)
		}
		l.Rows = kept
		return nil
	})
}
