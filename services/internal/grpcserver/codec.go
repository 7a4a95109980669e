package grpcserver

import (
	"fmt"

	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"

	_ "google.golang.org/grpc/encoding/proto" // registers the codec below
)

// MaxDepth is how deep the messages of a request may lie in each other. Ours
// lie less than ten deep; protobuf's own limit of 10,000 lets a megabyte of
// nesting take a great deal more memory and stack than that.
const MaxDepth = 100

// shallow is gRPC's codec for protobuf, but that it refuses what is nested
// deeper than MaxDepth.
type shallow struct{ encoding.CodecV2 }

func newCodec() encoding.CodecV2 { return shallow{encoding.GetCodecV2("proto")} }

// Unmarshal implements encoding.CodecV2.
func (shallow) Unmarshal(data mem.BufferSlice, v any) error {
	m, ok := v.(proto.Message)
	if !ok {
		return fmt.Errorf("%T is no protobuf message", v)
	}
	whole := data.MaterializeToBuffer(mem.DefaultBufferPool())
	defer whole.Free()
	return proto.UnmarshalOptions{RecursionLimit: MaxDepth}.Unmarshal(whole.ReadOnlyData(), m)
}
