package hangar

import (
	"context"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// BlockPlan is for how long an aircraft is to be kept from flying, and why.
type BlockPlan struct {
	From  time.Time
	Until time.Time // zero: until further notice
	Kind  techlog.BlockKind
	Words string
}

// BlockedAircraft is a block with the flights that it holds or releases.
type BlockedAircraft struct {
	Block   techlog.Block
	Changes []techlog.HoldChange
}

func (p *BlockPlan) check(at time.Time) error {
	var bad casefile.Faults
	checkWords(p.Words, &bad)
	if !slices.Contains(techlog.BlockKinds(), p.Kind) {
		bad.Add("kind", "known-kind", fmt.Sprintf("%q is no kind of block", p.Kind), "use maintenance, away, reserved or other")
	}
	switch {
	case p.Until.IsZero():
	case !p.Until.After(p.From):
		bad.Add("until", "after-from", "the block ends before it begins", "give an end after the beginning, or none")
	case !p.Until.After(at):
		bad.Add("until", "future", "the block has already ended", "give an end that is to come, or none")
	}
	return bad.Err()
}

// Blocks lists the blocks of an aircraft. Kind not-found (the aircraft).
func (s *Service) Blocks(ctx context.Context, who techlog.Principal, f BlockFilter, p Page) ([]techlog.Block, error) {
	if _, err := s.store.StateVersion(ctx, who.Organization, f.Aircraft); err != nil {
		return nil, err
	}
	return s.store.Blocks(ctx, who.Organization, f, p)
}

// Block shows one block.
func (s *Service) Block(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.Block, error) {
	return s.store.Block(ctx, who.Organization, id)
}

// BlockAircraft keeps an aircraft from flying for a time, and holds whatever is planned in it. Kinds forbidden, invalid,
// not-found.
func (s *Service) BlockAircraft(ctx context.Context, who techlog.Principal, aircraft techlog.ID, p BlockPlan, once *Once, render Render[BlockedAircraft]) ([]byte, error) {
	if err := who.Require(techlog.KeepBlocks); err != nil {
		return nil, err
	}
	at := s.now()
	if err := p.check(at); err != nil {
		return nil, err
	}
	id := s.newID()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(aircraft, at)}}
	return s.store.Change(ctx, scope, func(_ context.Context, tx Tx) ([]byte, error) {
		b := techlog.Block{
			ID: id, Aircraft: aircraft, From: p.From, Until: p.Until, Kind: p.Kind, Words: p.Words, By: who.Name, At: at, Version: 1,
		}
		tx.AddBlock(b)
		return s.blocked(tx, b, at, "block.made", render)
	})
}

// ChangeBlock replaces what is said of a block. Kinds forbidden, invalid, not-found, stale; conflict if it was cancelled.
func (s *Service) ChangeBlock(ctx context.Context, who techlog.Principal, id techlog.ID, version int, p BlockPlan, once *Once, render Render[BlockedAircraft]) ([]byte, error) {
	return s.alterBlock(ctx, who, id, version, "block.changed", once, render, func(b *techlog.Block, at time.Time) error {
		b.From, b.Until, b.Kind, b.Words = p.From, p.Until, p.Kind, p.Words
		return p.check(at)
	})
}

// CancelBlock takes a block back, and releases what it held. Kinds forbidden, not-found, stale; conflict if it was cancelled.
func (s *Service) CancelBlock(ctx context.Context, who techlog.Principal, id techlog.ID, version int, once *Once, render Render[BlockedAircraft]) ([]byte, error) {
	return s.alterBlock(ctx, who, id, version, "block.cancelled", once, render, func(b *techlog.Block, _ time.Time) error {
		b.Cancelled = true
		return nil
	})
}

func (s *Service) alterBlock(ctx context.Context, who techlog.Principal, id techlog.ID, version int, kind string, once *Once, render Render[BlockedAircraft],
	alter func(*techlog.Block, time.Time) error,
) ([]byte, error) {
	if err := who.Require(techlog.KeepBlocks); err != nil {
		return nil, err
	}
	seen, err := s.store.Block(ctx, who.Organization, id) // its aircraft never changes
	if err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(seen.Aircraft, at)}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		b, err := tx.Block(ctx, id)
		switch {
		case err != nil:
			return nil, err
		case b.Cancelled:
			return nil, techlog.Errorf(techlog.KindConflict, "the block has been cancelled")
		case b.Version != version:
			return nil, techlog.Errorf(techlog.KindStale, "the block was changed meanwhile: it is at version %d", b.Version)
		}
		if err := alter(&b, at); err != nil {
			return nil, err
		}
		b.Version++
		tx.UpdateBlock(b)
		return s.blocked(tx, b, at, kind, render)
	})
}

// blocked works out anew what a block that was changed holds.
func (s *Service) blocked(tx Tx, b techlog.Block, at time.Time, kind string, render Render[BlockedAircraft]) ([]byte, error) {
	snap := tx.Snapshot(0)
	if i := slices.IndexFunc(snap.Blocks, func(o techlog.Block) bool { return o.ID == b.ID }); i >= 0 {
		snap.Blocks[i] = b
	} else {
		snap.Blocks = append(snap.Blocks, b)
	}
	slices.SortFunc(snap.Blocks, func(a, b techlog.Block) int { return slices.Compare(a.ID[:], b.ID[:]) })
	changes, err := s.apply(tx, snap, at, techlog.Event{Kind: kind, Aircraft: b.Aircraft, Subject: b.ID})
	if err != nil {
		return nil, err
	}
	return render(BlockedAircraft{b, changes})
}
