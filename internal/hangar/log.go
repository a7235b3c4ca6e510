package hangar

import (
	"context"
	"fmt"

	"tiedown/internal/audit"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Log is the store's log of what was entered, made so that an altered record shows: see package audit.
type Log interface {
	// LogState reads where an organization's log has come to; signer is the name of a key. Kind not-found if there is none.
	LogState(ctx context.Context, org techlog.ID, signer string) (LogState, error)
	// Vouched reads a record of a table with its last entry and the proof of it, all but the checkpoint, and the state of
	// the log that it is proved in. Kind not-found if there is no such record; an error if it is not as it was entered.
	Vouched(ctx context.Context, org techlog.ID, table string, key []any, signer string) (audit.Receipt, LogState, error)
	// KeepCheckpoint keeps what was signed, unless the same key has signed a checkpoint of that size before.
	KeepCheckpoint(ctx context.Context, org techlog.ID, k audit.Kept) error
}

// LogState is where a log has come to.
type LogState struct {
	Head   audit.Head
	Signed string // the checkpoint of just this size, by the key that was asked for; empty if there is none
}

// Receiptable is what receipts are given of: records that never change, and walkarounds as they stand, which a completed one
// does until a late report arrives.
type Receiptable string

// What receipts are given of.
const (
	ReceiptOfSquawkEntry   Receiptable = "squawk-entry" // an entry of a squawk's history, by the squawk and its number
	ReceiptOfDeferral      Receiptable = "deferral"
	ReceiptOfDetermination Receiptable = "determination" // one that was kept
	ReceiptOfSignature     Receiptable = "signature"
	ReceiptOfWalkaround    Receiptable = "walkaround"        // who walked, when, and what was left open
	ReceiptOfReport        Receiptable = "walkaround-report" // what a phone sent, by the walkaround and its number
)

// receiptTables says in which table each is.
var receiptTables = map[Receiptable]string{
	ReceiptOfSquawkEntry:   "squawk_history",
	ReceiptOfDeferral:      "deferral",
	ReceiptOfDetermination: "determination",
	ReceiptOfSignature:     "signature",
	ReceiptOfWalkaround:    "walkaround",
	ReceiptOfReport:        "walkaround_report",
}

// Receiptables lists what receipts are given of.
func Receiptables() []Receiptable {
	return []Receiptable{ReceiptOfSquawkEntry, ReceiptOfDeferral, ReceiptOfDetermination, ReceiptOfSignature, ReceiptOfWalkaround, ReceiptOfReport}
}

// numbered says whether such a record is one of several, by their numbers.
func (r Receiptable) numbered() bool { return r == ReceiptOfSquawkEntry || r == ReceiptOfReport }

// Receipt gives the signed receipt of a record, as text. number is that of an entry in a squawk's history or of a
// report, and zero for everything else. Kinds invalid (number), not-found.
func (s *Service) Receipt(ctx context.Context, who techlog.Principal, of Receiptable, record techlog.ID, number int) (string, error) {
	key := []any{[16]byte(record)}
	switch {
	case !of.numbered() && number != 0:
		return "", casefile.Faults{{
			Field: "number", Rule: "unwanted", Says: "only the entries of a squawk and the reports of a walkaround have numbers", Remedy: "leave the number out",
		}}
	case of.numbered() && number == 0:
		return "", casefile.Faults{{
			Field: "number", Rule: "required", Says: "it is not said which entry of the squawk, or which report", Remedy: "give its number, from 1",
		}}
	case number != 0:
		key = append(key, number)
	}
	receipt, state, err := s.log.Vouched(ctx, who.Organization, receiptTables[of], key, s.key.Public().Name())
	if err != nil {
		return "", err
	}
	if receipt.Checkpoint, err = s.seal(ctx, who.Organization, state); err != nil {
		return "", err
	}
	return receipt.Text()
}

// Checkpoint gives a signed checkpoint of the organization's log as it is now, for others to keep.
func (s *Service) Checkpoint(ctx context.Context, who techlog.Principal) (string, error) {
	state, err := s.log.LogState(ctx, who.Organization, s.key.Public().Name())
	if err != nil {
		return "", err
	}
	return s.seal(ctx, who.Organization, state)
}

// LogKey is the public key by which checkpoints and receipts are checked.
func (s *Service) LogKey() string { return s.key.Public().String() }

// SealLogs signs a checkpoint of every log that has grown since its last. It gives the number of those that had.
func (s *Service) SealLogs(ctx context.Context, keeper Keeper) (int, error) {
	organizations, err := keeper.Organizations(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, o := range organizations {
		state, err := s.log.LogState(ctx, o.ID, s.key.Public().Name())
		if err == nil && state.Signed == "" {
			n++
			_, err = s.seal(ctx, o.ID, state)
		}
		if err != nil {
			return n, fmt.Errorf("sign a checkpoint for %s: %w", o.Name, err)
		}
	}
	return n, nil
}

// seal gives the checkpoint of a log's state: the one that was signed before, or a new one, which is kept.
func (s *Service) seal(ctx context.Context, org techlog.ID, state LogState) (string, error) {
	if state.Signed != "" {
		return state.Signed, nil
	}
	c := audit.Checkpoint{Organization: org.String(), Size: state.Head.Size, Root: state.Head.Root(), At: s.now()}
	signed, err := s.key.Sign(c)
	if err != nil {
		return "", err
	}
	return signed, s.log.KeepCheckpoint(ctx, org, audit.Kept{Size: c.Size, Signer: s.key.Public().Name(), At: c.At, Signed: signed})
}
