package works

import (
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc"
)

// NewClients makes the clients over connections of a test's own.
func NewClients(to func(service string) grpc.ClientConnInterface) Clients { return newClients(to) }

// RegisteredServices are the services on the process's server, whoever put them
// there.
func (p *Process) RegisteredServices() map[string]grpc.ServiceInfo { return p.server.Services() }

// LoadEnquiries enters the demo's notes and enquiries.
var LoadEnquiries = loadEnquiries

// MakeDealer makes the demo's dealer.
var MakeDealer = makeDealer

// Etcd gives the process's store, to look what stands in it.
func (p *Process) Etcd() *clientv3.Client { return p.client }

// Within gives the connection for clients in the process.
func (p *Process) Within() *grpc.ClientConn { return p.server.InProcess() }
