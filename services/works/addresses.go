package works

import (
	"net"
	"net/url"
	"strings"
)

// addresses refuses each address whose connections would leave the machine in
// plain text, unless the operator said so by name. Mail out and the gateway for
// text messages are checked where they are made (remindermail, outgoing).
func (c Config) addresses(bad func(name, got, want string)) {
	for _, address := range c.Peers {
		if c.PeerTLS == nil && !local(address) {
			bad("peers", address, "a loopback address or unix socket, or TLS for the connection: --peer-ca")
		}
	}
	for _, a := range []struct{ name, address string }{{"listen", c.Listen}, {"http", c.HTTP}, {"metrics", c.Metrics}} {
		if a.address != "" && !isHostPort(a.address) {
			bad(a.name, a.address, "HOST:PORT")
		}
	}
	if isHostPort(c.Listen) && c.TLS == nil && !local(c.Listen) {
		bad("listen", c.Listen, "a loopback address, or a TLS certificate for it: --tls-cert and --tls-key")
	}
	if isHostPort(c.HTTP) && !local(c.HTTP) && !c.HTTPPlain && c.pagesKeeper(c.HTTP, false) == nil {
		bad("http", c.HTTP, "a loopback address, or a TLS certificate: --http-tls-cert and --http-tls-key; where a proxy speaks TLS before it, --http-plain-off-loopback")
	}
	c.deskAddresses(bad)
	if isHostPort(c.Metrics) && !local(c.Metrics) {
		bad("metrics", c.Metrics, "a loopback address: they are for a collector on this machine")
	}
	for _, endpoint := range c.Etcd {
		if !c.EtcdPlain && !c.protectedEndpoint(endpoint) {
			bad("etcd", endpoint, "https://HOST:PORT, a loopback address or a unix socket; --etcd-plain-off-loopback lets records cross the network for all to read")
		}
	}
	if c.Returns.SMTP != "" && c.TLS == nil && !c.Returns.SMTPPlain && !local(c.Returns.SMTP) {
		bad("return-smtp", c.Returns.SMTP, "a loopback address, or a TLS certificate to offer: --tls-cert and --tls-key; --return-smtp-plain-off-loopback takes mail without")
	}
	if c.Returns.LMTP != "" && !local(c.Returns.LMTP) {
		bad("return-lmtp", c.Returns.LMTP, "unix:PATH or a loopback address, for LMTP is not for the network")
	}
	if u := c.Works.PublicURL; u != "" && !protectedURL(u, c.Works.PlainURL) {
		bad("public-url", u, "https://HOST, because what its links say of an owner crosses the network; --public-url-plain-off-loopback lets it be http")
	}
}

// protectedEndpoint says whether what goes to a member of the cluster is
// encrypted or stays on the machine. One without a scheme is TLS where there
// is an authority for it.
func (c Config) protectedEndpoint(endpoint string) bool {
	scheme, rest, found := strings.Cut(endpoint, "://")
	switch {
	case !found && strings.HasPrefix(endpoint, "unix:"), scheme == "unix", scheme == "unixs":
		return true
	case !found:
		return local(endpoint) || c.EtcdTLS != nil && isHostPort(endpoint)
	case scheme == "https":
		return true
	}
	return scheme == "http" && local(rest)
}

// protectedURL says whether what owners open is encrypted on its way.
func protectedURL(text string, plain bool) bool {
	u, err := url.Parse(text)
	if err != nil || u.Hostname() == "" {
		return false
	}
	return u.Scheme == "https" || u.Scheme == "http" && (plain || localHost(u.Hostname()))
}

// local reports whether an address never leaves the machine.
func local(address string) bool {
	if strings.HasPrefix(address, "unix:") {
		return true
	}
	host, _, err := net.SplitHostPort(address)
	return err == nil && localHost(host)
}

// localHost believes but one name: any other is whatever the resolver says
// today.
func localHost(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func isHostPort(address string) bool {
	_, port, err := net.SplitHostPort(address)
	return err == nil && port != "" && !strings.HasPrefix(address, "unix:")
}
