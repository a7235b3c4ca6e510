package postgres

import (
	"context"
	"maps"
	"slices"

	"github.com/jackc/pgx/v5/pgxpool"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// What the tests look at beside the ports.

// Pool is the store's connections.
func (s *Store) Pool() *pgxpool.Pool { return s.pool }

// Meanings lists the constraints whose failure has a meaning.
func Meanings() []string { return slices.Sorted(maps.Keys(meanings)) }

// AppRole is the role of a program whose login is exempt.
const AppRole = appRole

var (
	Translate  = translate
	Opaque     = opaque
	Migrator   = migrator
	LatestStep = latestStep
	ErrAgain   = errAgain
	Tables     = tables
)

// Covered tells for every table that the log vouches for which columns a digest covers, and of which type each is taken
// to be.
func Covered() map[string]map[string]string {
	covered := map[string]map[string]string{}
	for _, l := range ledgers {
		covered[l.table] = map[string]string{}
		for _, c := range l.columns {
			covered[l.table][c.source()] = c.kind.sql
		}
	}
	return covered
}

// WrittenWithLater writes down a row with a column, and a version, that were added when such rows had been entered.
func WrittenWithLater(scopes []string, version int) (string, error) {
	l := ledgerOf("sample", named("id", uuids), later(covers("scopes", lists), "[]"), later(counted(), "1"))
	r, _, _, err := l.record([]any{[16]byte{1}, [16]byte{2}, scopes, version})
	return r.Text(), err
}

// Named are the columns that name a record of a table.
func Named(table string) []string {
	l, _ := ledgerNamed(table)
	var names []string
	for _, c := range l.columns {
		if c.part == key {
			names = append(names, c.source())
		}
	}
	return names
}

// LockOrder is the order in which a change takes the locks of its scope.
func LockOrder(scope hangar.Scope) []int { return (&change{scope: scope}).lockOrder() }

// HotStatements are those of the requests that come most often.
var HotStatements = map[string]string{
	"lock_aircraft":   lockAircraftRow,
	"state_version":   selectStateVersion,
	"configuration":   selectConfiguration,
	"open_squawks":    selectOpenSquawks,
	"survey_squawks":  surveySquawks,
	"survey_flights":  surveyFlights,
	"survey_blocks":   surveyBlocks,
	"survey_service":  surveyService,
	"survey_aircraft": surveyAircraft,
	"survey_bases":    surveyBases,
	"fleet_ids":       selectFleetIDs,
	"planned_flights": selectPlannedFlights,
	"earlier_answer":  selectAnswer,
	"set_holds":       setHolds,
	"count_up":        countUpAircraft,
	"update_squawk":   updateSquawk,
	"update_flight":   updateFlight,
	"squawk":          selectSquawk,
	"history":         selectHistory,
	"flight":          selectFlight,
	"to_come":         selectStaleAircraft,
	"log_head":        selectHead,
	"entry_of":        selectEntryOf,
	"log_nodes":       selectNodes,
	"signed":          selectSigned,
	"token":           selectToken,
	"calendar_feed":   selectLiveFeed,
	"called_off":      selectCalledOff,
	"blocks":          selectStandingBlocks,
	"series":          selectSeries,
	"shown":           selectShown,
	"session":         selectSessionByDigest,
	"credentials":     selectCredentialsByEmail,
	"certificates":    selectCertificatesOf,
	"standings":       selectStandingsOf,
	"signatures":      selectSignaturesOfSquawk,

	"lock_walkaround":   lockWalkaround,
	"reports":           selectReports,
	"filed":             selectFiled,
	"book":              selectBookFor,
	"checklist":         selectChecklist,
	"update_walkaround": updateWalkaround,
	"measured":          selectMeasured,
	"in_service":        selectInService,
	"service_book":      selectServiceBook,
	"stamp":             selectStamp,

	"claim_notes": claimNotes,
	"settle_note": settleNote,
	"stop_link":   selectStopLink,
	"last_digest": selectLastDigest,
	"warned":      selectWarned,
	"preference":  selectPreference,

	"photo":                selectPhoto,
	"photos_of_squawk":     countPhotosWhere + ` AND ` + ofSquawk + `$2)`,
	"photos_of_walkaround": countPhotosOfWalkaround,
	"content":              selectContent,
	"content_in_use":       selectContentInUse,
	"drop_content":         dropContent,
}

// Bell is what tells the programs on a database of new events.
type Bell struct{ *bell }

// NewBell makes one that tells through send.
func NewBell(send func(context.Context, []techlog.ID) error) Bell { return Bell{newBell(send)} }

// Ring has it told of an organization.
func (b Bell) Ring(org techlog.ID) { b.ring(org) }

// Wait waits until it has told everything.
func (b Bell) Wait() { b.idle.Wait() }
