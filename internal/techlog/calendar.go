package techlog

import "time"

// CalendarFeed is a calendar that programs subscribe to at a secret address. It shows what its maker may see, for as long as
// the maker is a member.
type CalendarFeed struct {
	ID       ID
	Name     string
	Aircraft ID // zero: the whole fleet
	Maker    ID
	MadeAt   time.Time
	Revoked  time.Time // zero: it has not been taken back
}
