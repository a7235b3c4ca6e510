package walkaround_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/walkaround"
)

func names(list walkaround.Checklist) []string {
	all := []string{}
	for _, c := range list.Checks {
		all = append(all, c.ID)
	}
	return all
}

// template has checks for what not every airframe has.
func template() walkaround.Checklist {
	heat := look("pitot-heat", walkaround.LeftWing)
	heat.Equipped = "pitot-heat"
	early := look("old-cap", walkaround.LeftWing)
	early.Serials = "D-1..D-999"
	return walkaround.Checklist{Checks: []walkaround.Check{
		look("door", walkaround.Cabin), look("cowl", walkaround.Nose), oil(), heat, early, look("tip", walkaround.LeftWing),
	}}
}

func complete(items ...string) walkaround.Installed {
	var c casefile.Configuration
	c.UnitsComplete = new(true)
	for _, item := range items {
		c.Units = append(c.Units, casefile.Unit{ID: item + "-1", Item: item})
	}
	return walkaround.InstalledIn(c)
}

func TestAnAirframesChecklist(t *testing.T) {
	t.Parallel()
	put := func(after string, c walkaround.Check) walkaround.Changes {
		return walkaround.Changes{Put: []walkaround.Placed{{After: after, Check: c}}}
	}
	unit := look("antenna", walkaround.Fuselage)
	unit.Unit = "ads-b-out-1"
	for what, c := range map[string]struct {
		changes  walkaround.Changes
		airframe walkaround.Airframe
		want     []string
		dropped  []string
	}{
		"as the type, everything installed": {
			airframe: walkaround.Airframe{Serial: "D-0120", Installed: complete("pitot-heat")},
			want:     []string{"door", "cowl", "oil-level", "pitot-heat", "old-cap", "tip"},
		},
		"what is not installed is not checked": {
			airframe: walkaround.Airframe{Serial: "D-120", Installed: complete()},
			want:     []string{"door", "cowl", "oil-level", "old-cap", "tip"}, dropped: []string{"pitot-heat"},
		},
		"what may be installed is": {
			airframe: walkaround.Airframe{Serial: "D-120"}, want: []string{"door", "cowl", "oil-level", "pitot-heat", "old-cap", "tip"},
		},
		"a later serial number": {
			airframe: walkaround.Airframe{Serial: "D-1000", Installed: complete("pitot-heat")},
			want:     []string{"door", "cowl", "oil-level", "pitot-heat", "tip"}, dropped: []string{"old-cap"},
		},
		"a serial number that nobody knows": {
			airframe: walkaround.Airframe{Installed: complete()}, want: []string{"door", "cowl", "oil-level", "old-cap", "tip"}, dropped: []string{"pitot-heat"},
		},
		"dropped by hand": {
			changes: walkaround.Changes{Drop: []string{"tip", "door"}}, airframe: walkaround.Airframe{Serial: "D-1"},
			want: []string{"cowl", "oil-level", "pitot-heat", "old-cap"}, dropped: []string{"door", "tip"},
		},
		"added after another": {
			changes: put("cowl", look("primer", walkaround.Nose)), want: []string{"door", "cowl", "primer", "oil-level", "pitot-heat", "old-cap", "tip"},
		},
		"added at the end of its station": {
			changes: put("", look("primer", walkaround.Nose)), want: []string{"door", "cowl", "oil-level", "primer", "pitot-heat", "old-cap", "tip"},
		},
		"added at a station of its own": {
			changes: put("", look("flap", walkaround.RightWing)), want: []string{"door", "flap", "cowl", "oil-level", "pitot-heat", "old-cap", "tip"},
		},
		"added behind everything": {
			changes: put("", look("fin", walkaround.Empennage)), want: []string{"door", "cowl", "oil-level", "pitot-heat", "old-cap", "tip", "fin"},
		},
		"replaced where it stands": {
			changes: put("", look("cowl", walkaround.Nose)), want: []string{"door", "cowl", "oil-level", "pitot-heat", "old-cap", "tip"},
		},
		"moved within its station": {
			changes: put("oil-level", look("cowl", walkaround.Nose)), want: []string{"door", "oil-level", "cowl", "pitot-heat", "old-cap", "tip"},
		},
		"moved to another station": {
			changes: put("", look("cowl", walkaround.Fuselage)), want: []string{"door", "oil-level", "pitot-heat", "old-cap", "tip", "cowl"},
		},
		"after a check that the template no longer has": {
			changes: put("gone", look("primer", walkaround.Nose)), want: []string{"door", "cowl", "oil-level", "primer", "pitot-heat", "old-cap", "tip"},
		},
		"an optional unit brings its check along": {
			changes: put("", unit), airframe: walkaround.Airframe{Serial: "D-1", Installed: complete("ads-b-out", "pitot-heat")},
			want: []string{"door", "cowl", "oil-level", "pitot-heat", "old-cap", "tip", "antenna"},
		},
		"a unit that was removed takes it away": {
			changes: put("", unit), airframe: walkaround.Airframe{Serial: "D-1", Installed: complete("pitot-heat")},
			want: []string{"door", "cowl", "oil-level", "pitot-heat", "old-cap", "tip"}, dropped: []string{"antenna"},
		},
	} {
		list, dropped := walkaround.Compose(template(), c.changes, c.airframe)
		if got := names(list); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", what, got, c.want)
		}
		var got []string
		for _, d := range dropped {
			got = append(got, d.ID)
			if d.Because == "" {
				t.Errorf("%s: nothing says why %s was dropped", what, d.ID)
			}
		}
		if !slices.Equal(got, c.dropped) {
			t.Errorf("%s: dropped %v, want %v", what, got, c.dropped)
		}
	}
}

// TestAUnitIsNamedWhileItIsInstalled holds that a finding is never about a unit that the aircraft's record does not have.
func TestAUnitIsNamedWhileItIsInstalled(t *testing.T) {
	t.Parallel()
	antenna := look("antenna", walkaround.Fuselage)
	antenna.Unit = "ads-b-out-1"
	list := walkaround.Checklist{Checks: []walkaround.Check{antenna}}
	for what, c := range map[string]struct {
		in   walkaround.Installed
		want string
	}{"installed": {complete("ads-b-out"), "ads-b-out-1"}, "perhaps installed": {walkaround.Installed{}, ""}} {
		composed, _ := walkaround.Compose(list, walkaround.Changes{}, walkaround.Airframe{Installed: c.in})
		if got := composed.Checks[0].Unit; got != c.want {
			t.Errorf("%s: %q, want %q", what, got, c.want)
		}
	}
	if list.Checks[0].Unit != "ads-b-out-1" {
		t.Error("the template was changed")
	}
}

func TestMuseumOfChanges(t *testing.T) {
	t.Parallel()
	bad := look("X", walkaround.Nose)
	tooMany := []string{"length changes.put"}
	for i := 1; i <= walkaround.MaxChecks; i++ {
		tooMany = append(tooMany, "unique changes.put["+itoa(i)+"].check.id")
	}
	for what, c := range map[string]struct {
		changes walkaround.Changes
		want    []string
	}{
		"none": {walkaround.Changes{}, nil},
		"what the template does not have": {
			walkaround.Changes{Drop: []string{"gone", "door", "door"}}, []string{"known-check changes.drop[0]", "unique changes.drop[2]"},
		},
		"a faulty check": {walkaround.Changes{Put: []walkaround.Placed{{Check: bad}}}, []string{"form changes.put[0].check.id"}},
		"after a check elsewhere": {
			walkaround.Changes{Put: []walkaround.Placed{{After: "door", Check: look("primer", walkaround.Nose)}, {After: "gone", Check: look("p", walkaround.Nose)}}},
			[]string{"known-check changes.put[0].after", "known-check changes.put[1].after"},
		},
		"after what is dropped": {
			walkaround.Changes{Drop: []string{"cowl"}, Put: []walkaround.Placed{{After: "cowl", Check: look("primer", walkaround.Nose)}}},
			[]string{"known-check changes.put[0].after"},
		},
		"after what is put before": {
			walkaround.Changes{Put: []walkaround.Placed{{Check: look("p", walkaround.Nose)}, {After: "p", Check: look("q", walkaround.Nose)}}}, nil,
		},
		"twice, and dropped as well": {
			walkaround.Changes{Drop: []string{"cowl"}, Put: []walkaround.Placed{
				{Check: look("cowl", walkaround.Nose)}, {Check: look("p", walkaround.Nose)}, {Check: look("p", walkaround.Nose)},
			}}, []string{"unique changes.put[0].check.id", "unique changes.put[2].check.id"},
		},
		"too many": {
			walkaround.Changes{Put: slices.Repeat([]walkaround.Placed{{Check: look("cowl", walkaround.Nose)}}, walkaround.MaxChecks+1)},
			tooMany,
		},
	} {
		wantRules(t, what, c.changes.Faults(template(), known).Err(), c.want...)
	}
}

// TestAComposedChecklistIsGood holds that whatever changes do to whatever template, what comes out is a checklist without
// a fault, made of the template and of what was put, with every check either in it or told to be dropped.
func TestAComposedChecklistIsGood(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := checklists().Draw(t, "template")
		all := names(list)
		var changes walkaround.Changes
		for _, name := range all {
			if rapid.IntRange(0, 4).Draw(t, "drop") == 0 {
				changes.Drop = append(changes.Drop, name)
			}
		}
		for i := range rapid.IntRange(0, 6).Draw(t, "puts") {
			name := rapid.SampledFrom(append([]string{"new-" + itoa(i)}, all...)).Draw(t, "name")
			changes.Put = append(changes.Put, walkaround.Placed{
				After: rapid.SampledFrom(append([]string{"", "gone"}, all...)).Draw(t, "after"),
				Check: checkAt(t, rapid.SampledFrom(walkaround.Stations()).Draw(t, "station"), name),
			})
		}
		airframe := walkaround.Airframe{Serial: rapid.SampledFrom([]string{"", "1500", "D-8", "D-10"}).Draw(t, "serial"), Installed: complete("pitot-heat", "unit")}
		composed, dropped := walkaround.Compose(list, changes, airframe)
		if faults := composed.Faults(known); len(composed.Checks) > 0 && len(faults) > 0 {
			t.Fatal(faults)
		}
		for _, name := range all {
			_, in := composed.Find(name)
			out := slices.ContainsFunc(dropped, func(d walkaround.Dropped) bool { return d.ID == name })
			if !in && !out {
				t.Fatalf("%s is neither in the list nor told to be dropped", name)
			}
		}
		if again, _ := walkaround.Compose(list, changes, airframe); !slices.Equal(names(again), names(composed)) {
			t.Fatal("the same again is another")
		}
	})
}

// TestKnowingLessChecksMore holds that what is not known of an airframe never takes a check away.
func TestKnowingLessChecksMore(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := checklists().Draw(t, "template")
		whole := walkaround.Airframe{Serial: rapid.SampledFrom([]string{"1500", "D-8"}).Draw(t, "serial"), Installed: complete("pitot-heat", "unit")}
		less := whole
		if rapid.Bool().Draw(t, "serial unknown") {
			less.Serial = ""
		}
		if rapid.Bool().Draw(t, "configuration unknown") {
			less.Installed.Complete = false
		}
		fewer, _ := walkaround.Compose(list, walkaround.Changes{}, whole)
		more, _ := walkaround.Compose(list, walkaround.Changes{}, less)
		for _, name := range names(fewer) {
			if _, ok := more.Find(name); !ok {
				t.Fatalf("%s is checked only when more is known", name)
			}
		}
	})
}
