package postgres

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// SQLSTATE codes that mean something here. Those of class TD are our own, raised by the function expect. TD003 of
// append_log is not among them: that an organization has no log is a mistake of ours.
const (
	serializationFailure = "40001"
	deadlockDetected     = "40P01"
	undefinedTable       = "42P01"
	queryCanceled        = "57014"
	changedMeanwhile     = "TD001" // an update found another version than it had to
	movedMeanwhile       = "TD002" // what was read without a lock is no longer so: run the change again
	nothingThere         = "TD003" // there is nothing that could be changed so
)

// Classes of SQLSTATE that say the database cannot work now, whatever it is asked.
var troubledClasses = []string{
	"08",    // connection exception
	"53",    // insufficient resources
	"57P",   // operator intervention: shutdown, crash, starting up
	"58",    // system error
	"25P03", // the session was idle in a transaction for too long
}

// errAgain marks an error after which the whole change may simply be run again.
var errAgain = errors.New("run again")

// translate turns an error of the driver into one that the hangar knows. What is none of the driver's passes through;
// what has no kind comes out as text, so that no type of the driver leaves this package.
func translate(err error) error {
	var known *techlog.Error
	var faults casefile.Faults
	var pg *pgconn.PgError
	switch {
	case err == nil || errors.As(err, &known) || errors.As(err, &faults) || errors.Is(err, errAgain):
		return err
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("the store was interrupted: %w", context.Canceled)
	case errors.As(err, &pg):
		return translateAnswer(pg)
	case isTrouble(err):
		return unavailable(err)
	default:
		return fmt.Errorf("the store: %w", opaque(err))
	}
}

// translateAnswer reads what the server said.
func translateAnswer(pg *pgconn.PgError) error {
	if pg.ConstraintName != "" {
		if m, ok := meanings[pg.ConstraintName]; ok {
			return m.error(opaque(pg))
		}
	}
	switch pg.Code {
	case serializationFailure, deadlockDetected, movedMeanwhile:
		return fmt.Errorf("%w: %w", errAgain, opaque(pg))
	case changedMeanwhile:
		return techlog.Errorf(techlog.KindStale, "it was changed meanwhile; read it again")
	case nothingThere:
		return notFound("record")
	case queryCanceled:
		return unavailable(pg)
	}
	for _, class := range troubledClasses {
		if strings.HasPrefix(pg.Code, class) {
			return unavailable(pg)
		}
	}
	return fmt.Errorf("the store: %w", opaque(pg))
}

// isTrouble reports whether an error comes from the connection and not from what was asked.
func isTrouble(err error) bool {
	var connect *pgconn.ConnectError
	var network net.Error
	return errors.As(err, &connect) || errors.As(err, &network) || errors.Is(err, context.DeadlineExceeded) ||
		errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed) ||
		errors.Is(err, pgconn.ErrConnClosed) || pgconn.SafeToRetry(err) || pgconn.Timeout(err)
}

func unavailable(cause error) error {
	return &techlog.Error{Kind: techlog.KindUnavailable, Says: "the database does not answer; send the request again", Cause: opaque(cause)}
}

// notFound says that there is no such record in this organization.
func notFound(what string) error {
	return techlog.Errorf(techlog.KindNotFound, "there is no such %s", what)
}

// absent turns the absence of a row into an error of kind not-found.
func absent(err error, what string) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return notFound(what)
	}
	return translate(err)
}

func isCode(err error, code string) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == code
}

// opaque keeps an error's words and drops its types, save that it still tells a deadline and an interruption.
func opaque(err error) error {
	if err == nil {
		return nil
	}
	for _, known := range []error{context.Canceled, context.DeadlineExceeded} {
		if errors.Is(err, known) {
			return opaqueError{err.Error(), known}
		}
	}
	return errors.New(err.Error())
}

type opaqueError struct {
	says string
	is   error
}

func (e opaqueError) Error() string { return e.says }
func (e opaqueError) Unwrap() error { return e.is }
