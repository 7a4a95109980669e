package webguard

import (
	"log/slog"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"sync"

	"halfshaft/services/fault"
	"halfshaft/services/internal/throttle"
)

// Proxies are the web servers that stand before the pages and say in
// X-Forwarded-For whom they speak for. Only one that the operator named is
// believed, on this machine too: anybody else on the same network could write
// the header as well. A nil *Proxies believes nobody.
type Proxies struct {
	named  []netip.Prefix
	logger *slog.Logger
	once   sync.Once
}

// ParseProxies reads addresses and ranges of proxies; field is what a refusal
// names. logger may be nil.
func ParseProxies(field string, texts []string, logger *slog.Logger) (*Proxies, error) {
	p := &Proxies{logger: logger}
	var wrong []fault.Field
	for i, text := range texts {
		named, ok := parseProxy(text)
		if !ok {
			name := field
			if len(texts) > 1 {
				name += "[" + strconv.Itoa(i) + "]"
			}
			wrong = append(wrong, fault.Field{Name: name, Got: text, Want: "the address of a proxy or a range of them, as in 127.0.0.1 or 192.0.2.0/28, and not everybody's"})
			continue
		}
		p.named = append(p.named, named)
	}
	return p, fault.InvalidFields(wrong)
}

func parseProxy(text string) (netip.Prefix, bool) {
	if a, err := netip.ParseAddr(text); err == nil && a.Zone() == "" && !a.IsUnspecified() {
		a = a.Unmap()
		return netip.PrefixFrom(a, a.BitLen()), true
	}
	p, err := netip.ParsePrefix(text)
	if err != nil || p.Bits() == 0 || p.Addr().Is4In6() {
		return netip.Prefix{}, false
	}
	return p.Masked(), true
}

// Trusts reports whether an address is that of a proxy of ours.
func (p *Proxies) Trusts(a netip.Addr) bool {
	if p == nil {
		return false
	}
	a = a.Unmap().WithZone("")
	return slices.ContainsFunc(p.named, func(n netip.Prefix) bool { return n.Contains(a) })
}

// Sender is the network that a request comes from: a whole IPv4 address, or the
// /64 of an IPv6 one. Where a proxy of ours stands between, it is the last in
// X-Forwarded-For that is not one itself: each of them adds whom it heard, and
// what stands before that anybody may have written.
func (p *Proxies) Sender(r *http.Request) netip.Prefix {
	from, ok := parseSender(r.RemoteAddr)
	if !ok {
		return netip.Prefix{}
	}
	said := r.Header.Values("X-Forwarded-For")
	if len(said) > 0 && !p.Trusts(from) {
		p.warn(from)
		return throttle.Network(from)
	}
	chain := strings.Split(strings.Join(said, ","), ",")
	for _, text := range slices.Backward(chain) {
		if !p.Trusts(from) {
			break
		}
		told, ok := parseSender(strings.TrimSpace(text))
		if !ok {
			break // nobody of ours wrote this; whoever is nearest counts
		}
		from = told
	}
	return throttle.Network(from)
}

// parseSender reads an address with or without a port.
func parseSender(text string) (netip.Addr, bool) {
	a, err := netip.ParseAddr(strings.Trim(text, "[]"))
	if err != nil {
		at, err := netip.ParseAddrPort(text)
		if err != nil {
			return netip.Addr{}, false
		}
		a = at.Addr()
	}
	return a.Unmap().WithZone(""), true
}

// warn tells the operator once that a proxy on the works' own network is not
// believed: behind it everybody is one sender.
func (p *Proxies) warn(from netip.Addr) {
	if p == nil || p.logger == nil || !from.IsLoopback() && !from.IsPrivate() {
		return
	}
	p.once.Do(func() {
		p.logger.Warn("a request says that it was forwarded, by a proxy that --trusted-proxy does not name: all who come by it count as one")
	})
}
