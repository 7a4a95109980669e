// Package grpcserver builds the one gRPC server of a process: on TCP, on a
// unix socket and in the process itself, with the same gate before all of
// them.
package grpcserver

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/test/bufconn"
)

// Limits that clients can rely on.
const (
	MaxRequestBytes = 1 << 20 // a request; larger things are sent in parts
	MaxAnswerBytes  = 4 << 20 // an answer; gRPC clients take no more by default

	defaultDeadline  = 10 * time.Second
	defaultStopLimit = time.Second
	pingEvery        = 2 * time.Minute
	pingAnswer       = 20 * time.Second
	pingAtLeast      = 30 * time.Second
)

// Gate is access control. Its interceptors see a call before any service
// does and refuse it with errors of services/fault; the kind of connection
// is what Transport(ctx) says.
type Gate interface {
	Unary() grpc.UnaryServerInterceptor
	Stream() grpc.StreamServerInterceptor
}

// Config is all optional but Gate: without one, every call is refused.
type Config struct {
	Gate        Gate
	Logger      *slog.Logger             // nil: say nothing
	DeadlineCap time.Duration            // the longest a unary call may take; 0: 10 s
	Deadlines   map[string]time.Duration // other caps, by full method, "/pkg.Service/Method"
	Reflection  bool                     // let clients list the services
	TLS         *tls.Config              // for TCP connections; nil: none
	StopLimit   time.Duration            // how long calls may finish at the end; 0: 1 s
	Limits      Limits                   // of what comes from outside
}

// Server is one gRPC server. Register services, then Listen, then Serve.
type Server struct {
	outside   *grpc.Server // on the listeners, with the limits
	inside    *grpc.Server // for this process itself
	limits    Limits
	health    *health.Server
	logger    *slog.Logger
	stopLimit time.Duration

	buffer    *bufconn.Listener
	inProcess *grpc.ClientConn

	mu        sync.Mutex
	listeners []net.Listener
	stopping  context.Context // done when the end has begun: streams leave then
	stop      context.CancelFunc
	stopOnce  sync.Once
}

// New builds the server with a health service that says NOT_SERVING until
// Serve runs.
func New(c Config) *Server {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.DeadlineCap == 0 {
		c.DeadlineCap = defaultDeadline
	}
	if c.StopLimit == 0 {
		c.StopLimit = defaultStopLimit
	}
	s := &Server{logger: c.Logger, stopLimit: c.StopLimit, limits: c.Limits.normal(), health: health.NewServer(), buffer: bufconn.Listen(256 << 10)}
	s.stopping, s.stop = context.WithCancel(context.Background())
	i := newInterceptors(c, s.stopping)
	common := []grpc.ServerOption{
		grpc.UnaryInterceptor(i.unary), grpc.StreamInterceptor(i.stream), grpc.ForceServerCodecV2(newCodec()),
		grpc.MaxRecvMsgSize(MaxRequestBytes), grpc.MaxSendMsgSize(MaxAnswerBytes),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: pingAtLeast, PermitWithoutStream: true}),
	}
	s.outside = grpc.NewServer(append(append(s.limits.options(), grpc.Creds(perTransport{c.TLS})), common...)...)
	s.inside = grpc.NewServer(append(common, grpc.Creds(insecure.NewCredentials()))...)
	s.health.SetServingStatus("", healthgrpc.HealthCheckResponse_NOT_SERVING)
	for _, each := range []*grpc.Server{s.outside, s.inside} {
		healthgrpc.RegisterHealthServer(each, s.health)
		if c.Reflection {
			reflection.Register(each)
		}
	}
	s.inProcess = dialBuffer(s.buffer)
	return s
}

// dialBuffer makes the in-process connection; it connects when first used.
func dialBuffer(l *bufconn.Listener) *grpc.ClientConn {
	conn, err := grpc.NewClient("passthrough:///in-process",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return l.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		// A buffer needs no measuring of its bandwidth, nor pings.
		grpc.WithInitialWindowSize(1<<20), grpc.WithInitialConnWindowSize(1<<20),
	)
	if err != nil {
		panic("grpcserver: a constant target was refused: " + err.Error()) // unreachable
	}
	return conn
}

// ClientKeepalive is the ping setting that the server allows; every client of
// a network connection uses it, to notice a peer that is gone.
func ClientKeepalive() grpc.DialOption {
	return grpc.WithKeepaliveParams(keepalive.ClientParameters{Time: time.Minute, Timeout: pingAnswer, PermitWithoutStream: true})
}

// RegisterService implements grpc.ServiceRegistrar.
func (s *Server) RegisterService(d *grpc.ServiceDesc, impl any) {
	s.outside.RegisterService(d, impl)
	s.inside.RegisterService(d, impl)
}

// Services gives what is registered, by full name, for checks over all
// methods.
func (s *Server) Services() map[string]grpc.ServiceInfo { return s.outside.GetServiceInfo() }

// Health gives the health service, to tell that one service is not well.
func (s *Server) Health() *health.Server { return s.health }

// InProcess gives the connection for clients in this process. It is one and
// the same for all, closed by Close. Calls before Serve wait for it.
func (s *Server) InProcess() *grpc.ClientConn { return s.inProcess }

// Listen opens a listener, network "tcp" or "unix", and gives its address.
// Calls are answered once Serve runs.
func (s *Server) Listen(network, address string) (net.Addr, error) {
	var l net.Listener
	var err error
	if network == "unix" {
		l, err = listenUnix(address)
	} else {
		if l, err = net.Listen(network, address); err == nil {
			l = s.limits.listener(l)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("listen on %s %s: %w", network, address, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.listeners = append(s.listeners, l)
	return l.Addr(), nil
}

// Serve answers calls on every listener until ctx is done or Close is called,
// which is no error, or until a listener breaks. It returns when all calls
// have ended.
func (s *Server) Serve(ctx context.Context) error {
	s.mu.Lock()
	listeners := slices.Clone(s.listeners)
	s.mu.Unlock()

	s.health.Resume()
	s.health.SetServingStatus("", healthgrpc.HealthCheckResponse_SERVING)
	ended := make(chan error, len(listeners)+1)
	go func() { ended <- s.inside.Serve(s.buffer) }()
	for _, l := range listeners {
		go func() { ended <- s.outside.Serve(l) }()
	}
	var errs []error
	left := cap(ended)
	select {
	case <-ctx.Done():
	case <-s.stopping.Done():
	case err := <-ended:
		left--
		errs = append(errs, broken(err))
	}
	s.halt()
	for range left {
		errs = append(errs, broken(<-ended))
	}
	return errors.Join(errs...)
}

// broken tells a listener that failed from one that was stopped.
func broken(err error) error {
	if errors.Is(err, grpc.ErrServerStopped) {
		return nil
	}
	return err
}

// halt lets unary calls finish within the limit and then ends what is left.
// Streams are told at once: a watch never finishes by itself.
func (s *Server) halt() {
	s.stopOnce.Do(func() {
		s.health.Shutdown()
		s.stop()
		late := time.AfterFunc(s.stopLimit, func() {
			s.outside.Stop()
			s.inside.Stop()
		})
		defer late.Stop()
		s.outside.GracefulStop()
		s.inside.GracefulStop() // last: what comes from outside may ask inside
	})
}

// Close stops serving, as the end of Serve's context does, and closes the
// in-process connection. It may be called without Serve and more than once.
func (s *Server) Close() error {
	s.inProcess.Close() // its error says that it was closed before
	s.halt()
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, l := range s.listeners {
		l.Close() // those that Serve took over are closed already
	}
	s.listeners = nil
	return s.buffer.Close()
}
