package webhook

import "net/netip"

// block is a block of addresses that no delivery goes to, with what it is for.
type block struct {
	prefix netip.Prefix
	what   string
}

func blocks(of ...[2]string) []block {
	list := make([]block, len(of))
	for i, b := range of {
		list[i] = block{netip.MustParsePrefix(b[0]), b[1]}
	}
	return list
}

// The blocks of the IANA IPv4 Special-Purpose Address Registry (RFC 6890 and those named) that are not reachable from
// everywhere, multicast (RFC 5771) and what is reserved.
var specialIPv4 = blocks(
	[2]string{"0.0.0.0/8", "this network (RFC 791)"},
	[2]string{"10.0.0.0/8", "private (RFC 1918)"},
	[2]string{"100.64.0.0/10", "shared behind a carrier's translation (RFC 6598)"},
	[2]string{"127.0.0.0/8", "loopback (RFC 1122)"},
	[2]string{"169.254.0.0/16", "link-local (RFC 3927)"},
	[2]string{"172.16.0.0/12", "private (RFC 1918)"},
	[2]string{"192.0.0.0/24", "for protocols (RFC 6890)"},
	[2]string{"192.0.2.0/24", "for documentation (RFC 5737)"},
	[2]string{"192.88.99.0/24", "6to4 relays, deprecated (RFC 7526)"},
	[2]string{"192.168.0.0/16", "private (RFC 1918)"},
	[2]string{"198.18.0.0/15", "for benchmarks (RFC 2544)"},
	[2]string{"198.51.100.0/24", "for documentation (RFC 5737)"},
	[2]string{"203.0.113.0/24", "for documentation (RFC 5737)"},
	[2]string{"224.0.0.0/4", "multicast (RFC 5771)"},
	[2]string{"240.0.0.0/4", "reserved, and broadcast (RFC 1112, RFC 919)"},
)

// globalIPv6 is what IANA gives out as global unicast (RFC 4291, the IPv6 Global Unicast Address Assignments). Everything
// outside is loopback, unspecified, link-local (fe80::/10), unique local (fc00::/7), multicast, IPv4 in IPv6 (::/96,
// ::ffff:0:0/96, 64:ff9b::/96 and 64:ff9b:1::/48 of RFC 6052 and 8215), discard-only (100::/64), segment routing (5f00::/16)
// or reserved.
var globalIPv6 = netip.MustParsePrefix("2000::/3")

// The blocks within that are not, of the IANA IPv6 Special-Purpose Address Registry.
var specialIPv6 = blocks(
	[2]string{"2001::/23", "for protocols, Teredo among them (RFC 2928, RFC 4380)"},
	[2]string{"2001:db8::/32", "for documentation (RFC 3849)"},
	[2]string{"2002::/16", "6to4, with an IPv4 address in it (RFC 3056)"},
	[2]string{"3fff::/20", "for documentation (RFC 9637)"},
)

// Refused says why no delivery goes to an address: it is not one that everybody reaches, so that whoever enters it could
// reach by this server what only this server can. Empty: deliveries go there.
func Refused(a netip.Addr) string {
	a = a.WithZone("").Unmap()
	special := specialIPv4
	if !a.Is4() {
		if !globalIPv6.Contains(a) {
			return "not an address that everybody reaches (RFC 4291)"
		}
		special = specialIPv6
	}
	for _, b := range special {
		if b.prefix.Contains(a) {
			return b.what
		}
	}
	return ""
}
