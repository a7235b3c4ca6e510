package webhook

import (
	"net/netip"
	"strings"
	"testing"
)

// TestSpecialAddressesAreRefused walks the IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890 and the documents
// that they name) and RFC 5771, block by block, by the first and the last address of each.
func TestSpecialAddressesAreRefused(t *testing.T) {
	t.Parallel()
	for _, block := range strings.Fields(`
		0.0.0.0/8 10.0.0.0/8 100.64.0.0/10 127.0.0.0/8 169.254.0.0/16 172.16.0.0/12 192.0.0.0/24 192.0.2.0/24 192.88.99.0/24
		192.168.0.0/16 198.18.0.0/15 198.51.100.0/24 203.0.113.0/24 224.0.0.0/4 240.0.0.0/4 255.255.255.255/32
		::/128 ::1/128 ::/96 ::ffff:127.0.0.1/128 ::ffff:10.0.0.0/104 ::ffff:a9fe:a9fe/128 64:ff9b::/96 64:ff9b:1::/48 100::/64
		100:0:0:1::/64 2001::/23 2001::/32 2001:2::/48 2001:db8::/32 2002::/16 3fff::/20 5f00::/16 fc00::/7 fe80::/10 fec0::/10
		ff00::/8`) {
		p := netip.MustParsePrefix(block)
		for _, a := range []netip.Addr{p.Masked().Addr(), last(p)} {
			if p.Addr().Is4In6() {
				a = p.Addr()
			}
			if Refused(a) == "" {
				t.Errorf("%s of %s is not refused", a, block)
			}
		}
	}
	for _, a := range strings.Fields(`1.0.0.1 9.255.255.255 11.0.0.0 100.63.255.255 100.128.0.0 126.255.255.255 128.0.0.0 169.253.255.255
		169.255.0.0 172.15.255.255 172.32.0.0 192.0.1.0 192.0.3.0 192.167.255.255 192.169.0.0 198.17.255.255 198.20.0.0 223.255.255.255
		2000:: 2001:200:: 2001:db7:ffff:: 2001:db9:: 2003:: 2400:: 3ffe::1 3fff:1000:: ::ffff:1.0.0.1`) {
		if why := Refused(netip.MustParseAddr(a)); why != "" {
			t.Errorf("%s is refused: %s", a, why)
		}
	}
}

// last is the last address of a block.
func last(p netip.Prefix) netip.Addr {
	b := p.Masked().Addr().AsSlice()
	for i := p.Bits(); i < len(b)*8; i++ {
		b[i/8] |= 0x80 >> (i % 8)
	}
	a, _ := netip.AddrFromSlice(b)
	return a
}

// FuzzRefused holds the check against the predicates of net/netip: whatever they know to be for a part of the network is
// refused, written as IPv4 or within IPv6.
func FuzzRefused(f *testing.F) {
	for _, s := range []string{"127.0.0.1", "10.0.0.1", "8.8.4.4", "::1", "fe80::1", "2002:7f00:1::", "::ffff:192.168.0.1", "2a00::1"} {
		f.Add(netip.MustParseAddr(s).AsSlice())
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		a, ok := netip.AddrFromSlice(b)
		if !ok {
			t.Skip("it is no address")
		}
		open := Refused(a) == ""
		u := a.Unmap()
		if local := u.IsLoopback() || u.IsPrivate() || u.IsLinkLocalUnicast() || u.IsMulticast() || u.IsUnspecified() ||
			u.IsInterfaceLocalMulticast() || u.IsLinkLocalMulticast() || !u.IsGlobalUnicast(); local && open {
			t.Errorf("%s is open", a)
		}
		if open != (Refused(u) == "") || open != (Refused(a.WithZone("eth0")) == "") {
			t.Errorf("%s: written otherwise it is answered otherwise", a)
		}
		if !u.Is4() {
			return
		}
		// The ways to write an IPv4 address within IPv6: mapped (RFC 4291), and those that are refused whatever is in them.
		four := u.As4()
		mapped := netip.AddrFrom16([16]byte{10: 0xff, 11: 0xff, 12: four[0], 13: four[1], 14: four[2], 15: four[3]})
		if (Refused(mapped) == "") != open {
			t.Errorf("%s is answered otherwise than %s", mapped, u)
		}
		for _, with := range [][16]byte{
			{12: four[0], 13: four[1], 14: four[2], 15: four[3]},                            // compatible (RFC 4291)
			{0x20, 0x02, four[0], four[1], four[2], four[3]},                                // 6to4 (RFC 3056)
			{0, 0x64, 0xff, 0x9b, 12: four[0], 13: four[1], 14: four[2], 15: four[3]},       // translated (RFC 6052)
			{0x20, 0x01, 0, 0, 12: ^four[0], 13: ^four[1], 14: ^four[2], 15: ^four[3]},      // Teredo (RFC 4380)
			{0, 0x64, 0xff, 0x9b, 0, 1, 12: four[0], 13: four[1], 14: four[2], 15: four[3]}, // RFC 8215
		} {
			if hidden := netip.AddrFrom16(with); Refused(hidden) == "" {
				t.Errorf("%s is open, with %s in it", hidden, u)
			}
		}
	})
}
