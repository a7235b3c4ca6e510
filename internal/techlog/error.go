package techlog

import (
	"errors"
	"fmt"
	"time"

	"tiedown/internal/casefile"
)

// Kind says what went wrong, for machines. Everything that has no kind is internal: its text stays in the log.
type Kind string

// The kinds of error.
const (
	KindInvalid      Kind = "invalid"      // the input breaks a rule; the faults name field, rule and remedy
	KindNotFound     Kind = "not-found"    // there is no such thing in this organization
	KindConflict     Kind = "conflict"     // it contradicts what is already on record
	KindStale        Kind = "stale"        // it was changed by somebody else meanwhile
	KindReused       Kind = "key-reused"   // the idempotency key was used for another request
	KindUnauthorized Kind = "unauthorized" // nobody is known to be asking
	KindForbidden    Kind = "forbidden"    // whoever asks may not do this
	KindUnproven     Kind = "unproven"     // whoever asks has not proved to be the one who signs
	KindRateLimited  Kind = "rate-limited" // too many wrong attempts; the words say when to try again
	KindUnavailable  Kind = "unavailable"  // the database does not answer; the words say whether anything may have been written
)

// Kinds lists every kind.
func Kinds() []Kind {
	return []Kind{
		KindInvalid, KindNotFound, KindConflict, KindStale, KindReused, KindUnauthorized, KindForbidden, KindUnproven, KindRateLimited,
		KindUnavailable,
	}
}

// Error is an error that the person or program that asked can do something about.
type Error struct {
	Kind  Kind
	Says  string
	Cause error         // for the log; may be nil
	After time.Duration // of kind rate-limited: when to try again

	Rows    []Reason // of the regulation, that say so or leave it open
	Missing []string // facts that are not known and would settle it
}

func (e *Error) Error() string { return fmt.Sprintf("%s: %s", e.Kind, e.Says) }

// Unwrap returns what lies behind the error.
func (e *Error) Unwrap() error { return e.Cause }

// Errorf makes an Error of a kind.
func Errorf(kind Kind, format string, args ...any) *Error {
	return &Error{Kind: kind, Says: fmt.Sprintf(format, args...)}
}

// KindOf returns the kind of an error, or "" for an internal one. Faults of an input are of kind invalid.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	var f casefile.Faults
	if errors.As(err, &f) {
		return KindInvalid
	}
	return ""
}
