package api

import "net/netip"

// addressOf names the network that a caller's address counts for: an IPv4 address alone, an
// IPv6 one with all of its /64, which one subscriber has (RFC 6177). What is no address counts
// as one.
func addressOf(ip string) string {
	address, err := netip.ParseAddr(ip)
	if err != nil {
		return "/"
	}
	address = address.Unmap().WithZone("")
	bits := 32
	if address.Is6() {
		bits = 64
	}
	network, err := address.Prefix(bits)
	if err != nil { // the bits are right
		return "/"
	}
	return network.String()
}
