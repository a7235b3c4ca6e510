// Package demo is the invented flying club of the demonstration.
//
// It owns aircraft, people and places that exist nowhere else: no type, registration or person is real. It does not own
// any rule, nor how records are kept: it hands them over like everybody else.
package demo

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"path"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

//go:embed aircraft/*.json
var aircraft embed.FS

// AircraftNames lists the aircraft of the club by name, sorted.
func AircraftNames() []string {
	files, err := aircraft.ReadDir("aircraft")
	if err != nil {
		panic(err) // the folder is a constant of this file
	}
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(f.Name(), ".json")
	}
	return names
}

// Aircraft returns the facts and the configuration of one aircraft of the club. The error names the aircraft that
// there are.
func Aircraft(name string) (casefile.Aircraft, error) {
	raw, err := aircraft.ReadFile(path.Join("aircraft", name+".json"))
	if err != nil {
		return casefile.Aircraft{}, fmt.Errorf("no aircraft %q: there are %s", name, strings.Join(AircraftNames(), ", "))
	}
	var a casefile.Aircraft
	decoder := json.NewDecoder(bytes.NewReader(raw))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&a); err != nil {
		return casefile.Aircraft{}, fmt.Errorf("aircraft %q: %w", name, err)
	}
	return a, nil
}

// Inspect moves what was inspected, tested and checked to so many days before a day, so that it is in order on it.
func Inspect(f *casefile.Facts, on time.Time) {
	for _, inspected := range []struct {
		on   *string
		days int
	}{
		{&f.VORChecked, 9},
		{&f.AnnualInspected, 120},
		{&f.ConditionInspected, 120},
		{&f.ELTInspected, 120},
		{&f.AltimeterTested, 300},
		{&f.TransponderTested, 300},
		{&f.ELTBatteryDue, -500},
	} {
		if *inspected.on != "" {
			*inspected.on = on.AddDate(0, 0, -inspected.days).Format(time.DateOnly)
		}
	}
	if f.Papers != nil && f.Papers.Registration.Through != "" {
		papers := *f.Papers
		papers.Registration.Through = on.AddDate(0, 0, 500).Format(time.DateOnly)
		f.Papers = &papers
	}
	if f.Upkeep != nil {
		readMeters(f.Upkeep, on)
	}
}

// readMeters moves the reading of the meters to an instant, and all dates with it.
func readMeters(u *casefile.Upkeep, at time.Time) {
	days := int(at.Sub(*u.ReadAt).Hours() / 24)
	u.ReadAt = &at
	move := func(date *string) {
		if day, err := time.Parse(time.DateOnly, *date); err == nil {
			*date = day.AddDate(0, 0, days).Format(time.DateOnly)
		}
	}
	for i := range u.Items {
		if u.Items[i].First != nil {
			move(&u.Items[i].First.Through)
		}
		for n := range u.Items[i].Done {
			move(&u.Items[i].Done[n].On)
		}
	}
}
