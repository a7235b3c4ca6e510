package techlog

import "time"

// BlockKind is why an aircraft is blocked.
type BlockKind string

// The kinds of block.
const (
	BlockedForMaintenance BlockKind = "maintenance"
	BlockedAway           BlockKind = "away"
	BlockedReserved       BlockKind = "reserved"
	BlockedOtherwise      BlockKind = "other"
)

// BlockKinds lists every kind.
func BlockKinds() []BlockKind {
	return []BlockKind{BlockedForMaintenance, BlockedAway, BlockedReserved, BlockedOtherwise}
}

// Block keeps an aircraft from flying for a time because somebody says so, whatever its state: a flight that overlaps it is
// held. It changes no verdict.
type Block struct {
	ID        ID
	Aircraft  ID
	From      time.Time
	Until     time.Time // zero: until further notice
	Kind      BlockKind
	Words     string
	By        string // who made it
	At        time.Time
	Cancelled bool
	Version   int
}

// Holds reports whether the block overlaps the window of a flight, in the air or between its legs.
func (b *Block) Holds(f *Flight) bool {
	return !b.Cancelled && b.From.Before(f.Arrives) && (b.Until.IsZero() || b.Until.After(f.Departs))
}

// BlocksOn lists the blocks that hold a flight, in their order; nil if none does.
func BlocksOn(f *Flight, blocks []Block) []ID {
	var ids []ID
	for i := range blocks {
		if blocks[i].Holds(f) {
			ids = append(ids, blocks[i].ID)
		}
	}
	return ids
}

// Shown records that somebody was shown what holds a flight, or limits it. That lifts nothing.
type Shown struct {
	ID      ID
	Flight  ID
	Person  ID     // a member
	Name    string // of that person, as it was
	At      time.Time
	By      string // who says so
	Verdict string
	Shown   string // what was shown: JSON, letter by letter
}
