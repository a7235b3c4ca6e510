// Package storetest is the suite that every store of the hangar's records must pass.
//
// It owns what the ports promise, as tests over the ports alone: the same suite holds for a database and for anything
// that stands in for one. It does not own what only a database has, such as its catalogue or a hand on psql.
package storetest

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"reflect"
	"sync/atomic"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Open gives a test an empty store of its own.
type Open = func(t *testing.T) (hangar.Store, hangar.Keeper)

// Run holds a store against the suite.
func Run(t *testing.T, open Open) {
	for name, test := range map[string]func(*testing.T, *club){
		"Bases":                    testBases,
		"Aircraft":                 testAircraft,
		"Configurations":           testConfigurations,
		"Squawks":                  testSquawks,
		"Flights":                  testFlights,
		"NotFound":                 testNotFound,
		"Lists":                    testLists,
		"SquawkFilter":             testSquawkFilter,
		"FlightFilter":             testFlightFilter,
		"People":                   testPeople,
		"Tenancy":                  testTenancy,
		"Members":                  testMembers,
		"LastAdministrator":        testLastAdministrator,
		"AccessTokens":             testAccessTokens,
		"CalendarFeeds":            testCalendarFeeds,
		"FlightsBetween":           testFlightsBetween,
		"Touched":                  testTouched,
		"Blocks":                   testBlocks,
		"Airports":                 testAirports,
		"Shown":                    testShown,
		"SecurityEvents":           testSecurityEvents,
		"Snapshot":                 testSnapshot,
		"Survey":                   testSurvey,
		"SnapshotOfKnownPlan":      testSnapshotOfKnownPlan,
		"LockedSnapshot":           testLockedSnapshot,
		"Stale":                    testStale,
		"Taken":                    testTaken,
		"UnknownReferences":        testUnknownReferences,
		"SquawkNeedsItsEntry":      testSquawkNeedsItsEntry,
		"DeferralLaws":             testDeferralLaws,
		"Expected":                 testExpected,
		"OneOpenDeferral":          testOneOpenDeferral,
		"DeferralIsNeverChanged":   testDeferralIsNeverChanged,
		"Counters":                 testCounters,
		"Holds":                    testHolds,
		"HoldsOfAMovedFlight":      testHoldsOfAMovedFlight,
		"StaleAircraft":            testStaleAircraft,
		"FlightsAt":                testFlightsAt,
		"CompanyRules":             testCompanyRules,
		"Events":                   testEvents,
		"EventsAtOnce":             testEventsAtOnce,
		"Heed":                     testHeed,
		"Determinations":           testDeterminations,
		"Checklists":               testChecklists,
		"Walkarounds":              testWalkarounds,
		"Measured":                 testMeasured,
		"MeterBook":                testMeterBook,
		"EntriesAtOnce":            testEntriesAtOnce,
		"ReportsAtOnce":            testReportsAtOnce,
		"Photos":                   testPhotos,
		"Certificates":             testCertificates,
		"Standings":                testStandings,
		"Signatures":               testSignatures,
		"SignedSquawk":             testSignedSquawk,
		"NobodySignsWithout":       testNobodySignsWithout,
		"Answered":                 testAnswered,
		"FailedChange":             testFailedChange,
		"RefusedWrite":             testRefusedWrite,
		"PanickingChange":          testPanickingChange,
		"Interrupted":              testInterrupted,
		"NothingWantedNothingHeld": testNothingWantedNothingHeld,
		"LockOrder":                testLockOrder,
		"MovedBase":                testMovedBase,
		"Deadlock":                 testDeadlock,
		"EndlessConflict":          testEndlessConflict,
		"OneInstant":               testOneInstant,
		"LockedSnapshotIsFresh":    testLockedSnapshotIsFresh,
		"ConsecutiveNumbers":       testConsecutiveNumbers,
		"Replay":                   testReplay,
		"KeyScope":                 testKeyScope,
		"KeyOfAFailedRequest":      testKeyOfAFailedRequest,
		"Twins":                    testTwins,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			store, keeper := open(t)
			test(t, newClub(t, store, keeper))
		})
	}
}

// noon is the instant of most records, with as much precision as a store has to keep.
var noon = time.Date(2031, time.May, 4, 12, 0, 0, 123456000, time.UTC)

var lastID atomic.Uint64

// newID gives identifiers in the order of the calls, as the clock does in service.
func newID() techlog.ID {
	var id techlog.ID
	binary.BigEndian.PutUint64(id[8:], lastID.Add(1))
	id[6], id[8] = 0x70, 0x80 // version 7, and the variant of RFC 9562
	return id
}

// club is an organization with two bases.
type club struct {
	store  hangar.Store
	keeper hangar.Keeper
	org    techlog.ID
	token  techlog.ID
	base   techlog.Base
	other  techlog.Base
}

func newClub(t *testing.T, store hangar.Store, keeper hangar.Keeper) *club {
	t.Helper()
	c := &club{store: store, keeper: keeper, org: newID(), token: newID()}
	if err := keeper.AddOrganization(t.Context(), techlog.Organization{ID: c.org, Name: "Windsock Flyers"}); err != nil {
		t.Fatal(err)
	}
	c.base, c.other = newBase("N00A"), newBase("N00B")
	c.must(t, func(tx hangar.Tx) {
		tx.AddBase(c.base)
		tx.AddBase(c.other)
	})
	return c
}

// neighbor is another organization in the same store.
func (c *club) neighbor(t *testing.T) *club {
	t.Helper()
	return newClub(t, c.store, c.keeper)
}

// change runs a change that queues writes.
func (c *club) change(t *testing.T, queue func(tx hangar.Tx), lock ...hangar.Want) error {
	t.Helper()
	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon, Lock: lock},
		func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			queue(tx)
			return nil, nil
		})
	return err
}

// must runs a change that has to succeed.
func (c *club) must(t *testing.T, queue func(tx hangar.Tx), lock ...hangar.Want) {
	t.Helper()
	if err := c.change(t, queue, lock...); err != nil {
		t.Fatalf("the change failed: %v", err)
	}
}

// addAircraft puts one more aircraft on record.
func (c *club) addAircraft(t *testing.T) techlog.Aircraft {
	t.Helper()
	a := newAircraft(c.base.ID)
	c.must(t, func(tx hangar.Tx) { queueAircraft(tx, a) })
	return a
}

func queueAircraft(tx hangar.Tx, a techlog.Aircraft) {
	tx.AddAircraft(a)
	tx.AddConfiguration(revisionOf(a))
}

// addSquawk puts one more squawk on record, with its first entry.
func (c *club) addSquawk(t *testing.T, s techlog.Squawk) techlog.Squawk {
	t.Helper()
	c.must(t, func(tx hangar.Tx) { queueSquawk(tx, s) })
	return s
}

func queueSquawk(tx hangar.Tx, s techlog.Squawk) {
	tx.AddSquawk(s)
	tx.AddHistory(entryOf(s, techlog.StepReport))
}

// addFlight puts one more flight on record.
func (c *club) addFlight(t *testing.T, f techlog.Flight) techlog.Flight {
	t.Helper()
	c.must(t, func(tx hangar.Tx) { tx.AddFlight(f) })
	return f
}

// wantKind fails unless the error is of a kind.
func wantKind(t *testing.T, what string, err error, kind techlog.Kind) {
	t.Helper()
	if err == nil || techlog.KindOf(err) != kind {
		t.Errorf("%s: %v, want an error of kind %s", what, err, kind)
	}
}

// get fails the test on an error.
func get[T any](t *testing.T) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// same compares records by what they say: documents as JSON, instants as instants.
func same(t *testing.T, what string, got, want any) {
	t.Helper()
	g, w := asJSON(t, got), asJSON(t, want)
	if g != w {
		t.Errorf("%s:\n got %s\nwant %s", what, g, w)
	}
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// full fails unless every field of a record is filled, so that a field which is added later is tested at once.
func full(t *testing.T, record any) {
	t.Helper()
	v := reflect.ValueOf(record)
	for i := range v.NumField() {
		if v.Field(i).IsZero() {
			t.Errorf("the sample %s leaves %s empty, so nothing tells whether it is kept", v.Type(), v.Type().Field(i).Name)
		}
	}
}

// ids are the identifiers of records.
func ids[T any](records []T, id func(T) techlog.ID) []techlog.ID {
	list := make([]techlog.ID, len(records))
	for i := range records {
		list[i] = id(records[i])
	}
	return list
}
