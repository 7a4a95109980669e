package grpcserver

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	reflectiongrpc "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/selfsigned"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// openGate lets everyone in and notes what it saw.
type openGate struct {
	mu     sync.Mutex
	seen   []string // transports
	errs   []error  // what the handlers answered
	refuse error
}

func (g *openGate) enter(ctx context.Context) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.seen = append(g.seen, Transport(ctx))
	return g.refuse
}

func (g *openGate) leave(err error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.errs = append(g.errs, err)
}

func (g *openGate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
		if err := g.enter(ctx); err != nil {
			return nil, err
		}
		resp, err := h(ctx, req)
		g.leave(err)
		return resp, err
	}
}

func (g *openGate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
		if err := g.enter(ss.Context()); err != nil {
			return err
		}
		err := h(srv, ss)
		g.leave(err)
		return err
	}
}

// echo is a service whose one unary and one streaming method do what the test
// says. Its messages are StringValues, so it needs no generated code.
type echo struct {
	unary  func(context.Context, string) (string, error)
	stream func(grpc.ServerStream) error
}

const echoUnary, echoStream = "/test.Echo/Unary", "/test.Echo/Stream"

func (e *echo) desc() *grpc.ServiceDesc {
	return &grpc.ServiceDesc{
		ServiceName: "test.Echo", HandlerType: (*any)(nil),
		Methods: []grpc.MethodDesc{{MethodName: "Unary", Handler: func(srv any, ctx context.Context, dec func(any) error, icpt grpc.UnaryServerInterceptor) (any, error) {
			in := new(wrapperspb.StringValue)
			if err := dec(in); err != nil {
				return nil, err
			}
			h := func(ctx context.Context, req any) (any, error) {
				s, err := e.unary(ctx, req.(*wrapperspb.StringValue).Value)
				return wrapperspb.String(s), err
			}
			if icpt == nil {
				return h(ctx, in)
			}
			return icpt(ctx, in, &grpc.UnaryServerInfo{Server: srv, FullMethod: echoUnary}, h)
		}}},
		Streams: []grpc.StreamDesc{{StreamName: "Stream", ServerStreams: true, Handler: func(_ any, ss grpc.ServerStream) error {
			if err := ss.RecvMsg(new(wrapperspb.StringValue)); err != nil {
				return err
			}
			return e.stream(ss)
		}}},
	}
}

func same(_ context.Context, s string) (string, error) { return s, nil }

func untilDone(ss grpc.ServerStream) error {
	if err := ss.SendMsg(wrapperspb.String("begun")); err != nil {
		return err
	}
	<-ss.Context().Done()
	return ss.Context().Err()
}

// serve runs a server with the echo service until the test ends.
func serve(t testing.TB, c Config, e *echo, listeners ...[2]string) (s *Server, addrs []net.Addr, ended chan error) {
	t.Helper()
	s = New(c)
	s.RegisterService(e.desc(), e)
	for _, l := range listeners {
		addr, err := s.Listen(l[0], l[1])
		if err != nil {
			t.Fatal(err)
		}
		addrs = append(addrs, addr)
	}
	ended = make(chan error, 1)
	go func() { ended <- s.Serve(context.Background()) }()
	t.Cleanup(func() {
		s.Close()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		ended <- nil
	})
	return s, addrs, ended
}

func call(ctx context.Context, cc grpc.ClientConnInterface, s string) (string, error) {
	out := new(wrapperspb.StringValue)
	err := cc.Invoke(ctx, echoUnary, wrapperspb.String(s), out)
	return out.Value, err
}

func openStream(t *testing.T, ctx context.Context, cc grpc.ClientConnInterface) grpc.ClientStream {
	t.Helper()
	s, err := cc.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, echoStream)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SendMsg(wrapperspb.String("")); err != nil {
		t.Fatal(err)
	}
	if err := s.CloseSend(); err != nil {
		t.Fatal(err)
	}
	return s
}

func dial(t *testing.T, target string, creds credentials.TransportCredentials) *grpc.ClientConn {
	t.Helper()
	cc, err := grpc.NewClient(target, grpc.WithTransportCredentials(creds), ClientKeepalive())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cc.Close() })
	return cc
}

func TestTheGateSeesByWhatConnectionACallCame(t *testing.T) {
	gate := &openGate{}
	sock := filepath.Join(t.TempDir(), "s")
	s, addrs, _ := serve(t, Config{Gate: gate}, &echo{unary: same, stream: func(grpc.ServerStream) error { return nil }},
		[2]string{"tcp", "127.0.0.1:0"}, [2]string{"unix", sock})
	for want, cc := range map[string]*grpc.ClientConn{
		"bufconn": s.InProcess(),
		"tcp":     dial(t, "passthrough:///"+addrs[0].String(), insecure.NewCredentials()),
		"unix":    dial(t, "unix:"+sock, insecure.NewCredentials()),
	} {
		gate.seen = nil
		if got, err := call(t.Context(), cc, "hello"); got != "hello" || err != nil {
			t.Fatalf("%s: %q, %v", want, got, err)
		}
		if err := openStream(t, t.Context(), cc).RecvMsg(new(wrapperspb.StringValue)); err == nil {
			t.Error("the stream has an answer")
		}
		if len(gate.seen) != 2 || gate.seen[0] != want || gate.seen[1] != want {
			t.Errorf("the gate saw %v, want %s twice", gate.seen, want)
		}
	}
	if info, err := os.Stat(sock); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the socket's mode is %v, %v", info.Mode(), err)
	}
}

func TestWithoutAGateNobodyGetsIn(t *testing.T) {
	reached := false
	s, _, _ := serve(t, Config{}, &echo{
		unary:  func(context.Context, string) (string, error) { reached = true; return "", nil },
		stream: func(grpc.ServerStream) error { reached = true; return nil },
	})
	_, err := call(t.Context(), s.InProcess(), "x")
	if f := rpcerr.FromStatus(err); f == nil || f.Kind != fault.Denied {
		t.Errorf("got %v", err)
	}
	err = openStream(t, t.Context(), s.InProcess()).RecvMsg(new(wrapperspb.StringValue))
	if status.Code(err) != codes.PermissionDenied {
		t.Errorf("the stream: %v", err)
	}
	if reached {
		t.Error("the handler was reached")
	}
}

func TestRefusalsOfGateAndHandlerReachTheCallerAsFaults(t *testing.T) {
	gate := &openGate{}
	s, _, _ := serve(t, Config{Gate: gate}, &echo{
		unary: func(context.Context, string) (string, error) {
			return "half", fault.InvalidField("serial", "x", "a serial")
		},
		stream: func(grpc.ServerStream) error { return fault.New(fault.NotFound, "NO_BUILD", "no such build") },
	})
	_, err := call(t.Context(), s.InProcess(), "x")
	if f := rpcerr.FromStatus(err); f.Kind != fault.Invalid || len(f.Fields) != 1 || f.Fields[0].Name != "serial" {
		t.Errorf("got %#v", f)
	}
	err = openStream(t, t.Context(), s.InProcess()).RecvMsg(new(wrapperspb.StringValue))
	if f := rpcerr.FromStatus(err); f.Reason != "NO_BUILD" {
		t.Errorf("got %#v", f)
	}
	gate.refuse = fault.New(fault.Unauthenticated, "NO_KEY", "no key was given")
	_, err = call(t.Context(), s.InProcess(), "x")
	if f := rpcerr.FromStatus(err); f.Kind != fault.Unauthenticated || f.Reason != "NO_KEY" {
		t.Errorf("got %#v", f)
	}
}

func TestAPanicEndsItsCallOnlyAndTheGateHearsOfIt(t *testing.T) {
	var mu sync.Mutex
	var log bytes.Buffer
	gate := &openGate{}
	s, _, _ := serve(t, Config{Gate: gate, Logger: slog.New(slog.NewTextHandler(lockedWriter{&mu, &log}, nil))}, &echo{
		unary: func(_ context.Context, in string) (string, error) {
			if in == "bad" {
				panic("secret in the panic")
			}
			return in, nil
		},
		stream: func(grpc.ServerStream) error { panic("secret in the stream") },
	})
	_, err := call(t.Context(), s.InProcess(), "bad")
	if status.Code(err) != codes.Internal || strings.Contains(err.Error(), "secret") {
		t.Errorf("got %v", err)
	}
	err = openStream(t, t.Context(), s.InProcess()).RecvMsg(new(wrapperspb.StringValue))
	if status.Code(err) != codes.Internal || strings.Contains(err.Error(), "secret") {
		t.Errorf("got %v", err)
	}
	if got, err := call(t.Context(), s.InProcess(), "good"); got != "good" || err != nil {
		t.Errorf("the next call: %q, %v", got, err)
	}
	gate.mu.Lock()
	if len(gate.errs) != 3 || gate.errs[0] == nil || gate.errs[1] == nil || gate.errs[2] != nil {
		t.Errorf("the gate heard %v", gate.errs)
	}
	gate.mu.Unlock()
	mu.Lock()
	defer mu.Unlock()
	for _, want := range []string{"secret in the panic", "secret in the stream", "server_test.go", "method=" + echoUnary, "code=Internal"} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("the log lacks %s", want)
		}
	}
}

type lockedWriter struct {
	mu *sync.Mutex
	b  *bytes.Buffer
}

func (w lockedWriter) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.b.Write(p)
}

func TestTheLogNamesCallsAndNeverTheirContent(t *testing.T) {
	var mu sync.Mutex
	var log bytes.Buffer
	s, _, _ := serve(t, Config{Gate: &openGate{}, Logger: slog.New(slog.NewTextHandler(lockedWriter{&mu, &log}, &slog.HandlerOptions{Level: slog.LevelDebug}))}, &echo{unary: same})
	if _, err := call(t.Context(), s.InProcess(), "her telephone number"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	mu.Lock()
	defer mu.Unlock()
	if got := log.String(); !strings.Contains(got, "code=OK") || strings.Contains(got, "telephone") {
		t.Errorf("the log says %s", got)
	}
}

func TestADeadlineIsCappedAndMayBeLongerForOneMethod(t *testing.T) {
	left := make(chan time.Duration, 1)
	handler := &echo{unary: func(ctx context.Context, _ string) (string, error) {
		d, ok := ctx.Deadline()
		if !ok {
			t.Error("no deadline")
		}
		left <- time.Until(d)
		return "", nil
	}}
	for name, c := range map[string]struct {
		config  Config
		caller  time.Duration // 0: none
		atMost  time.Duration
		atLeast time.Duration
	}{
		"ten seconds when nobody says anything":  {Config{}, 0, 10 * time.Second, 5 * time.Second},
		"the server's cap before the caller's":   {Config{DeadlineCap: time.Minute}, time.Hour, time.Minute, 30 * time.Second},
		"the caller's before the server's":       {Config{DeadlineCap: time.Hour}, time.Minute, time.Minute, 0},
		"a method's own cap before the server's": {Config{Deadlines: map[string]time.Duration{echoUnary: time.Hour}}, 0, time.Hour, 30 * time.Minute},
	} {
		t.Run(name, func(t *testing.T) {
			c.config.Gate = &openGate{}
			s, _, _ := serve(t, c.config, handler)
			ctx, cancel := context.WithCancel(t.Context())
			if c.caller > 0 {
				ctx, cancel = context.WithTimeout(ctx, c.caller)
			}
			defer cancel()
			if _, err := call(ctx, s.InProcess(), ""); err != nil {
				t.Fatal(err)
			}
			if got := <-left; got > c.atMost || got < c.atLeast {
				t.Errorf("%v are left, want %v to %v", got, c.atLeast, c.atMost)
			}
		})
	}
}

func TestAHandlerThatOverrunsItsDeadlineIsAnsweredAsSuch(t *testing.T) {
	s, _, _ := serve(t, Config{Gate: &openGate{}, DeadlineCap: time.Millisecond}, &echo{
		unary: func(ctx context.Context, _ string) (string, error) { <-ctx.Done(); return "", ctx.Err() },
	})
	if _, err := call(t.Context(), s.InProcess(), ""); status.Code(err) != codes.DeadlineExceeded {
		t.Errorf("got %v", err)
	}
}

func TestARequestOverOneMebibyteIsRefused(t *testing.T) {
	s, _, _ := serve(t, Config{Gate: &openGate{}}, &echo{unary: func(context.Context, string) (string, error) { return "", nil }})
	if _, err := call(t.Context(), s.InProcess(), strings.Repeat("x", 1<<20)); status.Code(err) != codes.ResourceExhausted {
		t.Errorf("got %v", err)
	}
	if _, err := call(t.Context(), s.InProcess(), strings.Repeat("x", 1<<20-16)); err != nil {
		t.Errorf("just below: %v", err)
	}
}

func TestTheEndLetsCallsFinishAndTellsStreamsToComeAgain(t *testing.T) {
	begun, finish := make(chan struct{}), make(chan struct{})
	s, _, ended := serve(t, Config{Gate: &openGate{}, StopLimit: time.Hour}, &echo{
		unary:  func(context.Context, string) (string, error) { close(begun); <-finish; return "finished", nil },
		stream: untilDone,
	})
	// A connection that stays while the server ends, unlike the in-process one.
	l, err := s.Listen("unix", filepath.Join(t.TempDir(), "late"))
	if err != nil {
		t.Fatal(err)
	}
	_ = l // opened after Serve, so never served; Close must close it all the same
	stream := openStream(t, t.Context(), s.InProcess())
	if err := stream.RecvMsg(new(wrapperspb.StringValue)); err != nil {
		t.Fatal(err)
	}
	watch, err := healthgrpc.NewHealthClient(s.InProcess()).Watch(t.Context(), &healthgrpc.HealthCheckRequest{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := watch.Recv(); err != nil {
		t.Fatal(err)
	}
	answer := make(chan string, 1)
	go func() {
		got, err := call(context.Background(), s.InProcess(), "")
		if err != nil {
			t.Error(err)
		}
		answer <- got
	}()
	<-begun
	go s.halt()
	err = stream.RecvMsg(new(wrapperspb.StringValue))
	if f := rpcerr.FromStatus(err); f == nil || f.Reason != "SERVER_STOPPING" || f.Kind != fault.Unavailable {
		t.Errorf("the stream ended with %v", err)
	}
	close(finish)
	if got := <-answer; got != "finished" {
		t.Errorf("the call was answered %q", got)
	}
	if err := <-ended; err != nil { // with an hour's limit: nothing was cut off
		t.Error(err)
	}
	ended <- nil
}

func TestACallThatNeverFinishesIsCutOffAtTheLimit(t *testing.T) {
	begun := make(chan struct{})
	s, _, ended := serve(t, Config{Gate: &openGate{}, StopLimit: time.Millisecond}, &echo{
		unary: func(ctx context.Context, _ string) (string, error) { close(begun); <-ctx.Done(); return "", ctx.Err() },
	})
	failed := make(chan error, 1)
	go func() { _, err := call(context.Background(), s.InProcess(), ""); failed <- err }()
	<-begun
	s.halt()
	if err := <-failed; err == nil {
		t.Error("it was answered")
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
	ended <- nil
}

func TestTheContextOfServeEndsIt(t *testing.T) {
	s := New(Config{Gate: &openGate{}})
	defer s.Close()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Serve(ctx); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func TestAServerThatNeverServedCanBeClosed(t *testing.T) {
	s := New(Config{})
	sock := filepath.Join(t.TempDir(), "s")
	if _, err := s.Listen("unix", sock); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(sock); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket is left: %v", err)
	}
}

func TestHealthIsWellWhileServing(t *testing.T) {
	s, _, _ := serve(t, Config{Gate: &openGate{}}, &echo{unary: same})
	resp, err := healthgrpc.NewHealthClient(s.InProcess()).Check(t.Context(), &healthgrpc.HealthCheckRequest{})
	if err != nil || resp.Status != healthgrpc.HealthCheckResponse_SERVING {
		t.Errorf("%v, %v", resp, err)
	}
}

func TestReflectionIsThereOnlyWhenAskedFor(t *testing.T) {
	name := reflectiongrpc.ServerReflection_ServiceDesc.ServiceName
	for _, on := range []bool{true, false} {
		s := New(Config{Reflection: on})
		if _, got := s.Services()[name]; got != on {
			t.Errorf("with %v it is %v", on, got)
		}
		s.Close()
	}
}

func TestADeadSocketIsReplacedALivingOneIsNot(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run", "s")
	if err := os.Mkdir(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	dead, err := net.ListenUnix("unix", &net.UnixAddr{Name: path, Net: "unix"})
	if err != nil {
		t.Fatal(err)
	}
	dead.SetUnlinkOnClose(false) // as a killed process leaves it
	dead.Close()

	first, second := New(Config{}), New(Config{})
	defer first.Close()
	defer second.Close()
	if _, err := first.Listen("unix", path); err != nil {
		t.Fatal(err)
	}
	_, err = second.Listen("unix", path)
	var f *fault.Error
	if !errors.As(err, &f) || f.Reason != "SOCKET_IN_USE" {
		t.Errorf("got %v", err)
	}
	file := filepath.Join(filepath.Dir(path), "precious")
	if err := os.WriteFile(file, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := second.Listen("unix", file); err == nil {
		t.Error("a file was taken for a socket")
	}
	if _, err := os.Stat(file); err != nil {
		t.Error(err)
	}
}

func TestTLSIsForTCPAndTheOthersStayPlain(t *testing.T) {
	cert, pool := selfsigned.New(t, "works.example")
	sock := filepath.Join(t.TempDir(), "s")
	s, addrs, _ := serve(t, Config{Gate: &openGate{}, TLS: &tls.Config{Certificates: []tls.Certificate{cert}}}, &echo{unary: same},
		[2]string{"tcp", "127.0.0.1:0"}, [2]string{"unix", sock})
	tcp := "passthrough:///" + addrs[0].String()
	for name, cc := range map[string]*grpc.ClientConn{
		"TLS over TCP":      dial(t, tcp, credentials.NewTLS(&tls.Config{RootCAs: pool, ServerName: "works.example"})),
		"plain over a unix": dial(t, "unix:"+sock, insecure.NewCredentials()),
		"plain in process":  s.InProcess(),
	} {
		if got, err := call(t.Context(), cc, "x"); got != "x" || err != nil {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	if _, err := call(t.Context(), dial(t, tcp, insecure.NewCredentials()), "x"); err == nil {
		t.Error("plain over TCP was answered")
	}
}

func TestOnlyAVerifiedCertificateCountsAsOne(t *testing.T) {
	cert, pool := selfsigned.New(t, "works.example")
	seen := make(chan bool, 1)
	for name, c := range map[string]struct {
		demand tls.ClientAuthType
		shown  []tls.Certificate
		want   bool
	}{
		"shown and verified":     {tls.VerifyClientCertIfGiven, []tls.Certificate{cert}, true},
		"not shown":              {tls.VerifyClientCertIfGiven, nil, false},
		"shown but not verified": {tls.RequireAnyClientCert, []tls.Certificate{cert}, false},
		"not asked for":          {tls.NoClientCert, []tls.Certificate{cert}, false},
	} {
		t.Run(name, func(t *testing.T) {
			server := &tls.Config{Certificates: []tls.Certificate{cert}, ClientCAs: pool, ClientAuth: c.demand}
			s, addrs, _ := serve(t, Config{Gate: &openGate{}, TLS: server}, &echo{
				unary: func(ctx context.Context, in string) (string, error) { seen <- Certified(ctx); return in, nil },
			}, [2]string{"tcp", "127.0.0.1:0"})
			over := dial(t, "passthrough:///"+addrs[0].String(), credentials.NewTLS(&tls.Config{RootCAs: pool, ServerName: "works.example", Certificates: c.shown}))
			for cc, want := range map[*grpc.ClientConn]bool{over: c.want, s.InProcess(): false} {
				if _, err := call(t.Context(), cc, "x"); err != nil {
					t.Fatal(err)
				}
				if got := <-seen; got != want {
					t.Errorf("got %v, want %v", got, want)
				}
			}
		})
	}
}

// BenchmarkEmptyCall prints what an empty call costs through the interceptors
// and an open gate against the same call to a bare gRPC server, in turn, both
// over an in-process connection.
func BenchmarkEmptyCall(b *testing.B) {
	e := &echo{unary: same}
	ours, _, _ := serve(b, Config{Gate: passGate{}}, e)
	bare := bareServer(b, e)
	in, out := wrapperspb.String(""), new(wrapperspb.StringValue)
	once := func(cc *grpc.ClientConn) time.Duration {
		begin := time.Now()
		if err := cc.Invoke(b.Context(), echoUnary, in, out); err != nil {
			b.Fatal(err)
		}
		return time.Since(begin)
	}
	once(ours.InProcess())
	once(bare)
	var through, plain time.Duration
	n := 0
	for b.Loop() {
		n++
		plain += once(bare)
		through += once(ours.InProcess())
	}
	b.ReportMetric(float64(through)/float64(plain), "x-bare-call")
	b.ReportMetric(float64(through.Nanoseconds())/float64(n)/1000, "µs/call")
}

type passGate struct{}

func (passGate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
		return h(ctx, req)
	}
}

func (passGate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
		return h(srv, ss)
	}
}
