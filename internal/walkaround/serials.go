package walkaround

import (
	"fmt"
	"strings"
)

// serials are the serial numbers that a check applies to: single ones and ranges, both ends of which belong to it.
type serials []struct{ from, to string }

// parseSerials reads "D-1001..D-1999 D-2040". Nothing means every airframe, and is nil.
func parseSerials(s string) (serials, error) {
	var all serials
	for _, part := range strings.Fields(s) {
		from, to, isRange := strings.Cut(part, "..")
		if !isRange {
			to = from
		}
		switch {
		case !IsSerial(from) || !IsSerial(to):
			return nil, fmt.Errorf("%q is no serial number and no range", part)
		case compareSerials(from, to) > 0:
			return nil, fmt.Errorf("the range %q ends before it begins", part)
		}
		all = append(all, struct{ from, to string }{from, to})
	}
	if s != "" && s != strings.Join(strings.Fields(s), " ") {
		return nil, fmt.Errorf("%q has stray spaces", s)
	}
	return all, nil
}

// IsSerial reports whether a text may be a serial number: letters, digits and hyphens, at most 30.
func IsSerial(s string) bool {
	const admitted = "-0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
	return s != "" && len(s) <= 30 && strings.Trim(s, admitted) == ""
}

// apply reports whether a check applies to a serial number. To one that is not known every check applies.
func (s serials) apply(serial string) bool {
	if serial == "" || len(s) == 0 {
		return true
	}
	for _, r := range s {
		if compareSerials(r.from, serial) <= 0 && compareSerials(serial, r.to) <= 0 {
			return true
		}
	}
	return false
}

// compareSerials orders serial numbers as people count them: runs of digits by their number, the rest by its letters.
func compareSerials(a, b string) int {
	for a != "" && b != "" {
		var x, y string
		x, a = nextRun(a)
		y, b = nextRun(b)
		if c := compareRuns(x, y); c != 0 {
			return c
		}
	}
	return len(a) - len(b)
}

func compareRuns(x, y string) int {
	if isDigit(x[0]) && isDigit(y[0]) {
		x, y = strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
		if len(x) != len(y) {
			return len(x) - len(y)
		}
	}
	return strings.Compare(x, y)
}

// nextRun cuts off the digits, or what is no digit, at the start of a text.
func nextRun(s string) (run, rest string) {
	i := 1
	for i < len(s) && isDigit(s[i]) == isDigit(s[0]) {
		i++
	}
	return s[:i], s[i:]
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }
