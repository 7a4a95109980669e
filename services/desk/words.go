package desk

import (
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// roleWords are what people call a role.
var roleWords = map[accessv1.Role]string{
	accessv1.Role_ROLE_OWNER: "owner", accessv1.Role_ROLE_DEALER: "dealer", accessv1.Role_ROLE_SUPPORT: "support",
	accessv1.Role_ROLE_ENGINEER: "engineer", accessv1.Role_ROLE_ADMINISTRATOR: "administrator", accessv1.Role_ROLE_SERVICE: "service",
}

// wayWords are what people call a way of signing in.
var wayWords = map[accessv1.SignInWay]string{
	accessv1.SignInWay_SIGN_IN_WAY_PASSKEY:           "passkey",
	accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE: "password and code",
	accessv1.SignInWay_SIGN_IN_WAY_OPENID:            "identity provider",
}

// outcomeWords are what came of a call.
var outcomeWords = map[accessv1.AuditOutcome]string{
	accessv1.AuditOutcome_AUDIT_OUTCOME_CHANGED: "changed", accessv1.AuditOutcome_AUDIT_OUTCOME_UNCHANGED: "nothing to change",
	accessv1.AuditOutcome_AUDIT_OUTCOME_READ: "read", accessv1.AuditOutcome_AUDIT_OUTCOME_REFUSED: "refused",
	accessv1.AuditOutcome_AUDIT_OUTCOME_FAILED: "failed",
}

func waysText(ways []accessv1.SignInWay) string {
	var words []string
	for _, w := range ways {
		words = append(words, wayWords[w])
	}
	if len(words) == 0 {
		return "none yet"
	}
	return strings.Join(words, ", ")
}

// bare takes the collection off a resource name: "accounts/ida" is "ida".
func bare(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

// roleOptions offers roles in a list.
func roleOptions(chosen accessv1.Role, roles ...accessv1.Role) []option {
	var out []option
	for _, r := range roles {
		out = append(out, option{Value: roleWords[r], Label: roleWords[r], Chosen: r == chosen})
	}
	return out
}

// roleOf reads a role of a list; one that is none is not said.
func roleOf(word string) accessv1.Role {
	for r, w := range roleWords {
		if w == word {
			return r
		}
	}
	return accessv1.Role_ROLE_UNSPECIFIED
}
