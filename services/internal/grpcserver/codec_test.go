package grpcserver

import (
	"bytes"
	"errors"
	"runtime"
	"testing"

	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/structpb"
)

func unmarshal(t *testing.T, raw []byte, into proto.Message) error {
	t.Helper()
	return newCodec().Unmarshal(mem.BufferSlice{mem.SliceBuffer(raw)}, into)
}

// manyValues is a list of so many empty values, within another or not.
func manyValues(n int) []byte { return bytes.Repeat([]byte{1<<3 | 2, 0}, n) }

func TestWhatHoldsVeryManyMessagesIsRefusedBeforeItTakesMemory(t *testing.T) {
	single, err := proto.Marshal(structpb.NewStringValue("x"))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		raw  []byte
		into proto.Message
		ok   bool
	}{
		"none":                     {nil, &structpb.ListValue{}, true},
		"one":                      {single, &structpb.Value{}, true},
		"as many as may be":        {manyValues(MaxMessages), &structpb.ListValue{}, true},
		"one more":                 {manyValues(MaxMessages + 1), &structpb.ListValue{}, false},
		"a mebibyte of them":       {manyValues(MaxRequestBytes / 2), &structpb.ListValue{}, false},
		"one more, in another":     {inList(manyValues(MaxMessages)), &structpb.Value{}, false},
		"bytes that are no fields": {bytes.Repeat([]byte{0xff}, MaxRequestBytes), &structpb.ListValue{}, true}, // Unmarshal refuses it
		"one long text":            {inText(MaxRequestBytes - 100), &structpb.Value{}, true},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		err := unmarshal(t, c.raw, c.into)
		runtime.ReadMemStats(&after)
		if refused := errors.Is(err, errMessages); refused == c.ok {
			t.Errorf("%s: got %v", name, err)
		}
		if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 16 {
			t.Errorf("%s took %d MiB", name, took)
		}
	}
}

// inList is a value that holds a list.
func inList(list []byte) []byte { return prefixed(6<<3|2, list) }

// inText is a value that holds a text of so many bytes.
func inText(n int) []byte { return prefixed(3<<3|2, bytes.Repeat([]byte("x"), n)) }

func prefixed(tag byte, raw []byte) []byte {
	out := []byte{tag}
	n := len(raw)
	for ; n >= 0x80; n >>= 7 {
		out = append(out, byte(n)|0x80)
	}
	return append(append(out, byte(n)), raw...)
}
