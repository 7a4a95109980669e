package services_test

import (
	"strings"
	"testing"
)

// These tests show that the rules of direction_test.go can fail: each forbidden
// import is tried on an invented package.

func TestEachRowOfTheMapAllowsAndForbids(t *testing.T) {
	const m = "halfshaft/"
	for _, c := range []struct {
		name, from, to string
		allowed        bool
	}{
		{"a value imports the standard library", "services/vehicle", "strings", true},
		{"vehicle imports fault", "services/vehicle", m + "services/fault", true},
		{"fault does not import vehicle", "services/fault", m + "services/vehicle", false},
		{"vehicle does not import drivetrain", "services/vehicle", m + "services/drivetrain", false},
		{"a value imports no library", "services/vehicle", "github.com/google/uuid", false},
		{"a domain imports a value", "services/schedule", m + "services/drivetrain", true},
		{"a domain imports another domain", "services/schedule", m + "services/build", true},
		{"a domain does not import os", "services/schedule", "os", false},
		{"a domain does not import os/exec", "services/schedule", "os/exec", false},
		{"a domain does not import net/http", "services/schedule", "net/http", false},
		{"a domain does not import cgo", "services/schedule", "C", false},
		{"a domain imports no protos", "services/build", m + "proto/halfshaft/build/v1", false},
		{"a domain imports no library", "services/build", "google.golang.org/protobuf/proto", false},
		{"a domain imports no plumbing", "services/schedule", m + "services/internal/predicate", false},
		{"a domain does not import its store", "services/build", m + "services/build/buildstore", false},
		{"a conversion imports its domain", "services/build/buildwire", m + "services/build", true},
		{"a conversion imports its protos", "services/build/buildwire", m + "proto/halfshaft/build/v1", true},
		{"a conversion imports no grpc", "services/build/buildwire", "google.golang.org/grpc/codes", false},
		{"a conversion imports no store", "services/build/buildwire", m + "services/build/buildstore", false},
		{"a store imports its conversion", "services/build/buildstore", m + "services/build/buildwire", true},
		{"a store imports etcd", "services/build/buildstore", "go.etcd.io/etcd/client/v3", true},
		{"a store imports plumbing", "services/build/buildstore", m + "services/internal/kv", true},
		{"a store imports no grpc", "services/build/buildstore", "google.golang.org/grpc", false},
		{"a store does not import its server", "services/build/buildstore", m + "services/build/buildrpc", false},
		{"a store does not import another store", "services/parts/partsstore", m + "services/build/buildstore", false},
		{"a server imports its store", "services/build/buildrpc", m + "services/build/buildstore", true},
		{"a server reads another's messages", "services/parts/partsrpc", m + "services/build/buildwire", true},
		{"a server does not import another's store", "services/parts/partsrpc", m + "services/build/buildstore", false},
		{"a server does not import another's server", "services/parts/partsrpc", m + "services/build/buildrpc", false},
		{"a job imports its store", "services/reminder/reminderjob", m + "services/reminder/reminderstore", true},
		{"a job does not import another's store", "services/reminder/reminderjob", m + "services/owner/ownerstore", false},
		{"a job does not import the works", "services/reminder/reminderjob", m + "services/works", false},
		{"a mailer imports its domain", "services/reminder/remindermail", m + "services/reminder", true},
		{"a mailer imports a library", "services/reminder/remindermail", "github.com/wneessen/go-mail", true},
		{"a mailer imports no store", "services/reminder/remindermail", m + "services/reminder/reminderstore", false},
		{"a mailer imports no protos", "services/reminder/remindermail", m + "proto/halfshaft/owner/v1", false},
		{"a job imports its mailer", "services/reminder/reminderjob", m + "services/reminder/remindermail", true},
		{"the owner pages read links", "services/ownerpages", m + "services/internal/links", true},
		{"the console does not read links", "services/console", m + "services/internal/links", false},
		{"the owner pages draw photographs anew", "services/ownerpages", m + "services/internal/photograph", true},
		{"nothing but tests holds a telephone", "services/works", m + "services/internal/telephone", false},
		{"nothing but tests starts a store for tests", "services/internal/kv", m + "services/internal/etcdtest", false},
		{"a client imports protos", "services/console", m + "proto/halfshaft/build/v1", true},
		{"a client does not import a store", "services/console", m + "services/build/buildstore", false},
		{"a client imports no etcd", "services/ownerpages", "go.etcd.io/etcd/client/v3", false},
		{"the exchange reads the messages", "services/exchange", m + "services/build/buildwire", true},
		{"the exchange does not import a store", "services/exchange", m + "services/build/buildstore", false},
		{"plumbing imports fault", "services/internal/kv", m + "services/fault", true},
		{"plumbing does not import a store", "services/internal/kv", m + "services/build/buildstore", false},
		{"pictures are drawn from vehicle's values", "services/internal/figure", m + "services/vehicle", true},
		{"pictures know no domain", "services/internal/figure", m + "services/schedule", false},
		{"pictures take no plumbing", "services/internal/figure", m + "services/internal/locale", false},
		{"pictures need no library", "services/internal/figure", "github.com/google/uuid", false},
		{"the desk shows pictures", "services/desk", m + "services/internal/figure", true},
		{"the console shows none", "services/console", m + "services/internal/figure", false},
		{"plumbing does not import the works", "services/internal/grpcserver", m + "services/works", false},
		{"the works import any store", "services/works", m + "services/build/buildstore", true},
		{"the works import any server", "services/works", m + "services/build/buildrpc", true},
		{"the works do not import the command", "services/works", m + "cmd/halfshaft", false},
		{"the command imports the works", "cmd/halfshaft", m + "services/works", true},
		{"the command imports the command parser", "cmd/halfshaft", "github.com/alecthomas/kong", true},
		{"the command imports no domain", "cmd/halfshaft", m + "services/schedule", false},
		{"the command imports no store", "cmd/halfshaft", m + "services/build/buildstore", false},
		{"the command imports no etcd", "cmd/halfshaft", "go.etcd.io/etcd/client/v3", false},
		{"generated code imports no service", "proto/halfshaft/build/v1", m + "services/vehicle", false},
		{"the map imports nothing of ours", "services", m + "services/vehicle", false},
	} {
		found := complaints(listed{ImportPath: m + c.from, Imports: []string{"time", c.to}})
		if allowed := len(found) == 0; allowed != c.allowed {
			t.Errorf("%s: %v", c.name, found)
		}
	}
}

func TestAPackageOutsideTheMapIsAFault(t *testing.T) {
	for _, path := range []string{
		"halfshaft", "halfshaft/pkg/x", "halfshaft/services/util", "halfshaft/services/build/partsstore",
		"halfshaft/services/build/buildhelpers", "halfshaft/services/build/buildstore/deep", "halfshaft/services/internal",
	} {
		if found := complaints(listed{ImportPath: path}); len(found) != 1 {
			t.Errorf("%s: %v, want one complaint", path, found)
		}
	}
}

func TestEveryWayToReadTheClockIsSeen(t *testing.T) {
	for _, c := range []struct {
		name, source string
		found        int
	}{
		{"a call", `import "time"; var t = time.Now()`, 1},
		{"the function as a value", `import "time"; var now = time.Now`, 1},
		{"under another name", `import clock "time"; var t = clock.Since(clock.Time{})`, 1},
		{"a dot import", `import . "time"; var t = Now()`, 1},
		{"waiting", `import "time"; func f() { time.Sleep(1); <-time.After(1) }`, 2},
		{"a date is no clock", `import "time"; var t = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)`, 0},
		{"a method of that name", `import "time"; var b = time.Time{}.After(time.Time{})`, 0},
		{"another package's Now", `import "other/clock"; var t = clock.Now()`, 0},
	} {
		found, err := clockReads("x.go", []byte("package x; "+c.source))
		if err != nil || len(found) != c.found {
			t.Errorf("%s: %v, %v; want %d", c.name, found, err, c.found)
		}
		for _, call := range found {
			if !strings.HasPrefix(call, "x.go:1:") {
				t.Errorf("%s: %q does not say where", c.name, call)
			}
		}
	}
}
