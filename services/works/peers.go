package works

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"

	"halfshaft/services/access/accessgate"
	"halfshaft/services/fault"
	"halfshaft/services/internal/grpcserver"
)

// peers are the connections of this process to the services it calls: itself
// for those it runs, the network for the others. Each address is dialled once.
type peers struct {
	own        grpc.ClientConnInterface
	mine       map[string]bool
	addresses  map[string]string
	serviceKey string
	dialled    map[string]*grpc.ClientConn
}

// dial opens the connections; they connect when first used, and again whenever
// the peer comes back. unfit hears of a peer whose certificate will not do.
func (c Config) dial(own grpc.ClientConnInterface, unfit func(error)) (*peers, error) {
	p := &peers{
		own: accessgate.Forward(own, ""), mine: map[string]bool{}, addresses: c.Peers,
		serviceKey: c.ServiceKey, dialled: map[string]*grpc.ClientConn{},
	}
	for _, s := range c.Services {
		p.mine[s] = true
	}
	for service, address := range c.Peers {
		if p.mine[service] || p.dialled[address] != nil {
			continue
		}
		conn, err := dial(address, c.PeerTLS, func(err error) {
			c.Logger.Error("a peer's TLS certificate is refused", "address", address, "error", err)
			unfit(fault.New(fault.FailedPrecondition, "PEER_UNFIT", "The peer at %s is refused: %v", address, err))
		})
		if err != nil {
			return nil, errors.Join(fmt.Errorf("peer %s: %w", service, err), p.close())
		}
		p.dialled[address] = conn
	}
	return p, nil
}

// to gives the connection to one service.
func (p *peers) to(service string) grpc.ClientConnInterface {
	if p.mine[service] {
		return p.own
	}
	if conn := p.dialled[p.addresses[service]]; conn != nil {
		return accessgate.Forward(conn, p.serviceKey)
	}
	return p.own // not called: answers UNIMPLEMENTED
}

func (p *peers) close() error {
	var errs []error
	for _, conn := range p.dialled {
		errs = append(errs, conn.Close())
	}
	return errors.Join(errs...)
}

// Dial connects to a server at "host:port" or "unix:PATH". Without TLS only
// addresses that never leave the machine are dialled.
func Dial(address string, secure *tls.Config) (*grpc.ClientConn, error) {
	return dial(address, secure, func(error) {})
}

func dial(address string, secure *tls.Config, unfit func(error)) (*grpc.ClientConn, error) {
	var creds credentials.TransportCredentials
	target := "dns:///" + address
	switch _, _, err := net.SplitHostPort(address); {
	case strings.HasPrefix(address, "unix:"):
		creds, target = insecure.NewCredentials(), address
	case err != nil:
		return nil, fault.InvalidField("server", address, "HOST:PORT or unix:PATH")
	case secure != nil:
		creds = watchedTLS{credentials.NewTLS(secure), unfit}
	case local(address):
		creds = newPlainText()
	default:
		return nil, fmt.Errorf("%s is not on this machine: give the certificate authority of its TLS certificate", address)
	}
	return grpc.NewClient(target, grpc.WithTransportCredentials(creds), grpcserver.ClientKeepalive(),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(grpcserver.MaxAnswerBytes)))
}
