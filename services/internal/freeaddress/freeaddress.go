// Package freeaddress finds addresses for what must know its own before it
// listens: a desk to which passkeys are bound, pages that mails name. For tests
// and nothing else.
package freeaddress

import (
	"math/rand/v2"
	"net"
	"strconv"
	"testing"
)

// Ports that systems hand out to nobody who asks for any: by RFC 6335, section 6,
// those of their own choice begin at 49152, and Linux takes them from 32768 on
// (ip_local_port_range). Between two looks at a port from there somebody else's
// connection may have it.
const first, past = 20_000, 32_768

// Loopback gives an address of this machine on which nobody listens.
func Loopback() (address string, err error) {
	for range 100 {
		port := first + rand.IntN(past-first)
		var l net.Listener
		if l, err = net.Listen("tcp", "127.0.0.1:"+strconv.Itoa(port)); err == nil {
			return l.Addr().String(), l.Close()
		}
	}
	return "", err
}

// For is Loopback for one test.
func For(t testing.TB) string {
	t.Helper()
	address, err := Loopback()
	if err != nil {
		t.Fatal(err)
	}
	return address
}
