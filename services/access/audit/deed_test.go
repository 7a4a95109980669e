package audit

import "testing"

func TestADeedIsToldWithoutWhoAndWhen(t *testing.T) {
	for want, l := range map[string]Line{
		"Password changed":                    {Method: "/halfshaft.access.v1.SignInService/ChangePassword", Outcome: Changed, Objects: []string{"accounts/ida"}},
		"Account changed (full name, closed)": {Method: "/halfshaft.access.v1.AccessService/UpdateAccount", Outcome: Changed, Fields: []string{"full_name", "closed"}},
		"Sessions of the account bert read":   {Method: "/halfshaft.access.v1.SignInService/ListSessions", Outcome: Read, Objects: []string{"accounts/bert"}},
		"Account bert read":                   {Method: "/halfshaft.access.v1.AccessService/GetAccount", Outcome: Read, Objects: []string{"accounts/bert"}},
		"Accounts read":                       {Method: "/halfshaft.access.v1.AccessService/ListAccounts", Outcome: Read},
		"Sessions read":                       {Method: "/halfshaft.access.v1.SignInService/ListSessions", Outcome: Read, Objects: []string{"accounts/-"}},
		"Build of the vehicle AM0147P read":   {Method: "/halfshaft.build.v1.BuildService/GetBuild", Outcome: Read, Objects: []string{"builds/AM0147P"}},
		"Document of documents/7 read":        {Method: "/halfshaft.owner.v1.OwnerService/GetDocument", Outcome: Read, Objects: []string{"documents/7"}},
		"Tried to sign in":                    {Method: "/halfshaft.access.v1.SignInService/SignIn", Outcome: Refused},
		"Tried to amend build":                {Method: "/halfshaft.build.v1.BuildService/AmendBuild", Outcome: Failed},
		"Called invent something":             {Method: "/halfshaft.build.v1.BuildService/InventSomething", Outcome: Unchanged},
		"Something read":                      {Outcome: Read},
	} {
		if got := Deed(l); got != want {
			t.Errorf("%s, %v: got %q, want %q", l.Method, l.Outcome, got, want)
		}
	}
}
