// Package hangar holds the use cases: filing a squawk, planning a flight, keeping the fleet, asking for a status.
//
// It owns who may do what when, one instant and one transaction a change, and that every change re-judges the flights
// it can touch before it is acknowledged. It does not own SQL, HTTP or any rule of airworthiness.
package hangar

import (
	"sync"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"tiedown/internal/airworthiness"
	"tiedown/internal/audit"
	"tiedown/internal/techlog"
	"tiedown/internal/upkeep"
	"tiedown/internal/walkaround"
)

// Book is the regulation that the service judges by.
type Book struct {
	Rules  *airworthiness.Ruleset
	Upkeep *upkeep.Rules // what comes due
	Digest string
}

// Service is the use cases. It is safe for concurrent use.
type Service struct {
	store   Store
	prover  Prover
	files   Files
	log     Log
	key     audit.Key
	sealer  Sealer
	targets Targets
	book    Book
	now     func() time.Time
	newID   func() techlog.ID

	books    *lru.Cache[string, Book] // of organizations with rules of their own, by digest
	plans    *lru.Cache[techlog.ID, compiled]
	statuses *lru.Cache[techlog.ID, rendered]
	zones    sync.Map // name -> *time.Location: as many as bases have

	checklists *lru.Cache[checklistKey, walkaround.Composed]
	darkroom   chan struct{} // full while as many pictures are worked on as may be
}

// Settings are what a service is made of.
type Settings struct {
	Store  Store
	Prover Prover // nil: nobody signs
	Book   Book
	Now    func() time.Time  // the clock
	NewID  func() techlog.ID // gives identifiers in the order of time

	Files Files // where photos are kept; a service that is not asked for any needs none

	// What receipts and checkpoints are made of; a service that is not asked for any needs neither.
	Log    Log
	LogKey audit.Key

	// What webhooks are made with; a service that is not asked for any needs neither.
	Sealer  Sealer
	Targets Targets
}

// Aircraft whose compiled plan and rendered status are kept in memory: some 20 kB each.
const cachedAircraft = 16384

// Organizations' books that are kept in memory.
const cachedBooks = 1024

// Checklists of walkarounds that are kept in memory: some 40 kB each.
const cachedChecklists = 2048

// New makes the service.
func New(s Settings) *Service {
	plans, err := lru.New[techlog.ID, compiled](cachedAircraft)
	if err != nil {
		panic(err) // the size is a constant
	}
	books, err := lru.New[string, Book](cachedBooks)
	if err != nil {
		panic(err)
	}
	statuses, err := lru.New[techlog.ID, rendered](cachedAircraft)
	if err != nil {
		panic(err)
	}
	checklists, err := lru.New[checklistKey, walkaround.Composed](cachedChecklists)
	if err != nil {
		panic(err)
	}
	if s.Prover == nil {
		s.Prover = nobody{}
	}
	return &Service{
		store: s.Store, prover: s.Prover, files: s.Files, log: s.Log, key: s.LogKey, sealer: s.Sealer, targets: s.Targets, book: s.Book, now: s.Now, newID: s.NewID,
		books: books, plans: plans, statuses: statuses, checklists: checklists, darkroom: make(chan struct{}, darkroom),
	}
}

// caution is what every answer says.
func (s *Service) caution() string { return s.book.Rules.Term(airworthiness.TermCaution) }

// Book is the regulation that the service judges by.
func (s *Service) Book() Book { return s.book }
