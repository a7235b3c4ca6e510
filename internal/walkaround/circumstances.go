package walkaround

import (
	"strings"

	"tiedown/internal/techlog"
)

// Circumstances are what is known of the flight that a walkaround is for. Nil is not known.
type Circumstances map[Circumstance]*bool

// CircumstancesOf reads what is on record of a flight. Whether it meets visible moisture near freezing is for whoever
// walks to say. Without a flight nothing is known, so that every check applies.
func CircumstancesOf(f *techlog.Flight, moisture *bool) Circumstances {
	if f == nil {
		return Circumstances{Moisture: moisture}
	}
	c := Circumstances{
		Night: f.Light.Night, SunsetToSunrise: f.Light.SunsetToSunrise, Moisture: moisture, OverWater: f.Facts.OverWater,
		ForHire: f.Facts.ForHire,
	}
	if f.Rules != "" {
		c[IFR] = new(f.Rules == "ifr")
	}
	return c
}

// Apply reports whether a check applies, and why if it does not always: because the flight meets a circumstance, or
// because nobody knows whether it does.
func (c Circumstances) Apply(check *Check) (applies bool, because string) {
	if len(check.When) == 0 {
		return true, ""
	}
	for _, when := range check.When {
		if known := c[when]; known != nil && *known {
			return true, "the flight is " + circumstanceWords[when]
		}
	}
	var unknown []string
	for _, when := range check.When {
		if c[when] == nil {
			unknown = append(unknown, circumstanceWords[when])
		}
	}
	if len(unknown) == 0 {
		return false, ""
	}
	return true, "nobody has said whether the flight is " + strings.Join(unknown, ", or ")
}
