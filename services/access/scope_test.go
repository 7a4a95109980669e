package access

import (
	"slices"
	"strings"
	"testing"
)

func TestAMethodChangesUnlessItsVerbOnlyReads(t *testing.T) {
	for method, want := range map[string]bool{
		"/halfshaft.build.v1.BuildService/GetBuild":         false,
		"/halfshaft.build.v1.BuildService/AmendBuild":       true,
		"/halfshaft.access.v1.AccessService/WhoAmI":         false,
		"/halfshaft.access.v1.AccessService/WhoAmIReplaced": false, // begins with the verb, a whole word
		"/halfshaft.build.v1.BuildService/Getaway":          true,  // no verb of ours
		"/halfshaft.build.v1.BuildService/Listen":           true,
		"/halfshaft.build.v1.BuildService/List":             false,
		"/halfshaft.owner.v1.OwnerService/SealForPerson":    false,
		"/halfshaft.reminder.v1.ReminderService/RunPass":    true,
		"/halfshaft.build.v1.BuildService/":                 true,
		"/grpc.health.v1.Health/Check":                      false,
	} {
		if got := Changes(method); got != want {
			t.Errorf("%s: got %v, want %v", method, got, want)
		}
	}
}

func TestScopesNarrowWhatAKeyMayCall(t *testing.T) {
	const (
		getBuild   = "/halfshaft.build.v1.BuildService/GetBuild"
		amendBuild = "/halfshaft.build.v1.BuildService/AmendBuild"
		getDue     = "/halfshaft.schedule.v1.ScheduleService/ListDue"
		health     = "/grpc.health.v1.Health/Check"
	)
	for _, c := range []struct {
		name   string
		scopes []string
		method string
		want   bool
	}{
		{"no scopes are no limit", nil, amendBuild, true},
		{"a service is all its methods", []string{"build"}, amendBuild, true},
		{"a service is no other", []string{"build"}, getDue, false},
		{"what only reads reads", []string{"build.read"}, getBuild, true},
		{"what only reads changes nothing", []string{"build.read"}, amendBuild, false},
		{"what only reads reads no other service", []string{"build.read"}, getDue, false},
		{"the second of two counts too", []string{"parts", "schedule.read"}, getDue, true},
		{"any key may ask who it is", []string{"parts.read"}, whoAmI, true},
		{"a scope that is none opens nothing", []string{"", ".read", "buil", "build.", "build.read.read", "halfshaft"}, getBuild, false},
		{"no scope holds what makes a key that may have none", []string{"access"}, "/halfshaft.access.v1.AccessService/CreateKey", false},
		{"a key that is not narrowed makes keys", nil, "/halfshaft.access.v1.AccessService/CreateKey", true},
		{"what is not ours is in no scope", []string{"grpc", "health", "build"}, health, false},
	} {
		if got := InScope(c.scopes, c.method); got != c.want {
			t.Errorf("%s: got %v", c.name, got)
		}
	}
}

// The rights of a scope are those of the method's package, for every method of
// the table: worked out by taking the name apart.
func TestEveryMethodIsInTheScopeOfItsServiceAndNoOther(t *testing.T) {
	services := []string{"access", "build", "owner", "parts", "reminder", "schedule"}
	for method := range Table() {
		parts := strings.FieldsFunc(method, func(r rune) bool { return r == '/' || r == '.' })
		for _, service := range services {
			want := parts[0] == "halfshaft" && parts[1] == service && !makesWayIn(method) || strings.HasSuffix(method, "/WhoAmI")
			if got := InScope([]string{service}, method); got != want {
				t.Errorf("%s in %s: got %v", method, service, got)
			}
			reads := slices.ContainsFunc(ReadingVerbs(), func(v string) bool { return strings.HasPrefix(parts[len(parts)-1], v) })
			if got := InScope([]string{service + ".read"}, method); got != (want && reads) {
				t.Errorf("%s in %s.read: got %v", method, service, got)
			}
		}
	}
}

// makesWayIn says which methods make another way in, from what their names say.
func makesWayIn(method string) bool {
	verb := method[strings.LastIndexByte(method, '/')+1:]
	return slices.Contains([]string{"CreateKey", "RotateKey", "CreateAccount", "UpdateAccount", "InviteAccount"}, verb)
}
