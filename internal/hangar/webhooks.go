package hangar

import (
	"context"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

const (
	// overlap is for how long deliveries are signed with the older secret as well, so that receivers can take over the new.
	overlap = 24 * time.Hour
	// Bounds of what an organization keeps.
	maxWebhooks = 200
	maxSecrets  = 4 // of one webhook, good at once
	maxKinds    = 50
	maxReplayed = 100_000 // places back
)

// Webhooks lists the addresses to which events are sent. They are for whoever keeps them alone, as an address may hold a
// secret of the receiver's. Kind forbidden.
func (s *Service) Webhooks(ctx context.Context, who techlog.Principal, p Page) ([]techlog.Webhook, error) {
	if err := who.Require(techlog.KeepWebhooks); err != nil {
		return nil, err
	}
	return s.store.Webhooks(ctx, who.Organization, p)
}

// Webhook shows one. Kinds forbidden, not-found.
func (s *Service) Webhook(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.Webhook, error) {
	if err := who.Require(techlog.KeepWebhooks); err != nil {
		return techlog.Webhook{}, err
	}
	return s.store.Webhook(ctx, who.Organization, id)
}

// Deliveries lists what was and is on its way to a webhook, the newest event first. Kinds forbidden, not-found.
func (s *Service) Deliveries(ctx context.Context, who techlog.Principal, id techlog.ID, filter DeliveryFilter) ([]techlog.Delivery, error) {
	if _, err := s.Webhook(ctx, who, id); err != nil {
		return nil, err
	}
	return s.store.Deliveries(ctx, who.Organization, id, filter)
}

// MakeWebhook has events sent to an address from now on, and gives the secret that they are signed with. Kinds forbidden,
// invalid, conflict.
func (s *Service) MakeWebhook(ctx context.Context, who techlog.Principal, w techlog.Webhook, once *Once) (techlog.Webhook, string, error) {
	if err := who.Require(techlog.KeepWebhooks); err != nil {
		return w, "", err
	}
	if err := s.checkWebhook(ctx, who, w); err != nil {
		return w, "", err
	}
	all, err := s.store.Webhooks(ctx, who.Organization, Page{Limit: 10 * maxWebhooks})
	if err != nil {
		return w, "", err
	}
	if all = slices.DeleteFunc(all, func(w techlog.Webhook) bool { return w.State == techlog.WebhookEnded }); len(all) >= maxWebhooks {
		return w, "", techlog.Errorf(techlog.KindConflict, "there are %d webhooks already: end one first", len(all))
	}
	at := s.now()
	w.ID, w.State, w.By, w.At, w.Version = s.newID(), techlog.WebhookOn, who.Name, at, 1
	secret := techlog.WebhookSecret{ID: s.newID(), At: at}
	var shown string
	shown, secret.Sealed = s.sealer.NewSecret(who.Organization, w.ID, secret.ID)
	err = s.makeSecret(ctx, who, at, once, func(_ context.Context, tx Tx) error {
		tx.AddWebhook(w)
		tx.AddWebhookSecret(w.ID, secret, at)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "webhook.made", Subject: w.ID, At: at})
		return nil
	})
	return w, shown, err
}

// ChangeWebhook changes where to and of what events are sent, or turns a webhook off, on, or ends it. What waits for one that
// is off goes out when it is on again. Kinds forbidden, invalid, not-found, stale, conflict once it has ended.
func (s *Service) ChangeWebhook(ctx context.Context, who techlog.Principal, w techlog.Webhook, once *Once, render Render[techlog.Webhook]) ([]byte, error) {
	if err := who.Require(techlog.KeepWebhooks); err != nil {
		return nil, err
	}
	if err := s.checkWebhook(ctx, who, w); err != nil {
		return nil, err
	}
	return s.changeWebhook(ctx, who, w.ID, once, func(_ context.Context, tx Tx, is techlog.Webhook) ([]byte, error) {
		if is.Version != w.Version {
			return nil, techlog.Errorf(techlog.KindStale, "the webhook was changed meanwhile: it is at version %d", is.Version)
		}
		is.URL, is.Kinds, is.Aircraft, is.State = w.URL, w.Kinds, w.Aircraft, w.State
		is.Version++
		tx.UpdateWebhook(is)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "webhook.changed", Subject: is.ID, At: s.now()})
		return render(is)
	})
}

// changeWebhook runs a change of a webhook that has not ended.
func (s *Service) changeWebhook(ctx context.Context, who techlog.Principal, id techlog.ID, once *Once,
	f func(context.Context, Tx, techlog.Webhook) ([]byte, error),
) ([]byte, error) {
	if err := who.Require(techlog.KeepWebhooks); err != nil {
		return nil, err
	}
	scope := Scope{Organization: who.Organization, By: who.Name, At: s.now(), Once: once}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		w, err := tx.Webhook(ctx, id)
		if err != nil {
			return nil, err
		}
		if w.State == techlog.WebhookEnded {
			return nil, techlog.Errorf(techlog.KindConflict, "the webhook has been ended: make another one")
		}
		return f(ctx, tx, w)
	})
}

// RenewWebhookSecret makes a new secret, and gives it. Deliveries are signed with the older one as well for a day, or until
// EndOldWebhookSecrets. Kinds forbidden, not-found, conflict.
func (s *Service) RenewWebhookSecret(ctx context.Context, who techlog.Principal, id techlog.ID, once *Once) (techlog.Webhook, string, error) {
	at := s.now()
	secret := techlog.WebhookSecret{ID: s.newID(), At: at}
	var shown string
	shown, secret.Sealed = s.sealer.NewSecret(who.Organization, id, secret.ID)
	var renewed techlog.Webhook
	mine := s.newMark()
	answer, err := s.changeWebhook(ctx, who, id, once, func(ctx context.Context, tx Tx, w techlog.Webhook) ([]byte, error) {
		good, err := tx.WebhookSecrets(ctx, id)
		if err != nil {
			return nil, err
		}
		if len(good) >= maxSecrets {
			return nil, techlog.Errorf(techlog.KindConflict, "deliveries are signed with %d secrets already: end the older ones first", len(good))
		}
		renewed = w
		renewed.OldSecretsUntil = at.Add(overlap)
		tx.AddWebhookSecret(id, secret, renewed.OldSecretsUntil)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "webhook.secret-renewed", Subject: id, At: at})
		return mine, nil
	})
	err = givenOnce(mine, answer, err)
	return renewed, shown, err
}

// EndOldWebhookSecrets has deliveries signed with the newest secret alone from now on. Kinds forbidden, not-found, conflict.
func (s *Service) EndOldWebhookSecrets(ctx context.Context, who techlog.Principal, id techlog.ID, once *Once, render Render[techlog.Webhook]) ([]byte, error) {
	return s.changeWebhook(ctx, who, id, once, func(_ context.Context, tx Tx, w techlog.Webhook) ([]byte, error) {
		at := s.now()
		if w.OldSecretsUntil.After(at) {
			w.OldSecretsUntil = at
		}
		tx.EndOldWebhookSecrets(id)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "webhook.old-secrets-ended", Subject: id, At: at})
		return render(w)
	})
}

// PingWebhook sends an event that says nothing, to this webhook alone, whatever it asks for. Kinds forbidden, not-found,
// conflict if it is not on.
func (s *Service) PingWebhook(ctx context.Context, who techlog.Principal, id techlog.ID, once *Once, render Render[techlog.Webhook]) ([]byte, error) {
	return s.changeWebhook(ctx, who, id, once, func(_ context.Context, tx Tx, w techlog.Webhook) ([]byte, error) {
		if w.State != techlog.WebhookOn {
			return nil, techlog.Errorf(techlog.KindConflict, "the webhook is %s: turn it on first", w.State)
		}
		tx.Emit(techlog.Event{ID: s.newID(), Kind: techlog.PingKind, Subject: id, At: s.now()})
		return render(w)
	})
}

// ReplayDeliveries has deliveries made again, and gives their number. Kinds forbidden, invalid, not-found, conflict.
func (s *Service) ReplayDeliveries(ctx context.Context, who techlog.Principal, id techlog.ID, which Replay, once *Once, render Render[int]) ([]byte, error) {
	given := 0
	for _, is := range []bool{which.Place != 0, which.From != 0, which.Dead} {
		if is {
			given++
		}
	}
	if given != 1 {
		return nil, casefile.Faults{{
			Field: "body", Rule: "one-of", Says: fmt.Sprintf("%d of place, from and dead are given", given), Remedy: "give one of the three",
		}}
	}
	return s.changeWebhook(ctx, who, id, once, func(ctx context.Context, tx Tx, _ techlog.Webhook) ([]byte, error) {
		if which.From != 0 {
			last, err := s.store.LastEvent(ctx, who.Organization)
			if err != nil {
				return nil, err
			}
			if last-which.From > maxReplayed {
				return nil, casefile.Faults{{
					Field: "from", Rule: "range", Says: fmt.Sprintf("there are %d events after it", last-which.From),
					Remedy: fmt.Sprintf("begin at %d or later; read what is older from GET /v1/events", last-maxReplayed),
				}}
			}
		}
		n, err := tx.Requeue(ctx, id, which)
		switch {
		case err != nil:
			return nil, err
		case which.Place != 0 && n == 0:
			return nil, techlog.Errorf(techlog.KindConflict, "no delivery of place %d to this webhook has been made or given up", which.Place)
		}
		return render(n)
	})
}

// BreakWebhook takes a webhook out of use whose receiver has said that it is gone, until a person turns it on again.
func (s *Service) BreakWebhook(ctx context.Context, organization, id techlog.ID) error {
	at := s.now()
	_, err := s.store.Change(ctx, Scope{Organization: organization, By: theReceiver, At: at}, func(ctx context.Context, tx Tx) ([]byte, error) {
		w, err := tx.Webhook(ctx, id)
		if err != nil || w.State != techlog.WebhookOn {
			return nil, err
		}
		w.State = techlog.WebhookBroken
		w.Version++
		tx.UpdateWebhook(w)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "webhook.broken", Subject: id, At: at})
		return nil, nil
	})
	return err
}

// theReceiver is who takes a webhook out of use.
const theReceiver = "the webhook's receiver"

func (s *Service) checkWebhook(ctx context.Context, who techlog.Principal, w techlog.Webhook) error {
	var bad casefile.Faults
	if len(w.Kinds) > maxKinds {
		bad.Add("kinds", "at-most", fmt.Sprintf("there are %d kinds", len(w.Kinds)), fmt.Sprintf("name at most %d; several of one family by its name, such as squawk", maxKinds))
	}
	for i, kind := range w.Kinds {
		if !techlog.KnownKind(kind) {
			bad.Add(fmt.Sprintf("kinds[%d]", i), "known-kind", fmt.Sprintf("no event is of the kind %q", kind),
				fmt.Sprintf("use a kind such as squawk.filed, or one of %v for all that begins with it", techlog.EventFamilies()))
		}
	}
	if !w.Aircraft.IsZero() {
		if _, err := s.store.StateVersion(ctx, who.Organization, w.Aircraft); techlog.KindOf(err) == techlog.KindNotFound {
			bad.Add("aircraft", "known-aircraft", "there is no such aircraft", "take an id from GET /v1/aircraft, or leave it out")
		} else if err != nil {
			return err
		}
	}
	return casefile.Join(bad.Err(), s.targets.Check(ctx, "url", w.URL))
}
