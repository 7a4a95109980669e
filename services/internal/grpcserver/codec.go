package grpcserver

import (
	"errors"
	"fmt"

	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	_ "google.golang.org/grpc/encoding/proto" // registers the codec below
)

// MaxDepth is how deep the messages of a request may lie in each other. Ours
// lie less than ten deep; protobuf's own limit of 10,000 lets a megabyte of
// nesting take a great deal more memory and stack than that.
const MaxDepth = 100

// MaxMessages is how many messages a request may hold, those within each other
// counted. The largest of ours, a chunk of an import, holds some ten thousand.
// One that is empty takes two bytes on the way, next to nothing where the
// client compresses, and some hundred bytes here: without a limit a mebibyte of
// them took two hundred, for anybody, since a request is read before the gate
// sees who sent it.
const MaxMessages = 30_000

// smallest is what a message takes on the way at least: its tag and its length.
const smallest = 2

var errMessages = errors.New("the request holds too many messages")

// shallow is gRPC's codec for protobuf, but that it refuses what is nested
// deeper than MaxDepth, and what holds more than MaxMessages.
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
	raw := whole.ReadOnlyData()
	if len(raw) > smallest*MaxMessages { // what is shorter cannot hold too many
		if left := MaxMessages; !bearable(raw, m.ProtoReflect().Descriptor(), MaxDepth, &left) {
			return errMessages
		}
	}
	return proto.UnmarshalOptions{RecursionLimit: MaxDepth}.Unmarshal(raw, m)
}

// bearable counts the messages in a message, down from left, and gives false when
// there are more. What cannot be read, or lies too deep, it leaves to
// Unmarshal, which refuses it.
func bearable(raw []byte, of protoreflect.MessageDescriptor, depth int, left *int) bool {
	if depth == 0 {
		return true
	}
	for len(raw) > 0 {
		number, kind, n := protowire.ConsumeTag(raw)
		if n < 0 {
			return true
		}
		raw = raw[n:]
		if n = protowire.ConsumeFieldValue(number, kind, raw); n < 0 {
			return true
		}
		value := raw[:n]
		raw = raw[n:]
		if kind != protowire.BytesType {
			continue
		}
		field := of.Fields().ByNumber(number)
		if field == nil || field.Message() == nil {
			continue
		}
		if *left--; *left < 0 {
			return false
		}
		inner, _ := protowire.ConsumeBytes(value)
		if !bearable(inner, field.Message(), depth-1, left) {
			return false
		}
	}
	return true
}
