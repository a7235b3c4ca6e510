package walkaround

import (
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func TestSerialNumbers(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		serials, serial string
		want            bool
	}{
		{"", "D-1", true},
		{"D-1..D-9", "", true},
		{"D-1..D-9", "D-9", true},
		{"D-1..D-9", "D-10", false},
		{"D-1..D-9", "D-010", false},
		{"D-1..D-9", "D-009", true},
		{"D-1..D-9", "E-5", false},
		{"1001..1999 2040", "2040", true},
		{"1001..1999 2040", "2041", false},
		{"172S8001..172S8999", "172S8500", true},
		{"172S8001..172S8999", "172R8500", false},
		{"28-7690001..28-7790100", "28-7710033", true},
		{"A1", "A1B", false},
		{"A1..A2", "A1B", true},
	} {
		s, err := parseSerials(c.serials)
		if err != nil || s.apply(c.serial) != c.want {
			t.Errorf("%q and %q: %v, %v, want %v", c.serials, c.serial, s.apply(c.serial), err, c.want)
		}
	}
}

// TestSerialNumbersCount holds that numbers stand in their order, with and without leading zeros.
func TestSerialNumbersCount(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Uint32().Draw(t, "a"), rapid.Uint32().Draw(t, "b")
		zeros := rapid.SampledFrom([]string{"", "0", "000"}).Draw(t, "zeros")
		got := compareSerials("D-"+zeros+strconv.FormatUint(uint64(a), 10), "D-"+strconv.FormatUint(uint64(b), 10))
		if (got < 0) != (a < b) || (got == 0) != (a == b) {
			t.Fatalf("%d and %d compare as %d", a, b, got)
		}
	})
}
