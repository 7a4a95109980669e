package accessauditrpc

import (
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
)

// mayAsk decides whose history is for whom. That of a vehicle is for all staff,
// as its record is; that of a person for whoever may read people; and when
// somebody signed in, with what and from where, is for administrators.
func mayAsk(caller access.Caller, object string) error {
	kind, _, _ := strings.Cut(object, "/")
	switch {
	case caller.Role == access.Administrator:
		return nil
	case kind == "accounts" || kind == "keys" || kind == "sessions" || kind == "organisations":
	case kind == "people" && caller.Role != access.Support:
	default:
		return nil
	}
	return fault.New(fault.Denied, "HISTORY_MAY_NOT", "The role %s may not read the history of %s.", caller.Role, kind)
}

// discreet takes out of lines what is for administrators alone: from which
// network and by which key or session somebody came, and the text that says
// both.
func discreet(caller access.Caller, lines []*accessv1.AuditLine) {
	if caller.Role == access.Administrator {
		return
	}
	for _, l := range lines {
		l.Network, l.Credential, l.Text = "", "", ""
	}
}
