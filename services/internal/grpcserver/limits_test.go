package grpcserver

import (
	"context"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/connectivity"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"
	"google.golang.org/protobuf/types/known/wrapperspb"
)

// soon is a limit that a test waits for; within is how long it may take.
const (
	soon   = 50 * time.Millisecond
	within = 10 * time.Second
)

// limited serves with limits on TCP and gives its address.
func limited(t *testing.T, l Limits, e *echo) (*Server, string) {
	t.Helper()
	s, addrs, _ := serve(t, Config{Gate: &openGate{}, Limits: l}, e, [2]string{"tcp", "127.0.0.1:0"})
	return s, addrs[0].String()
}

func dialTCP(t *testing.T, address string) *grpc.ClientConn {
	t.Helper()
	return dial(t, "passthrough:///"+address, insecure.NewCredentials())
}

func bounded(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), within)
	t.Cleanup(cancel)
	return ctx
}

func TestWhoNeverFinishesTheHandshakeIsCutOff(t *testing.T) {
	_, address := limited(t, Limits{Handshake: soon}, &echo{unary: same})
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetDeadline(time.Now().Add(within))
	if _, err := io.Copy(io.Discard, c); err != nil {
		t.Errorf("got %v, want the end of the connection", err)
	}
}

func TestWhoNeverSendsTheRequestIsCutOff(t *testing.T) {
	_, address := limited(t, Limits{Request: soon}, &echo{unary: same, stream: untilDone})
	cc := dialTCP(t, address)
	for _, method := range []string{echoUnary, echoStream} {
		s, err := cc.NewStream(bounded(t), &grpc.StreamDesc{ClientStreams: true}, method)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.RecvMsg(new(wrapperspb.StringValue)); status.Code(err) != codes.Canceled {
			t.Errorf("%s: got %v, want CANCELED", method, err)
		}
	}
}

func TestWhoSentTheRequestIsServedHoweverLongItTakes(t *testing.T) {
	think := func(ctx context.Context) error {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(4 * soon):
			return nil
		}
	}
	_, address := limited(t, Limits{Request: soon}, &echo{
		unary: func(ctx context.Context, in string) (string, error) { return in, think(ctx) },
		stream: func(ss grpc.ServerStream) error {
			if err := think(ss.Context()); err != nil {
				return err
			}
			return ss.SendMsg(wrapperspb.String("at last"))
		},
	})
	cc := dialTCP(t, address)
	if _, err := call(bounded(t), cc, "x"); err != nil {
		t.Errorf("a call: %v", err)
	}
	if err := openStream(t, bounded(t), cc).RecvMsg(new(wrapperspb.StringValue)); err != nil {
		t.Errorf("a stream: %v", err)
	}
}

func TestWhoNeverTakesTheAnswersOfAStreamIsCutOff(t *testing.T) {
	big := strings.Repeat("x", 1<<20)
	cut := make(chan error, 1)
	_, address := limited(t, Limits{Answer: soon}, &echo{unary: same, stream: func(ss grpc.ServerStream) error {
		for {
			if err := ss.SendMsg(wrapperspb.String(big)); err != nil {
				cut <- err
				return err
			}
		}
	}})
	openStream(t, bounded(t), dialTCP(t, address))
	select {
	case <-cut:
	case <-time.After(within):
		t.Error("a stream whose answers nobody takes goes on")
	}
}

func TestOneConnectionCarriesSoManyCallsAtOnce(t *testing.T) {
	const limit = 2
	begun, release := make(chan struct{}, limit+1), make(chan struct{})
	_, address := limited(t, Limits{Streams: limit}, &echo{unary: func(context.Context, string) (string, error) {
		begun <- struct{}{}
		<-release
		return "", nil
	}})
	cc := dialTCP(t, address)
	if err := cc.Invoke(bounded(t), "/test.Echo/None", wrapperspb.String(""), new(wrapperspb.StringValue)); status.Code(err) != codes.Unimplemented {
		t.Fatal(err) // the connection is up now, and the client knows the limit
	}
	done := make(chan error, limit)
	for range limit {
		go func() {
			_, err := call(bounded(t), cc, "")
			done <- err
		}()
	}
	for range limit {
		<-begun
	}
	// One more waits until there is room, here longer than it wants to.
	short, cancel := context.WithTimeout(t.Context(), soon)
	defer cancel()
	if _, err := call(short, cc, ""); status.Code(err) != codes.DeadlineExceeded || len(begun) > 0 {
		t.Errorf("a call beyond the limit: %v, begun %v", err, len(begun) > 0)
	}
	close(release)
	for range limit {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if _, err := call(bounded(t), cc, ""); err != nil {
		t.Errorf("when there is room again: %v", err)
	}
}

func TestOneAddressMayHoldSoManyConnections(t *testing.T) {
	_, address := limited(t, Limits{PerAddress: 2}, &echo{unary: same})
	// open says whether the server takes a connection: it then sends its settings.
	open := func() (net.Conn, bool) {
		c, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		c.SetDeadline(time.Now().Add(within))
		_, err = c.Read(make([]byte, 1))
		return c, err == nil
	}
	first, ok1 := open()
	_, ok2 := open()
	if _, ok3 := open(); !ok1 || !ok2 || ok3 {
		t.Errorf("taken: %v, %v, and a third %v", ok1, ok2, ok3)
	}
	first.Close()
	for end := time.Now().Add(within); ; {
		if _, ok := open(); ok {
			break
		}
		if time.Now().After(end) {
			t.Fatal("the place of a connection that is closed is not given back")
		}
	}
}

func TestHeadersThatAreTooLongAreRefusedFromOutsideOnly(t *testing.T) {
	s, address := limited(t, Limits{}, &echo{unary: same})
	long := metadata.NewOutgoingContext(bounded(t), metadata.Pairs("x", strings.Repeat("y", 17<<10)))
	if _, err := call(long, dialTCP(t, address), ""); err == nil {
		t.Error("17 KiB of headers passed")
	}
	if _, err := call(long, s.InProcess(), ""); err != nil {
		t.Errorf("within the process: %v", err)
	}
}

func TestAConnectionEndsWithItsAgeAndWhenNobodyUsesIt(t *testing.T) {
	_, address := limited(t, Limits{Age: soon, AgeGrace: soon}, &echo{unary: same, stream: untilDone})
	s := openStream(t, bounded(t), dialTCP(t, address))
	var err error
	for err == nil {
		err = s.RecvMsg(new(wrapperspb.StringValue))
	}
	if status.Code(err) != codes.Unavailable && status.Code(err) != codes.Canceled {
		t.Errorf("a stream over an old connection: got %v", err)
	}

	_, address = limited(t, Limits{Idle: soon}, &echo{unary: same})
	cc := dialTCP(t, address)
	if _, err := call(bounded(t), cc, ""); err != nil {
		t.Fatal(err)
	}
	if !cc.WaitForStateChange(bounded(t), connectivity.Ready) {
		t.Error("an idle connection stays")
	}
}

// deep is a message of so many levels: a value in a list in a value.
func deep(levels int) *structpb.Value {
	v := structpb.NewBoolValue(true)
	for range levels / 2 {
		v = structpb.NewListValue(&structpb.ListValue{Values: []*structpb.Value{v}})
	}
	return v
}

func TestWhatIsNestedTooDeepIsRefused(t *testing.T) {
	s := New(Config{Gate: &openGate{}})
	got := make(chan struct{}, 1)
	s.RegisterService(&grpc.ServiceDesc{ServiceName: "test.Deep", HandlerType: (*any)(nil), Methods: []grpc.MethodDesc{{
		MethodName: "Take", Handler: func(_ any, _ context.Context, dec func(any) error, _ grpc.UnaryServerInterceptor) (any, error) {
			in := new(structpb.Value)
			if err := dec(in); err != nil {
				return nil, err
			}
			got <- struct{}{}
			return in, nil
		},
	}}}, nil)
	address, err := s.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(context.Background()) }()
	defer func() {
		s.Close()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	for name, cc := range map[string]*grpc.ClientConn{"outside": dialTCP(t, address.String()), "inside": s.InProcess()} {
		for levels, want := range map[int]codes.Code{2: codes.OK, MaxDepth - 2: codes.OK, MaxDepth + 2: codes.Internal, 5000: codes.Internal} {
			in, out := deep(levels), new(structpb.Value)
			err := cc.Invoke(bounded(t), "/test.Deep/Take", in, out)
			if status.Code(err) != want {
				t.Errorf("%s, %d levels: got %v, want %v", name, levels, err, want)
			}
			if err == nil {
				<-got
				if !proto.Equal(in, out) {
					t.Errorf("%s, %d levels: another message came back", name, levels)
				}
			}
		}
	}
	select {
	case <-got:
		t.Error("the method saw a message that is too deep")
	default:
	}
}
