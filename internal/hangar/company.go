package hangar

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// CompanyRules shows what the organization asks beyond the regulation: version 0 if it has written nothing.
func (s *Service) CompanyRules(ctx context.Context, who techlog.Principal) (techlog.CompanyRules, error) {
	return s.store.CompanyRules(ctx, who.Organization)
}

// ChangeCompanyRules follows the organization's rules with another version, and judges every future flight of its fleet
// by it before it answers. Version is the one that the caller has seen. A flight that is read before its turn has come
// shows the book that its hold was read from. Kinds forbidden, invalid, stale.
func (s *Service) ChangeCompanyRules(ctx context.Context, who techlog.Principal, r techlog.CompanyRules, once *Once, render Render[techlog.CompanyRules]) ([]byte, error) {
	if err := who.Require(techlog.KeepCompanyRules); err != nil {
		return nil, err
	}
	next := techlog.CompanyRules{Version: r.Version + 1, Rules: r.Rules, Policy: r.Policy, At: s.now(), By: who.Name}
	if _, err := s.bookOf(next); err != nil {
		return nil, err
	}
	scope := Scope{Organization: who.Organization, By: who.Name, At: next.At, Once: once}
	answer, err := s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		was, err := tx.CompanyRules(ctx)
		if err != nil {
			return nil, err
		}
		if was.Version != r.Version {
			return nil, techlog.Errorf(techlog.KindStale, "the rules were changed meanwhile: they are at version %d", was.Version)
		}
		tx.AddCompanyRules(next)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "company-rules.changed", Subject: who.Organization, At: next.At})
		return render(next)
	})
	if err != nil {
		return nil, err
	}
	// An earlier attempt may have been kept from this by a crash: a repeated request finishes it.
	if _, err := s.rejudgeStale(ctx, who.Organization); err != nil {
		return nil, err
	}
	return answer, nil
}

// bookOf is the book that an organization's aircraft are judged by: the regulation with its own rules beside it. Its
// digest names both. The policy decides how a deferral is read, and is named by the digest too.
func (s *Service) bookOf(r techlog.CompanyRules) (Book, error) {
	if len(r.Rules) == 0 && r.Policy == (casefile.Policy{}) {
		return s.book, nil
	}
	written, err := json.Marshal(struct {
		Book   string
		Rules  []casefile.CompanyRule
		Policy casefile.Policy
	}{s.book.Digest, r.Rules, r.Policy})
	if err != nil {
		return Book{}, err
	}
	sum := sha256.Sum256(written)
	digest := hex.EncodeToString(sum[:])
	if book, ok := s.books.Get(digest); ok {
		return book, nil
	}
	rules, err := casefile.CompileCompanyRules(r.Rules, s.book.Rules)
	if err := casefile.Join(err, r.Policy.Apply(nil)); err != nil {
		return Book{}, err
	}
	book := Book{Rules: rules, Upkeep: s.book.Upkeep, Digest: digest}
	s.books.Add(digest, book)
	return book, nil
}

// rejudgeStale decides anew what was decided with another book than the organization's own.
func (s *Service) rejudgeStale(ctx context.Context, org techlog.ID) (int, error) {
	company, err := s.store.CompanyRules(ctx, org)
	if err != nil {
		return 0, err
	}
	book, err := s.bookOf(company)
	if err != nil {
		return 0, fmt.Errorf("the rules of organization %s on record do not compile: %w", org, err)
	}
	stale, err := s.store.StaleAircraft(ctx, org, book.Digest, s.now())
	if err != nil {
		return 0, err
	}
	for _, aircraft := range stale {
		if err := s.Rejudge(ctx, org, aircraft); err != nil {
			return 0, err
		}
	}
	return len(stale), nil
}

// RejudgeStale goes over every organization and decides anew what was decided with another book. It is safe to run
// twice, and beside others that run it.
func (s *Service) RejudgeStale(ctx context.Context, k Keeper) (int, error) {
	organizations, err := k.Organizations(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, o := range organizations {
		judged, err := s.rejudgeStale(ctx, o.ID)
		if err != nil {
			return n, err
		}
		n += judged
	}
	return n, nil
}
