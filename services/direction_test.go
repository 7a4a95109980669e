package services_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// This file enforces the table in DEVELOPERS.md: who may import whom, and that
// no value or domain reads the clock. A package that does not exist yet simply
// does not appear; one that has no place in the table is a fault.

func TestImportsGoInTheDirectionOfTheMap(t *testing.T) {
	for _, p := range packages(t) {
		for _, complaint := range complaints(p) {
			t.Error(complaint)
		}
	}
}

func TestNoValueOrDomainReadsTheClock(t *testing.T) {
	for _, p := range packages(t) {
		if k := placeOf(p.ImportPath).kind; k != value && k != domain {
			continue
		}
		for _, name := range p.GoFiles {
			path := filepath.Join(p.Dir, name)
			source, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			calls, err := clockReads(path, source)
			if err != nil {
				t.Fatal(err)
			}
			for _, call := range calls {
				t.Errorf("%s: time is an argument here", call)
			}
		}
	}
}

func TestTheMapNamesEveryPackage(t *testing.T) {
	for _, file := range []string{"doc.go", "../DEVELOPERS.md"} {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range packages(t) {
			at := placeOf(p.ImportPath)
			if !slices.Contains([]kind{value, domain, client, works, plumbing}, at.kind) {
				continue // the map names these by their pattern
			}
			if at.kind == plumbing && strings.HasSuffix(at.name, "test") {
				continue // only tests use it
			}
			if !regexp.MustCompile(`\b` + at.name + `\b`).Match(text) {
				t.Errorf("%s does not name %s", file, p.ImportPath)
			}
		}
	}
}

// listed is what the rules need of a package that "go list -json" prints.
type listed struct {
	ImportPath, Dir  string
	Imports, GoFiles []string
}

// packages lists the module. It looks at each directory and file as well, so
// that a remembered test result is not used after one of them changed.
func packages(t *testing.T) []listed {
	t.Helper()
	list := exec.Command("go", "list", "-e", "-json=ImportPath,Dir,Imports,GoFiles", "./...")
	list.Dir = ".."
	var stderr bytes.Buffer
	list.Stderr = &stderr
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, stderr.String())
	}
	var all []listed
	for decoder := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := decoder.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
		if _, err := os.ReadDir(p.Dir); err != nil {
			t.Fatal(err)
		}
		for _, name := range p.GoFiles {
			if _, err := os.Stat(filepath.Join(p.Dir, name)); err != nil {
				t.Fatal(err)
			}
		}
	}
	if len(all) == 0 {
		t.Fatal("go list found no packages")
	}
	return all
}

// kind is a row of the table.
type kind string

const (
	standard kind = "the standard library"
	library  kind = "a library"
	proto    kind = "generated code"
	overview kind = "the map"
	value    kind = "a value"
	domain   kind = "a domain"
	wire     kind = "a conversion"
	store    kind = "a store"
	rpc      kind = "a server"
	job      kind = "a job"
	gate     kind = "the door"
	mailer   kind = "a mailer"
	client   kind = "a client"
	works    kind = "the works"
	plumbing kind = "plumbing"
	deploy   kind = "deployment"
	invented kind = "the demo's data"
	command  kind = "the command"
	unknown  kind = "of no place in the table of DEVELOPERS.md"
)

// place is where a package stands in the table; name is that of its service,
// or its own.
type place struct {
	kind kind
	name string
}

// The values in the order in which they may import each other, the services,
// and their clients.
var (
	values  = []string{"wording", "fault", "vehicle", "drivetrain"}
	domains = []string{
		"build", "parts", "schedule", "reminder", "owner", "access",
		"warranty", "bulletin", "enquiry", "handbook", "jobsheet", "experience",
	}
	// decisions that stand in packages of their own, without keys or a server
	decisions = []string{"schedule/forecast", "schedule/trend", "schedule/visits", "shims", "disclosure", "access/signin", "access/audit"}
	clients   = []string{"exchange", "console", "ownerpages", "desk"}
	// plumbing that tests use and nothing else: their imports are not looked at
	forTests = []string{"etcdtest", "freeaddress", "handclock", "selfsigned", "telephone"}
)

// placeOf finds the place of a package by its path.
func placeOf(path string) place {
	steps := strings.Split(path, "/")
	if steps[0] != "halfshaft" {
		if strings.Contains(steps[0], ".") {
			return place{library, path}
		}
		return place{standard, path}
	}
	switch steps = steps[1:]; {
	case len(steps) == 0:
	case steps[0] == "proto":
		return place{proto, path}
	case steps[0] == "deploy":
		return place{deploy, path}
	case steps[0] == "cmd":
		return place{command, path}
	case steps[0] == "testdata":
		return place{invented, path}
	case steps[0] == "services":
		return placeInServices(steps[1:])
	}
	return place{unknown, path}
}

func placeInServices(steps []string) place {
	switch {
	case len(steps) == 0:
		return place{overview, "services"}
	case steps[0] == "internal" && len(steps) > 1:
		return place{plumbing, steps[1]}
	case len(steps) == 1 && slices.Contains(values, steps[0]):
		return place{value, steps[0]}
	case len(steps) == 1 && slices.Contains(domains, steps[0]):
		return place{domain, steps[0]}
	case slices.Contains(decisions, strings.Join(steps, "/")):
		return place{domain, steps[len(steps)-1]}
	case len(steps) == 1 && slices.Contains(clients, steps[0]):
		return place{client, steps[0]}
	case steps[0] == "works":
		return place{works, steps[0]}
	case len(steps) == 2 && steps[0] == "exchange" && strings.HasPrefix(steps[1], "exchange"):
		return place{client, steps[0]}
	case len(steps) == 2 && (slices.Contains(domains, steps[0]) || steps[0] == "vehicle"):
		if part, ok := strings.CutPrefix(steps[1], steps[0]); ok {
			if k, ok := map[string]kind{"wire": wire, "store": store, "rpc": rpc, "signin": rpc, "job": job, "gate": gate, "audit": store, "auditrpc": rpc, "mail": mailer, "words": mailer, "return": mailer, "text": mailer, "letter": mailer, "calendar": mailer, "print": mailer}[part]; ok {
				return place{k, steps[0]}
			}
		}
	}
	return place{unknown, strings.Join(steps, "/")}
}

// complaints says which imports of a package the table does not allow.
func complaints(p listed) []string {
	from := placeOf(p.ImportPath)
	if from.kind == unknown {
		return []string{fmt.Sprintf("%s is %s", p.ImportPath, unknown)}
	}
	var all []string
	for _, imported := range p.Imports {
		if to := placeOf(imported); !may(from, to) {
			all = append(all, fmt.Sprintf("%s (%s) may not import %s (%s)", p.ImportPath, from.kind, imported, to.kind))
		}
	}
	return all
}

// may is the table: the right-hand column of DEVELOPERS.md, row by row.
func may(from, to place) bool {
	if to.kind == plumbing && slices.Contains(forTests, to.name) {
		return false
	}
	switch own := from.name == to.name; from.kind {
	case value:
		return isPure(to) || from.name == "wording" && within(to, "golang.org/x/text") || to.kind == value && slices.Index(values, to.name) < slices.Index(values, from.name)
	case domain:
		return isPure(to) || isOneOf(to, value, domain)
	case wire:
		return isOneOf(to, standard, proto, value, domain) || isProtobuf(to) ||
			to.kind == wire && to.name == "vehicle" || isNaming(to) ||
			// what comes back on a sheet holds messages of theirs
			from.name == "jobsheet" && (to == place{wire, "build"} || to == place{wire, "schedule"})
	case store:
		return isOneOf(to, standard, proto, value, domain, plumbing) || to.kind == library && !isGRPC(to) ||
			to.kind == wire && (own || to.name == "vehicle")
	case rpc, job:
		return isOneOf(to, standard, library, proto, value, domain, wire, plumbing) ||
			own && isOneOf(to, store, rpc, job, mailer)
	case mailer:
		return isOneOf(to, standard, value) || own && isOneOf(to, domain, mailer) || to == place{plumbing, "locale"} || to == place{plumbing, "outgoing"} || to == place{plumbing, "typeset"} || to == place{plumbing, "figure"} ||
			to.kind == library && !isEtcd(to) && !isGRPC(to)
	case gate:
		return isOneOf(to, standard, library, proto, value, plumbing) && !isEtcd(to) ||
			own && isOneOf(to, domain, wire) || to == place{wire, "vehicle"} || to == place{domain, "audit"}
	case client:
		return isOneOf(to, standard, proto, value) || to.kind == library && !isEtcd(to) || isNaming(to) ||
			to.kind == wire && to.name == "vehicle" ||
			// drafts are made where they are printed: no service has a part in them
			from.name == "console" && to == place{domain, "disclosure"} ||
			from.name == "ownerpages" && to == place{plumbing, "links"} ||
			from.name == "ownerpages" && to == place{plumbing, "rpcerr"} ||
			from.name == "ownerpages" && to == place{plumbing, "locale"} ||
			from.name == "ownerpages" && to == place{plumbing, "photograph"} ||
			(from.name == "ownerpages" || from.name == "desk") && to == place{plumbing, "figure"} ||
			// both stand open to browsers, and read what services refuse
			from.name == "ownerpages" && (to == place{plumbing, "webguard"} || to == place{plumbing, "throttle"}) ||
			from.name == "desk" && slices.Contains([]string{"webguard", "throttle", "rpcerr", "wholefile"}, to.name) && to.kind == plumbing ||
			from.name == "exchange" && (isOneOf(to, wire, domain) || to == place{plumbing, "rpcerr"} || to == place{plumbing, "predicate"} || own)
	case plumbing:
		if from.name == "figure" { // what is drawn comes as plain values
			return isPure(to) || to == place{value, "vehicle"} || to == place{value, "wording"}
		}
		return isOneOf(to, standard, library, proto, value, domain, plumbing)
	case works:
		return !isOneOf(to, command, deploy, unknown, overview)
	case command:
		return isOneOf(to, standard, proto, works, plumbing) ||
			to.kind == value && to.name != "drivetrain" ||
			to.kind == client && (to.name == "console" || to.name == "exchange") ||
			to == place{library, "github.com/alecthomas/kong"}
	case invented:
		return isOneOf(to, standard, value)
	case proto:
		return isOneOf(to, standard, proto) || isProtobuf(to) || isGRPC(to)
	}
	return to.kind == standard // the map and the deployment
}

func isOneOf(p place, kinds ...kind) bool { return slices.Contains(kinds, p.kind) }

// isPure says whether p is a part of the standard library that knows no world
// outside the process.
func isPure(p place) bool {
	top, _, _ := strings.Cut(p.name, "/")
	return p.kind == standard && !slices.Contains([]string{"net", "os", "syscall", "plugin", "C"}, top)
}

// isNaming says whether p is the plumbing without machinery: names of
// resources and page tokens.
func isNaming(p place) bool { return p.kind == plumbing && (p.name == "resname" || p.name == "page") }

func isEtcd(p place) bool { return within(p, "go.etcd.io/etcd") }

func isGRPC(p place) bool { return within(p, "google.golang.org/grpc") }

func isProtobuf(p place) bool {
	return within(p, "google.golang.org/protobuf") || within(p, "google.golang.org/genproto")
}

// within says whether p is the library at root or a package below it.
func within(p place, root string) bool {
	return p.kind == library && (p.name == root || strings.HasPrefix(p.name, root+"/"))
}

// readers are the functions of package time that ask the machine for the time
// or wait for it.
var readers = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}

// clockReads finds where a file calls or takes one of the readers.
func clockReads(path string, source []byte) ([]string, error) {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, path, source, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var found []string
	name := ""
	for _, spec := range file.Imports {
		if spec.Path.Value != `"time"` {
			continue
		}
		name = "time"
		if spec.Name != nil {
			name = spec.Name.Name
		}
		if name == "." {
			found = append(found, fmt.Sprintf("%s: a dot import of time", files.Position(spec.Pos())))
		}
	}
	if name == "" {
		return nil, nil
	}
	ast.Inspect(file, func(n ast.Node) bool {
		selector, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := selector.X.(*ast.Ident); ok && x.Name == name && slices.Contains(readers, selector.Sel.Name) {
			found = append(found, fmt.Sprintf("%s: time.%s", files.Position(selector.Pos()), selector.Sel.Name))
		}
		return true
	})
	return found, nil
}
