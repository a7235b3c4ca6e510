package webhook

import (
	"context"
	"errors"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// maxURL bounds the length of an address, in bytes.
const maxURL = 2000

// Ports below are of services that speak something else; 443 is that of https.
const (
	httpsPort     = 443
	firstFreePort = 1024
)

// lookUpLimit bounds the wait for a name to be looked up when an address is entered.
const lookUpLimit = 3 * time.Second

// Resolver looks names up. *net.Resolver is one.
type Resolver interface {
	LookupNetIP(ctx context.Context, network, host string) ([]netip.Addr, error)
}

// Targets says to which addresses an organization may have events sent.
type Targets struct {
	Allowed  Allowed
	Resolver Resolver
}

// Check refuses an address that no delivery would go to, with every fault at once. What a name leads to is looked at now,
// so that a mistake is told to whoever makes it, and again with each connection, as it can change.
func (t Targets) Check(ctx context.Context, field, address string) error {
	var bad casefile.Faults
	fault := func(rule, says, remedy string) { bad.Add(field, rule, says, remedy) }
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Hostname() == "" || len(address) > maxURL {
		fault("url", "it is no address", "give https://, a host and a path, such as https://hooks.example/tiedown, in at most 2000 characters")
		return bad.Err()
	}
	opened := t.Allowed.opens(u.Hostname())
	if u.Scheme != "https" && (u.Scheme != "http" || !opened) {
		fault("https", "deliveries go over https alone", "begin the address with https://")
	}
	if u.User != nil {
		fault("no-credentials", "there is a name or a password in the address", "leave them out: deliveries are signed, which tells the receiver who sends them")
	}
	if u.Fragment != "" {
		fault("no-fragment", "what follows # never reaches a server", "leave it out")
	}
	if !opened && !openPort(u.Port()) {
		fault("port", "port "+u.Port()+" is for other services", "use 443, or one from 1024 to 65535")
	}
	if refused := t.lookUp(ctx, u.Hostname()); refused != nil {
		fault("reachable-by-all", refused.Error(), "give an address that everybody reaches")
	}
	return bad.Err()
}

// openPort reports whether deliveries go to a port; empty is that of the scheme.
func openPort(port string) bool {
	n, err := strconv.Atoi(port)
	return port == "" || err == nil && (n == httpsPort || n >= firstFreePort && n <= 65535)
}

// lookUp refuses a host if any of its addresses is refused. A name that cannot be looked up now is no fault of the address.
func (t Targets) lookUp(ctx context.Context, host string) error {
	if addr, err := netip.ParseAddr(host); err == nil {
		return t.Allowed.check(host, addr)
	}
	if numeric(host) {
		return errors.New("an address has to be written as four numbers with dots, or in brackets")
	}
	ctx, cancel := context.WithTimeout(ctx, lookUpLimit)
	defer cancel()
	addrs, err := t.Resolver.LookupNetIP(ctx, "ip", host)
	if err != nil {
		return nil //nolint:nilerr // it is looked up again with each connection
	}
	for _, addr := range addrs {
		if err := t.Allowed.check(host, addr); err != nil {
			return err
		}
	}
	return nil
}

// numeric reports whether a host ends in a number and is no address: 127.1, 2130706433 and 0x7f.1 are addresses to some
// programs, and names to others.
func numeric(host string) bool {
	labels := strings.Split(strings.TrimSuffix(host, "."), ".")
	last := labels[len(labels)-1]
	_, err := strconv.ParseUint(last, 0, 64)
	return err == nil || last != "" && strings.Trim(last, "0123456789") == ""
}
