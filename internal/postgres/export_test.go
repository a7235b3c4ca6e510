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
