package hangar_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// whenTable says what each act comes to in each situation, whoever signs: "may" leaves it to who signs.
const whenTable = `
	act           reported  confirmed  out-of-use  deferred  worked    awaiting  closed
	out-of-use    conflict  may        may         conflict  may       conflict  conflict
	defer         invalid   invalid    may         conflict  invalid   conflict  conflict
	extend        conflict  conflict   conflict    conflict  conflict  conflict  conflict
	carry-on      conflict  conflict   conflict    may       conflict  conflict  conflict
	work          conflict  may        may         may       may       may       conflict
	preventive    conflict  may        may         may       may       may       conflict
	return        conflict  conflict   conflict    conflict  may       conflict  conflict
	check-flight  conflict  conflict   conflict    conflict  conflict  may       conflict
	correct       absent    absent     absent      absent    may       may       may
`

// whoTable says who may sign each act on an airplane with a standard certificate, every fact of the work declared as the
// signer would like it. Read from 43.3, 43.7, 65.81 to 65.95, 91.213(d)(4), 91.407(b), 91.411 and 91.413.
const whoTable = `
	act                        nobody  student  sport  private  glider  airframe  both  authorized  stale  station  repairman
	out-of-use                 no      no       no     no       no      yes       yes   yes         no     yes      no
	defer                      no      no       no     yes      no      yes       yes   yes         no     yes      no
	carry-on                   no      no       no     yes      no      yes       yes   yes         no     yes      no
	work                       no      no       no     no       no      yes       yes   yes         no     yes      no
	preventive                 no      yes      no     yes      yes     yes       yes   yes         no     yes      no
	return                     no      no       no     no       no      yes       yes   yes         no     yes      no
	check-flight               no      no       no     yes      no      no        no    no          no     no       no
	correct                    no      no       no     no       no      yes       yes   yes         no     yes      no
	annual                     no      no       no     no       no      no        no    yes         no     yes      no
	hundred-hour               no      no       no     no       no      no        yes   yes         no     yes      no
	static-system-test         no      no       no     no       no      yes       yes   yes         no     yes      no
	altimeter-and-static-test  no      no       no     no       no      no        no    no          no     yes      no
	transponder-test           no      no       no     no       no      no        no    no          no     yes      no
`

// table reads such a table: row by row, the cell of each column.
func table(text string) (columns []string, rows map[string]map[string]string) {
	rows = map[string]map[string]string{}
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		cells := strings.Fields(line)
		if i == 0 {
			columns = cells[1:]
			continue
		}
		rows[cells[0]] = map[string]string{}
		for n, cell := range cells[1:] {
			rows[cells[0]][columns[n]] = cell
		}
	}
	return columns, rows
}

// everybody enrolls one of each set of certificates.
func (c *club) everybody() map[string]member {
	land := "airplane single-engine-land"
	stale := mechanicOf("airframe", "powerplant")
	stale.RecentFrom, stale.RecentUntil = "2025-01-01", "2026-01-01"
	authorization := techlog.Certificate{Kind: techlog.InspectionAuthorization, Until: "2027-03-31"}
	return map[string]member{
		"nobody": c.enroll("nobody"), "student": c.enroll("student", pilotOf("student")), "sport": c.enroll("sport", pilotOf("sport", land)),
		"private": c.enroll("private", pilotOf("private", land)), "glider": c.enroll("glider", pilotOf("private", "glider")),
		"airframe": c.enroll("airframe", mechanicOf("airframe")), "both": c.enroll("both", mechanicOf("airframe", "powerplant")),
		"authorized": c.enroll("authorized", mechanicOf("airframe", "powerplant"), authorization), "stale": c.enroll("stale", stale),
		"station":   c.enroll("station", techlog.Certificate{Kind: techlog.RepairStation, Ratings: []string{"airframe", "radio-class-3"}}),
		"repairman": c.enroll("repairman", techlog.Certificate{Kind: techlog.Repairman, Ratings: []string{"light-sport-maintenance"}, Trained: []string{land}}),
	}
}

// situation is a squawk as it stands somewhere in its life.
type situation struct {
	squawk techlog.Squawk
	work   techlog.ID // the signed work, if there is some
}

// live takes one squawk after another to every situation.
func (c *club) live(mechanic member) map[string]situation {
	acts := map[string]situation{}
	flown := actsOn(nil, techlog.ID{})["return"]
	flown.CheckFlightRequired = new(true)
	for i, name := range []string{"closed", "reported", "confirmed", "out-of-use", "deferred", "worked", "awaiting"} {
		filed := c.squawk("inoperative", "", "landing-light")
		s := situation{squawk: filed.Squawk}
		if name != "reported" {
			c.confirm(s.squawk.ID)
		}
		open := []string{}
		for n := 2; n <= i; n++ {
			open = append(open, labelOf(n))
		}
		whole := actsOn(open, techlog.ID{})
		steps := map[string][]string{
			"out-of-use": {"out-of-use"}, "deferred": {"out-of-use", "defer"}, "worked": {"work"}, "awaiting": {"work", "fly"}, "closed": {"work", "return"},
		}[name]
		whole["fly"] = flown
		for _, step := range steps {
			signed := c.sign(mechanic, s.squawk.ID, whole[step])
			if step == "work" {
				s.work = signed.Signature.ID
			}
		}
		acts[name] = s
	}
	return acts
}

// TestEverybodyInEverySituation puts every act, in every situation, to everybody.
func TestEverybodyInEverySituation(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	people := c.everybody()
	lives := c.live(people["both"])
	situations, when := table(whenTable)
	columns, who := table(whoTable)
	if len(people) != len(columns) || len(lives) != len(situations) {
		t.Fatalf("%d people, %d situations", len(people), len(lives))
	}
	tried := 0
	for act := range when {
		for _, at := range situations {
			s := lives[at]
			for _, name := range columns {
				tried++
				corrects := s.work
				if corrects.IsZero() {
					corrects = newID()
				}
				err := c.preview(people[name], s.squawk.ID, actsOn(c.besides(s.squawk), corrects)[act])
				want := when[act][at]
				switch {
				case want == "may":
					want = who[act][name]
				case want == "absent" && name == "nobody":
					want = "no"
				case want == "absent":
					want = string(techlog.KindNotFound)
				}
				if got := kindOf(t, err); got != want {
					t.Errorf("%s, %s, %s: %s, want %s (%v)", act, at, name, got, want, err)
				}
			}
		}
	}
	c.wait(24 * time.Hour) // what was deferred yesterday is inspected today, or not at all
	for _, act := range []string{"annual", "hundred-hour", "static-system-test", "altimeter-and-static-test", "transponder-test"} {
		for _, name := range columns {
			tried++
			a := actsOn(nil, techlog.ID{})[act]
			a.Completed = "2027-01-11"
			err := c.preview(people[name], techlog.ID{}, a)
			got, want := kindOf(t, err), who[act][name]
			if strings.HasPrefix(act, "annual") || strings.HasPrefix(act, "hundred") {
				want = "invalid" // something is still deferred
			}
			if got != want {
				t.Errorf("%s, %s: %s, want %s (%v)", act, name, got, want, err)
			}
		}
	}
	if tried < 700 {
		t.Errorf("only %d tried", tried)
	}
}

// TestWhoInspects asks the rows of inspections again, where nothing is deferred.
func TestWhoInspects(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	columns, who := table(whoTable)
	people := c.everybody()
	for _, act := range []string{"annual", "hundred-hour"} {
		for _, name := range columns {
			a := actsOn(nil, techlog.ID{})[act]
			if got := kindOf(t, c.preview(people[name], techlog.ID{}, a)); got != who[act][name] {
				t.Errorf("%s, %s: %s, want %s", act, name, got, who[act][name])
			}
		}
	}
}

// besides names the other open squawks of the aircraft.
func (c *club) besides(s techlog.Squawk) []string {
	all, err := c.store.Squawks(c.t.Context(), c.who.Organization, hangar.SquawkFilter{Aircraft: c.aircraft}, hangar.Page{Limit: 99})
	if err != nil {
		c.t.Fatal(err)
	}
	var labels []string
	for i := range all {
		if all[i].ID != s.ID && all[i].Open() {
			labels = append(labels, all[i].Label())
		}
	}
	slices.Sort(labels)
	return labels
}
