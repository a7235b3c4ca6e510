package identity

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"

	"tiedown/internal/people"
)

// Parameters of argon2id.
type Parameters struct {
	MemoryKiB   uint32
	Passes      uint32
	Parallelism uint8
}

// Today is what passwords are hashed with: what OWASP's cheat sheet on storing passwords gives as equal to 46 MiB and one
// pass (from memory). A check took some 80 ms of one core where it was measured.
var Today = Parameters{MemoryKiB: 19 * 1024, Passes: 2, Parallelism: 1}

const (
	saltBytes = 16
	hashBytes = 32
)

// Bounds on what is read: a hash that asks for more would let whoever writes to the table stop the server.
const (
	maxMemoryKiB = 256 * 1024
	maxPasses    = 16
	maxBytes     = 64
)

// Passwords hashes passwords. It is safe for concurrent use: so many hashes are made at once as it has places, and
// whoever comes then waits.
type Passwords struct {
	today  Parameters
	places chan struct{}
	dummy  hashed
}

var _ people.Hasher = (*Passwords)(nil)

// NewPasswords makes a hasher with places for so many at once.
func NewPasswords(today Parameters, places int) *Passwords {
	p := &Passwords{today: today, places: make(chan struct{}, places)}
	p.dummy = hashed{Parameters: today, salt: make([]byte, saltBytes), hash: make([]byte, hashBytes)}
	return p
}

// Hash implements people.Hasher.
func (p *Passwords) Hash(ctx context.Context, password string) (string, error) {
	h := hashed{Parameters: p.today, salt: make([]byte, saltBytes)}
	_, _ = rand.Read(h.salt) // never fails
	var err error
	h.hash, err = p.work(ctx, h, password, hashBytes)
	return h.String(), err
}

// Check implements people.Hasher. A hash that cannot be read is one that nothing fits.
func (p *Passwords) Check(ctx context.Context, hash, password string) (fits, outdated bool, err error) {
	h, known := parseHash(hash)
	if !known {
		h = p.dummy
	}
	got, err := p.work(ctx, h, password, uint32(len(h.hash)))
	if err != nil {
		return false, false, err
	}
	fits = subtle.ConstantTimeCompare(got, h.hash) == 1 && known
	return fits, h.Parameters != p.today, nil
}

// work waits for a place, and computes.
func (p *Passwords) work(ctx context.Context, h hashed, password string, length uint32) ([]byte, error) {
	select {
	case p.places <- struct{}{}:
		defer func() { <-p.places }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return argon2.IDKey([]byte(password), h.salt, h.Passes, h.MemoryKiB, h.Parallelism, length), nil
}

// hashed is a hash with what made it. Written, it is in the PHC form:
//
//	$argon2id$v=19$m=19456,t=2,p=1$c2FsdA$aGFzaA
type hashed struct {
	Parameters
	salt, hash []byte
}

func (h hashed) String() string {
	encode := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.MemoryKiB, h.Passes, h.Parallelism, encode(h.salt), encode(h.hash))
}

// parseHash reads a hash as String writes it, and nothing else.
func parseHash(s string) (hashed, bool) {
	var h hashed
	parts := strings.Split(s, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v="+strconv.Itoa(argon2.Version) {
		return h, false
	}
	settings := strings.Split(parts[3], ",")
	if len(settings) != 3 {
		return h, false
	}
	memory, okM := setting(settings[0], "m=", maxMemoryKiB)
	passes, okT := setting(settings[1], "t=", maxPasses)
	parallelism, okP := setting(settings[2], "p=", maxPasses)
	h.Parameters = Parameters{MemoryKiB: uint32(memory), Passes: uint32(passes), Parallelism: uint8(parallelism)}
	var okSalt, okHash bool
	h.salt, okSalt = decode(parts[4], 8)
	h.hash, okHash = decode(parts[5], 16)
	ok := okM && okT && okP && okSalt && okHash && memory >= 8*parallelism
	return h, ok && h.String() == s
}

func setting(s, name string, most uint64) (uint64, bool) {
	digits, ok := strings.CutPrefix(s, name)
	if !ok {
		return 0, false
	}
	n, err := strconv.ParseUint(digits, 10, 32)
	return n, err == nil && n >= 1 && n <= most
}

func decode(s string, least int) ([]byte, bool) {
	raw, err := base64.RawStdEncoding.Strict().DecodeString(s)
	return raw, err == nil && len(raw) >= least && len(raw) <= maxBytes
}
