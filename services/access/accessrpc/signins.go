package accessrpc

import (
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// SignIns tells how the holders of accounts sign in. Accounts are kept here,
// what they prove themselves with is not. It answers from memory.
type SignIns interface {
	// Ways gives the ways to sign in that an account has, by its identifier.
	Ways(account string) []accessv1.SignInWay
	// LastSignIn gives when its holder last signed in, to the day; zero for never.
	LastSignIn(account string) time.Time
}

// noSignIns is for a process without sign-in pages: nobody signs in.
type noSignIns struct{}

func (noSignIns) Ways(string) []accessv1.SignInWay { return nil }

func (noSignIns) LastSignIn(string) time.Time { return time.Time{} }
