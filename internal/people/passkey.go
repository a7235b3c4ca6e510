package people

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"strings"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// What is proved before something changes about passkeys: the digest of these words is what the proof must be for.
const (
	addPasskeyWords    = "add a passkey"
	renewCodesWords    = "make new recovery codes"
	removePasskeyWords = "remove the passkey "
)

// AddPasskeyDigest is what is proved to add a passkey.
func AddPasskeyDigest() [32]byte { return sha256.Sum256([]byte(addPasskeyWords)) }

// RenewCodesDigest is what is proved to make new recovery codes.
func RenewCodesDigest() [32]byte { return sha256.Sum256([]byte(renewCodesWords)) }

// RemovePasskeyDigest is what is proved to remove a passkey.
func RemovePasskeyDigest(id techlog.ID) [32]byte {
	return sha256.Sum256([]byte(removePasskeyWords + id.String()))
}

// Passkeys lists the person's passkeys.
func (p *People) Passkeys(ctx context.Context, person techlog.ID) ([]Passkey, error) {
	return p.store.Passkeys(ctx, person)
}

// BeginPasskey begins to register a passkey, for whoever proves to be the person. Kinds unproven, rate-limited.
func (p *People) BeginPasskey(ctx context.Context, person techlog.ID, proof hangar.Proof) (Asked, error) {
	held, err := p.store.CredentialsOf(ctx, person)
	if err != nil {
		return Asked{}, err
	}
	if _, err := p.prove(ctx, held, proof, AddPasskeyDigest()); err != nil {
		return Asked{}, err
	}
	options, state, err := p.keys.Register(held.Account, records(held.Passkeys))
	if err != nil {
		return Asked{}, err
	}
	c := p.challenge(person, toRegister, state)
	return Asked{c.ID, options, c.Until}, p.store.AddChallenge(ctx, c)
}

// Registration is an authenticator's answer to BeginPasskey.
type Registration struct {
	Challenge techlog.ID
	Name      string // by which the person knows the passkey
	Response  json.RawMessage
}

// AddPasskey registers a passkey. With the first one it gives recovery codes, which are shown once. Kinds unproven,
// conflict.
func (p *People) AddPasskey(ctx context.Context, s Session, r Registration) (Passkey, []string, error) {
	c, err := p.store.TakeChallenge(ctx, s.Account.ID, r.Challenge, p.now())
	if techlog.KindOf(err) == techlog.KindNotFound || err == nil && c.Purpose != toRegister {
		return Passkey{}, nil, techlog.Errorf(techlog.KindUnproven, "the challenge is spent, too old or for something else")
	}
	if err != nil {
		return Passkey{}, nil, err
	}
	held, err := p.store.CredentialsOf(ctx, s.Account.ID)
	if err != nil {
		return Passkey{}, nil, err
	}
	handle, record, err := p.keys.Registered(held.Account, c.State, r.Response)
	if err != nil {
		return Passkey{}, nil, err
	}
	k := Passkey{Person: s.Account.ID, ID: p.newID(), Handle: handle, Name: strings.TrimSpace(r.Name), Record: record, Version: 1, Added: p.now()}
	e := p.event(techlog.PasskeyAdded, k.Person, held.Account.Name, s.From)
	e.About = k.Name
	if len(held.Passkeys) > 0 {
		return k, nil, p.store.AddPasskey(ctx, k, nil, e)
	}
	codes, digests := newRecoveryCodes()
	made := p.event(techlog.RecoveryCodesMade, k.Person, held.Account.Name, s.From)
	return k, codes, p.store.AddPasskey(ctx, k, digests, e, made)
}

// RemovePasskey removes a passkey, for whoever proves to be the person. Kinds not-found, unproven, rate-limited.
func (p *People) RemovePasskey(ctx context.Context, s Session, id techlog.ID, proof hangar.Proof) error {
	held, err := p.store.CredentialsOf(ctx, s.Account.ID)
	if err != nil {
		return err
	}
	for _, k := range held.Passkeys {
		if k.ID != id {
			continue
		}
		if _, err := p.prove(ctx, held, proof, RemovePasskeyDigest(id)); err != nil {
			return err
		}
		e := p.event(techlog.PasskeyRemoved, s.Account.ID, held.Account.Name, s.From)
		e.About = k.Name
		return p.store.RemovePasskey(ctx, s.Account.ID, id, p.now(), e)
	}
	return techlog.Errorf(techlog.KindNotFound, "you have no such passkey")
}

// RenewCodes makes new recovery codes in place of all that there were, for whoever proves to be the person. Kinds
// unproven, rate-limited, conflict if there is no passkey that they could stand in for.
func (p *People) RenewCodes(ctx context.Context, s Session, proof hangar.Proof) ([]string, error) {
	held, err := p.store.CredentialsOf(ctx, s.Account.ID)
	if err != nil {
		return nil, err
	}
	if len(held.Passkeys) == 0 {
		return nil, techlog.Errorf(techlog.KindConflict, "you have no passkey that a code could stand in for")
	}
	if _, err := p.prove(ctx, held, proof, RenewCodesDigest()); err != nil {
		return nil, err
	}
	codes, digests := newRecoveryCodes()
	e := p.event(techlog.RecoveryCodesMade, s.Account.ID, held.Account.Name, s.From)
	return codes, p.store.ReplaceRecoveryCodes(ctx, s.Account.ID, digests, p.now(), e)
}
