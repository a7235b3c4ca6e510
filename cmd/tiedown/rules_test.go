package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/testrig/pgtest"
)

// tablesWith writes the embedded tables into a folder, one of them changed.
func tablesWith(t *testing.T, table, old, changed string) string {
	t.Helper()
	dir := t.TempDir()
	for _, name := range regulation.TableNames() {
		raw, err := fs.ReadFile(regulation.Tables(), name+".csv")
		if err != nil {
			t.Fatal(err)
		}
		if name == table {
			if !bytes.Contains(raw, []byte(old)) {
				t.Fatalf("table %s does not hold %q", table, old)
			}
			raw = bytes.Replace(raw, []byte(old), []byte(changed), 1)
		}
		if err := os.WriteFile(filepath.Join(dir, name+".csv"), raw, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestRulesAreFiltered(t *testing.T) {
	t.Parallel()
	ids := func(args ...string) []string {
		code, out, stderr := call(t, "", append([]string{"rules", "list", "--csv"}, args...))
		rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if code != 0 || err != nil {
			t.Fatalf("%v: exit %d, %v, %s", args, code, err, stderr)
		}
		var ids []string
		for _, row := range rows[1:] {
			ids = append(ids, row[1])
		}
		return ids
	}
	all := ids()
	for _, c := range []struct {
		args []string
		want string // a row that is among them
		not  string // a row that is not
	}{
		{[]string{"--table", "interactions"}, "two-navigation-receivers", "91.205-b-1"},
		{[]string{"--status", "memory"}, "car3-airspeed", "91.205-b-1"},
		{[]string{"--item", "landing-light"}, "landing-and-taxi-light", "91.205-b-1"},
		{[]string{"--item", "elt"}, "elt-removed", "91.205-c-4"},
		{[]string{"--cites", "91.207"}, "elt-training", "91.205-b-1"},
		{[]string{"--table", "reliefs", "--cites", "91.207"}, "elt-training", "91.207-a"},
	} {
		found := ids(c.args...)
		if !contains(found, c.want) || contains(found, c.not) || len(found) >= len(all) {
			t.Errorf("%v: %v", c.args, found)
		}
	}
	if none := ids("--table", "wishes"); len(none) != 0 {
		t.Errorf("of no table: %v", none)
	}
}

func contains(all []string, one string) bool {
	for _, s := range all {
		if s == one {
			return true
		}
	}
	return false
}

func TestARuleIsExplainedWhole(t *testing.T) {
	t.Parallel()
	for id, want := range map[string][]string{
		"91.205-c-4": {
			"[requirements]", "14 CFR 91.205(c)(4)", "verified; eCFR title 14 issue 2026-08-24", "always", "1 of Landing light (landing-light)",
			"the aircraft has an engine", "evening to morning civil twilight", "told in", "lights.scenario: ",
		},
		"91.207-a":                 {"relieved by   elt-ferry, elt-training, ", "elt-removed"},
		"elt-training":             {"relieves      91.207-a, 91.205-b-15", "limited to    only training entirely within 50 NM"},
		"91.225-a":                 {"in force      from 2020-01-02"},
		"hazard-set":               {"[procedure]", "step          hazard", "otherwise     defer-first", "must          the determination was made in view of every other"},
		"two-navigation-receivers": {"first         VOR receiver (vor-receiver) or ", "second        ", "memory; from memory"},
		"transponder-absent":       {"not so: transponder is installed"},
	} {
		code, out, stderr := call(t, "", []string{"rules", "explain", "--stories", "../../testdata/scenarios", id})
		if code != 0 || stderr != "" {
			t.Errorf("%s: exit %d, %s", id, code, stderr)
		}
		for _, words := range want {
			if !strings.Contains(out, words) {
				t.Errorf("%s does not say %q:\n%s", id, words, out)
			}
		}
	}
	if code, out, _ := call(t, "", []string{"rules", "explain", "--stories", "no-such-folder", "91.205-c-4"}); code != 0 || strings.Contains(out, "told in") {
		t.Errorf("without stories: exit %d\n%s", code, out)
	}
	if code, _, stderr := call(t, "", []string{"rules", "explain", "91.205-z"}); code != exitUsage || !strings.Contains(stderr, `no row "91.205-z"`) {
		t.Errorf("no such row: exit %d, %s", code, stderr)
	}
	versions := tablesWith(t, "requirements", "airspeed-indicator,1,,powered certificate:standard,An airspeed indicator.,verified,eCFR title 14 issue 2026-08-24,,",
		"airspeed-indicator,1,,powered certificate:standard,An airspeed indicator.,verified,eCFR title 14 issue 2026-08-24,,2028-01-01\n"+
			"91.205-b-1,14 CFR 91.205(b)(1),airspeed-indicator,2,,powered certificate:standard,Two.,verified,eCFR title 14 issue 2026-08-24,2028-01-01,")
	code, out, stderr := call(t, "", []string{"rules", "explain", "--book", versions, "91.205-b-1"})
	if code != 0 || !strings.Contains(out, "before 2028-01-01") || !strings.Contains(out, "from 2028-01-01") {
		t.Errorf("two versions: exit %d, %s\n%s", code, stderr, out)
	}
}

func TestTablesAreChecked(t *testing.T) {
	t.Parallel()
	sound := tablesWith(t, "steps", "The pilot in command", "The pilot in command himself")
	if code, out, stderr := call(t, "", []string{"rules", "check", sound}); code != 0 || !strings.Contains(out, "sound, ") {
		t.Errorf("sound tables: exit %d, %s%s", code, out, stderr)
	}
	broken := tablesWith(t, "requirements", "night for-hire,", "night for-fire,")
	raw, err := os.ReadFile(filepath.Join(broken, "requirements.csv"))
	if err != nil {
		t.Fatal(err)
	}
	raw = bytes.Replace(raw, []byte("altimeter,1,"), []byte("altimeter,0,"), 1)
	if err := os.WriteFile(filepath.Join(broken, "requirements.csv"), raw, 0o600); err != nil {
		t.Fatal(err)
	}
	code, _, stderr := call(t, "", []string{"rules", "check", broken})
	if code != exitFailed || !strings.Contains(stderr, `"for-fire"`) || !strings.Contains(stderr, `quantity "0"`) {
		t.Errorf("two faults: exit %d, %s", code, stderr)
	}
	code, _, stderr = call(t, "", []string{"rules", "check", t.TempDir()})
	for _, name := range regulation.TableNames() {
		if code != exitFailed || !strings.Contains(stderr, "table "+name+": ") {
			t.Errorf("an empty folder: exit %d, %s does not name the table %s", code, stderr, name)
		}
	}
	if code, _, _ := call(t, "", []string{"rules", "check"}); code != exitUsage {
		t.Errorf("no folder: exit %d", code)
	}
}

// TestADifferenceOfBooksIsTold judges the written cases by the book and by one in which the landing light is wanted at
// night whether for hire or not: the case of the private night flight changes, and the exit says so.
func TestADifferenceOfBooksIsTold(t *testing.T) {
	t.Parallel()
	const cases = "../../testdata/cases"
	if code, out, stderr := call(t, "", []string{"rules", "diff", "--cases", cases, "current", "current"}); code != 0 || !strings.Contains(out, " 0 verdicts change, 0 more") {
		t.Errorf("the book and itself: exit %d, %s%s", code, out, stderr)
	}
	stricter := tablesWith(t, "requirements", "landing-light,1,,powered certificate:standard night for-hire,", "landing-light,1,,powered certificate:standard night,")
	code, out, stderr := call(t, "", []string{"rules", "diff", "--cases", cases, "current", stricter})
	if code != exitFailed || stderr != "" || !strings.Contains(out, "trainer-landing-light-night-private.json: clear -> grounded\n  + squawk landing-light: 91.205-c-4 breached, 14 CFR 91.205(c)(4)\n") {
		t.Errorf("exit %d, %s\n%s", code, stderr, out)
	}
	if code, back, _ := call(t, "", []string{"rules", "diff", "--cases", cases, stricter, "current"}); code != exitFailed || !strings.Contains(back, "trainer-landing-light-night-private.json: grounded -> clear\n  - squawk") {
		t.Errorf("the other way: exit %d\n%s", code, back)
	}
	for name, args := range map[string][]string{
		"one book":       {"--cases", cases, "current"},
		"nothing":        {"current", "current"},
		"no such folder": {"--cases", cases, "current", "no-such-folder"},
		"no cases":       {"--cases", t.TempDir(), "current", "current"},
		"broken tables":  {"--cases", cases, "current", tablesWith(t, "steps", "pilot,", "pylot,")},
	} {
		if code, out, stderr := call(t, "", append([]string{"rules", "diff"}, args...)); code == 0 || stderr == "" {
			t.Errorf("%s: exit %d, %s%s", name, code, out, stderr)
		}
	}
}

// TestADifferenceOfAircraftIsTold judges the case of the private night flight with the trainer and with one whose list
// wants the landing light.
func TestADifferenceOfAircraftIsTold(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("../../testdata/cases/trainer-landing-light-night-private.json")
	if err != nil {
		t.Fatal(err)
	}
	c, err := casefile.Decode(raw)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(name string, v any) string {
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), raw, 0o600); err != nil {
			t.Fatal(err)
		}
		return filepath.Join(dir, name)
	}
	was := write("was.aircraft", c.Aircraft)
	write("case.json", c)
	c.Aircraft.Configuration.EquipmentList.Rows = append(c.Aircraft.Configuration.EquipmentList.Rows, casefile.OwnRow{Item: "landing-light", Quantity: 1})
	is := write("is.aircraft", c.Aircraft)
	if code, out, stderr := call(t, "", []string{"rules", "diff", "--aircraft", "--cases", dir, was, was}); code != 0 {
		t.Errorf("the same aircraft: exit %d, %s%s", code, out, stderr)
	}
	code, out, stderr := call(t, "", []string{"rules", "diff", "--aircraft", "--cases", dir, was, is})
	if code != exitFailed || !strings.Contains(out, "case.json: clear -> grounded\n  + squawk landing-light: own:equipment-list breached") {
		t.Errorf("exit %d, %s\n%s", code, stderr, out)
	}
	c.Aircraft.Configuration.Units = nil
	bare := write("bare.aircraft", c.Aircraft)
	if code, out, _ := call(t, "", []string{"rules", "diff", "--aircraft", "--cases", dir, was, bare}); code != exitFailed || !strings.Contains(out, "case.json: clear -> cannot be judged\n  ! ") {
		t.Errorf("a case that the other aircraft can't have: exit %d\n%s", code, out)
	}
	if code, _, stderr := call(t, "", []string{"rules", "diff", "--aircraft", "--cases", dir, was, write("x", map[string]int{"wings": 2})}); code != exitFailed || !strings.Contains(stderr, "wings") {
		t.Errorf("a file that is no aircraft: exit %d, %s", code, stderr)
	}
}

// TestPlannedFlightsAreJudgedByTwoBooks looks at the records of the demo club, which stay as they are.
func TestPlannedFlightsAreJudgedByTwoBooks(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	settings := []string{"TIEDOWN_DATABASE_URL=" + url, "TIEDOWN_STATE_DIR=" + stateDir(t)}
	p := program{args: nil, env: settings, in: strings.NewReader(""), out: &strings.Builder{}, err: &strings.Builder{}}
	config, err := p.config()
	if err != nil {
		t.Fatal(err)
	}
	h, err := p.open(t.Context(), config)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.demo(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := h.close(); err != nil {
		t.Fatal(err)
	}
	code, out, stderr := call(t, "", []string{"rules", "diff", "current", "current"}, settings...)
	if code != 0 || !strings.Contains(out, " 0 verdicts change") || strings.HasPrefix(out, "0 flights") {
		t.Errorf("the book and itself: exit %d, %s%s", code, out, stderr)
	}
	stricter := tablesWith(t, "procedure", "hazard-set,hazard,14 CFR 91.213(d)(4),hazard-determined,hazard-considered,defer-first", "hazard-set,hazard,14 CFR 91.213(d)(4),hazard-determined,works:autopilot,defer-first")
	code, out, stderr = call(t, "", []string{"rules", "diff", "current", stricter}, settings...)
	if code != exitFailed || !strings.Contains(out, "N034TW, ") || !strings.Contains(out, "Cross-country at 9,000 ft: clear -> defer-first\n  + squawk 00001: hazard-set undone") || strings.Contains(out, "N012TW, ") {
		t.Errorf("exit %d, %s\n%s", code, stderr, out)
	}
	if code, out, _ := call(t, "", []string{"rules", "diff", "--registration", "N005TW", "current", stricter}, settings...); code != 0 || strings.HasPrefix(out, "0 flights") {
		t.Errorf("of the glider alone: exit %d\n%s", code, out)
	}

	address, err := readOnly(url)
	if err != nil {
		t.Fatal(err)
	}
	store, err := postgres.Open(t.Context(), postgres.Config{URL: address})
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	clubs, err := store.Organizations(t.Context())
	if err != nil || len(clubs) != 1 {
		t.Fatalf("%v, %v", clubs, err)
	}
	clubs[0].ID = newID()
	if err := store.AddOrganization(t.Context(), clubs[0]); err == nil {
		t.Error("what only looks can write")
	}
	if code, _, stderr := call(t, "", []string{"rules", "diff", "current", "current"}, "TIEDOWN_STATE_DIR="+stateDir(t)); code != exitFailed || !strings.Contains(stderr, "no database has been served") {
		t.Errorf("an empty state folder: exit %d, %s", code, stderr)
	}
}
