package casefile_test

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"tiedown/internal/casefile"
)

// TestACopySharesNothing fills every field of a case and holds that its copy says the same, and that no list and no part
// with fields of its own stands in both.
func TestACopySharesNothing(t *testing.T) {
	t.Parallel()
	var c casefile.Case
	everyField(reflect.ValueOf(&c).Elem())
	again := c.Copy()
	if !reflect.DeepEqual(c, again) {
		t.Errorf("the copy is another case:\n%+v\n%+v", c, again)
	}
	apart(t, "case", reflect.ValueOf(c), reflect.ValueOf(again))
}

// everyField gives every field a value.
func everyField(v reflect.Value) {
	switch {
	case v.Type() == reflect.TypeFor[time.Time]():
		v.Set(reflect.ValueOf(time.Date(2026, 6, 1, 15, 0, 0, 0, time.UTC)))
	case v.Kind() == reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		everyField(v.Elem())
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			everyField(v.Field(i))
		}
	case v.Kind() == reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		everyField(v.Index(0))
		everyField(v.Index(1))
	case v.Kind() == reflect.String:
		v.SetString("words")
	case v.Kind() == reflect.Bool:
		v.SetBool(true)
	}
}

// apart holds that two values have no list and no struct behind a pointer in common.
func apart(t *testing.T, at string, a, b reflect.Value) {
	t.Helper()
	switch a.Kind() { //nolint:exhaustive // the other kinds are copied with their value
	case reflect.Pointer:
		isPlain := a.Type().Elem().Kind() != reflect.Struct && a.Type().Elem().Kind() != reflect.Slice || a.Type().Elem() == reflect.TypeFor[time.Time]()
		if isPlain {
			return
		}
		if a.Pointer() == b.Pointer() {
			t.Errorf("%s is shared", at)
		}
		apart(t, at, a.Elem(), b.Elem())
	case reflect.Struct:
		for i := range a.NumField() {
			if field := a.Type().Field(i); field.IsExported() {
				apart(t, at+"."+field.Name, a.Field(i), b.Field(i))
			}
		}
	case reflect.Slice:
		if a.Pointer() == b.Pointer() {
			t.Errorf("%s is shared", at)
		}
		for i := range a.Len() {
			apart(t, fmt.Sprintf("%s[%d]", at, i), a.Index(i), b.Index(i))
		}
	}
}
