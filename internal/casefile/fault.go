package casefile

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Fault is one thing wrong with an input.
type Fault struct {
	Field  string `json:"field"`          // path of the offending field, such as "defects[0].unit"
	Rule   string `json:"rule"`           // name of the rule broken, such as "installed"
	Says   string `json:"says"`           // what is wrong
	Remedy string `json:"remedy"`         // what to do about it
	Line   int    `json:"line,omitempty"` // line of the field in a written document, counted from 1
}

// Faults is the error of an input that breaks rules: every fault at once.
type Faults []Fault

func (f Faults) Error() string {
	parts := make([]string, len(f))
	for i, fault := range f {
		parts[i] = fault.Field + ": " + fault.Says
		if line := fmt.Sprintf("line %d", fault.Line); fault.Line > 0 && !strings.HasPrefix(fault.Says, line) {
			parts[i] = line + ", " + parts[i]
		}
	}
	return strings.Join(parts, "; ")
}

// Add notes one more fault.
func (f *Faults) Add(field, rule, says, remedy string) {
	*f = append(*f, Fault{Field: field, Rule: rule, Says: says, Remedy: remedy})
}

// Renamed gives the faults other names of their fields, such as those of the document that a part stands in.
func (f Faults) Renamed(name func(field string) string) Faults {
	renamed := slices.Clone(f)
	for i := range renamed {
		renamed[i].Field = name(renamed[i].Field)
	}
	return renamed
}

// Err is the faults as an error, or nil when there are none.
func (f Faults) Err() error {
	if len(f) == 0 {
		return nil
	}
	return f
}

// Join makes one error out of several, keeping every fault. An error that is not about the input comes first.
func Join(errs ...error) error {
	var all Faults
	for _, err := range errs {
		var f Faults
		switch {
		case err == nil:
		case errors.As(err, &f):
			all = append(all, f...)
		default:
			return err
		}
	}
	return all.Err()
}

// AsFaults is the faults that an error is, if it is about the input.
func AsFaults(err error) (Faults, bool) {
	var f Faults
	ok := errors.As(err, &f)
	return f, ok
}

// Renamed is Faults.Renamed of an error that is about the input; any other stays as it is.
func Renamed(err error, name func(field string) string) error {
	faults, ok := AsFaults(err)
	if !ok {
		return err
	}
	return faults.Renamed(name)
}
