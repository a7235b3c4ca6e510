package postgres

import (
	"maps"
	"slices"

	"github.com/jackc/pgx/v5/pgxpool"

	"tiedown/internal/hangar"
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

// LockOrder is the order in which a change takes the locks of its scope.
func LockOrder(scope hangar.Scope) []int { return (&change{scope: scope}).lockOrder() }

// HotStatements are those of the requests that come most often.
var HotStatements = map[string]string{
	"lock_aircraft":   lockAircraftRow,
	"state_version":   selectStateVersion,
	"configuration":   selectConfiguration,
	"open_squawks":    selectOpenSquawks,
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
	"certificates":    selectCertificatesOf,
	"standings":       selectStandingsOf,
	"signatures":      selectSignaturesOfSquawk,
}
