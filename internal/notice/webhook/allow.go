package webhook

import (
	"errors"
	"fmt"
	"net/netip"
	"strings"
)

// Allowed is what whoever runs the server has opened for deliveries beyond the addresses that everybody reaches: there, plain
// http and any port are allowed too.
type Allowed struct {
	prefixes []netip.Prefix
	hosts    map[string]bool
}

// ParseAllowed reads a list of blocks such as 10.1.0.0/16, addresses such as 10.1.2.3, and names of hosts.
func ParseAllowed(list []string) (Allowed, error) {
	a := Allowed{hosts: map[string]bool{}}
	for _, entry := range list {
		entry = strings.TrimSpace(entry)
		if prefix, err := netip.ParsePrefix(entry); err == nil {
			a.prefixes = append(a.prefixes, prefix.Masked())
			continue
		}
		if addr, err := netip.ParseAddr(entry); err == nil {
			a.prefixes = append(a.prefixes, netip.PrefixFrom(addr, addr.BitLen()))
			continue
		}
		if entry == "" || strings.ContainsAny(entry, "/:@ *?#") {
			return a, fmt.Errorf("%q is no block of addresses such as 10.1.0.0/16, address or name of a host", entry)
		}
		a.hosts[canonicalHost(entry)] = true
	}
	return a, nil
}

// canonicalHost is a name as it is compared: names differ neither by case nor by the dot at their end.
func canonicalHost(host string) string { return strings.ToLower(strings.TrimSuffix(host, ".")) }

func (a Allowed) host(host string) bool { return a.hosts[canonicalHost(host)] }

func (a Allowed) addr(addr netip.Addr) bool {
	addr = addr.WithZone("").Unmap()
	for _, p := range a.prefixes {
		if p.Contains(addr) {
			return true
		}
	}
	return false
}

// opens reports whether a host, by its name or as an address, has been opened.
func (a Allowed) opens(host string) bool {
	if addr, err := netip.ParseAddr(host); err == nil {
		return a.addr(addr)
	}
	return a.host(host)
}

// errRefused marks that no connection was made, on purpose.
var errRefused = errors.New("no delivery goes to this address")

// check refuses an address that a connection to a host would be made to.
func (a Allowed) check(host string, to netip.Addr) error {
	why := Refused(to)
	if why == "" || a.addr(to) || a.host(host) {
		return nil
	}
	return fmt.Errorf("%w: %s is %s; whoever runs the server can allow it by TIEDOWN_WEBHOOK_ALLOW", errRefused, to.Unmap(), why)
}
