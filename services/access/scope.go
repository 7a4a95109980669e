package access

import (
	"slices"
	"strings"
)

// readingVerbs begin the names of methods that change nothing that is kept.
// Seal and Open only encrypt and decrypt for their caller. A test of the protos
// holds its own list against this one.
var readingVerbs = [...]string{
	"Answer", "Check", "Download", "Find", "Get", "Judge", "List", "Open", "Preview", "Print", "Read", "Seal", "Search", "Select", "Suggest", "Watch", "WhoAmI",
}

// ReadingVerbs gives the verbs that begin the names of methods which change
// nothing that is kept.
func ReadingVerbs() []string { return readingVerbs[:] }

// ourPackages begins the full name of every method of ours.
const ourPackages = "/halfshaft."

// whoAmI is what any key may ask, whatever its scopes.
const whoAmI = "/halfshaft.access.v1.AccessService/WhoAmI"

// Changes reports whether a method, "/pkg.Service/Method", may change what is
// kept: every method of ours may whose name begins with no reading verb.
func Changes(method string) bool {
	if !strings.HasPrefix(method, ourPackages) {
		return false // health and reflection
	}
	name := method[strings.LastIndexByte(method, '/')+1:]
	for _, verb := range readingVerbs {
		// A verb is a whole word: "Listen" is no List.
		if rest, ok := strings.CutPrefix(name, verb); ok && (rest == "" || rest[0] >= 'A' && rest[0] <= 'Z') {
			return false
		}
	}
	return true
}

// waysIn make another way in, or give somebody another role. A key that is
// narrowed must not make one that is not, so no scope holds them.
var waysIn = [...]string{
	"/halfshaft.access.v1.AccessService/CreateKey",
	"/halfshaft.access.v1.AccessService/RotateKey",
	"/halfshaft.access.v1.AccessService/CreateAccount",
	"/halfshaft.access.v1.AccessService/UpdateAccount",
	"/halfshaft.access.v1.SignInService/InviteAccount",
}

// reading marks a scope that only reads.
const reading = ".read"

// InScope reports whether a key with these scopes may call the method, as far
// as they go: each is a service, "schedule", or what of it only reads,
// "schedule.read". No scopes are no limit. Scopes narrow what one key may call
// at the outer door; whether its role may is for the table.
func InScope(scopes []string, method string) bool {
	if len(scopes) == 0 || method == whoAmI {
		return true
	}
	if slices.Contains(waysIn[:], method) {
		return false
	}
	rest, ours := strings.CutPrefix(method, ourPackages)
	service, _, _ := strings.Cut(rest, ".")
	if !ours || service == "" {
		return false
	}
	for _, scope := range scopes {
		if scope == service {
			return true
		}
		if of, ok := strings.CutSuffix(scope, reading); ok && of == service && !Changes(method) {
			return true
		}
	}
	return false
}
