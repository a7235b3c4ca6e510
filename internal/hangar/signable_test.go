package hangar_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// signableAs is where the tables of acts have an act in what may be signed: the action and the way.
var signableAs = map[string][2]string{
	"out-of-use": {"out-of-use", "deactivated"}, "defer": {"defer", ""}, "extend": {"extend", ""}, "carry-on": {"carry-on", ""},
	"work": {"work", "repair"}, "preventive": {"work", "preventive-maintenance"}, "return": {"return-to-service", ""}, "check-flight": {"check-flight", ""},
	"annual": {"inspect", "annual-inspection"}, "hundred-hour": {"inspect", "hundred-hour-inspection"}, "static-system-test": {"inspect", "static-system-test"},
	"altimeter-and-static-test": {"inspect", "altimeter-and-static-test"}, "transponder-test": {"inspect", "transponder-test"},
}

// openTo finds in what may be signed whether an act may be now, and by whom.
func openTo(view *hangar.Signable, act string) (now bool, way hangar.Way) {
	as := signableAs[act]
	for _, a := range view.Acts {
		if a.Action != as[0] || a.Waits != "" {
			continue
		}
		i := slices.IndexFunc(a.Ways, func(w hangar.Way) bool { return w.Word == as[1] })
		if i >= 0 {
			return true, a.Ways[i]
		}
	}
	return false, hangar.Way{}
}

// TestWhatIsOfferedToSignMayBeSigned puts every act, in every situation, to everybody, and holds what is offered against the
// tables of who may sign what, and when.
func TestWhatIsOfferedToSignMayBeSigned(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	people := c.everybody()
	situations, when := table(whenTable)
	columns, who := table(whoTable)
	inspectable := map[string]hangar.Signable{} // before anything is deferred
	for _, name := range columns {
		view, err := c.service.SignableInspections(t.Context(), people[name].Principal, c.aircraft, "annual-inspection", "2027-01-10")
		if err != nil {
			t.Fatal(err)
		}
		inspectable[name] = view
	}
	lives := c.live(people["both"])
	for _, at := range situations {
		for _, name := range columns {
			view, err := c.service.SignableOn(t.Context(), people[name].Principal, lives[at].squawk.ID, "")
			if err != nil {
				t.Fatal(err)
			}
			for act := range signableAs {
				if when[act] == nil {
					continue
				}
				now, way := openTo(&view, act)
				if want := when[act][at] == "may"; now != want {
					t.Errorf("%s, %s: offered %v, want %v", act, at, now, want)
				}
				if now && (len(way.By) > 0) != (who[act][name] == "yes") {
					t.Errorf("%s, %s, %s: by %v, want %s", act, at, name, way.By, who[act][name])
				}
				if now && len(way.Who) == 0 {
					t.Errorf("%s, %s: it is not said who may", act, at)
				}
			}
		}
	}
	for _, act := range []string{"annual", "hundred-hour", "static-system-test", "altimeter-and-static-test", "transponder-test"} {
		for _, name := range columns {
			view := inspectable[name]
			_, way := openTo(&view, act)
			half := act == "hundred-hour" && name == "airframe" // of the airframe, it may be signed (65.85(a))
			if act == "altimeter-and-static-test" && slices.ContainsFunc(way.Who, func(w string) bool { return strings.Contains(w, "mechanic") }) {
				t.Errorf("a mechanic may test altimeters: %v", way.Who)
			}
			if (len(way.By) > 0) != (who[act][name] == "yes" || half) {
				t.Errorf("%s, %s: by %v, want %s", act, name, way.By, who[act][name])
			}
		}
	}
}

// TestWhatItTakesToWriteADeferral holds what a deferral is written with: the other open squawks, the way that is open to the
// aircraft, and by when it ends at the latest; and that somebody whom the organization lets do nothing is told that it is not
// for the certificate.
func TestWhatItTakesToWriteADeferral(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	both := c.enroll("both", mechanicOf("airframe", "powerplant"))
	other, filed := c.squawk("condition", "", "tire").Squawk, c.squawk("inoperative", "", "landing-light").Squawk
	c.confirm(filed.ID)
	c.sign(both, filed.ID, actsOn(nil, techlog.ID{})["out-of-use"])
	view, err := c.service.SignableOn(t.Context(), both.Principal, filed.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	if len(view.Beside) != 1 || view.Beside[0].Squawk.ID != other.ID || view.Basis != "without-mel" || view.Today != "2027-01-10" || len(view.Certificates) != 1 {
		t.Errorf("%+v", view)
	}
	act := actsOn([]string{other.Label()}, techlog.ID{})["defer"]
	for _, late := range []bool{false, true} {
		until := view.Limits[0].End
		if late {
			until = until.Add(time.Microsecond)
		}
		act.Until = &until
		if err := c.preview(both, filed.ID, act); (err != nil) != late {
			t.Errorf("until %s: %v", until, err)
		}
	}
	stranger := techlog.Principal{Organization: c.who.Organization, Person: newID(), Token: newID(), Name: "stranger", Roles: techlog.As(techlog.Mechanic)}
	c.welcome(stranger.Person, "stranger")
	k := mechanicOf("airframe", "powerplant")
	k.Person, k.Name, k.Number, k.From = stranger.Person, "stranger", "0000002", "2020-01-01"
	c.must(c.service.KeepCertificate(t.Context(), c.who, k, nil, keep(&k)))
	if view, err = c.service.SignableOn(t.Context(), stranger, filed.ID, ""); err != nil {
		t.Fatal(err)
	}
	now, way := openTo(&view, "defer")
	if !now || len(way.By) > 0 || way.Refused == "" {
		t.Errorf("without a standing: %v %+v", now, way)
	}
	if _, err := c.service.SignableOn(t.Context(), stranger, newID(), ""); techlog.KindOf(err) != techlog.KindNotFound {
		t.Errorf("of nothing: %v", err)
	}
}
