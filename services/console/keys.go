package console

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// NewKey is an API key to be made, as typed on the command line.
type NewKey struct {
	Role         string // owner, dealer, support, engineer, administrator, service; of an account's key empty
	Bearer       string // who the records and the audit are to name
	Title        string
	Person       string // for an owner: "people/ID" or "ID"
	Organisation string // for a dealer
	Account      string // for somebody who has one
	Scopes       []string
	Ends         time.Time // zero: it does not
}

// CreateKey makes an API key and prints its secret, once.
func (c *Console) CreateKey(ctx context.Context, n NewKey) error {
	k := &accessv1.Key{Title: n.Title, Bearer: n.Bearer, Scopes: n.Scopes}
	if n.Role != "" || n.Account == "" {
		role, err := roleOf(n.Role)
		if err != nil {
			return err
		}
		k.Role = role
	}
	if n.Person != "" {
		k.Person = personName(n.Person)
	}
	if n.Organisation != "" {
		k.Organisation = organisationName(n.Organisation)
	}
	if n.Account != "" {
		k.Account = accountName(n.Account)
	}
	if !n.Ends.IsZero() {
		k.ExpireTime = timestamppb.New(n.Ends)
	}
	made, err := c.Access.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: k, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.printSecret(made, "")
}

// RotateKey makes a key in the place of another, which stays good for a while
// longer.
func (c *Console) RotateKey(ctx context.Context, name string, overlap time.Duration) error {
	made, err := c.Access.RotateKey(ctx, &accessv1.RotateKeyRequest{Name: keyName(name), Overlap: durationpb.New(overlap), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	// The secret is shown whatever becomes of this question.
	keys, _ := c.allKeys(ctx)
	was := slices.IndexFunc(keys, func(k *accessv1.Key) bool { return k.GetName() == made.GetKey().GetRotates() })
	if was < 0 {
		return c.printSecret(made, "as \"halfshaft keys list\" tells")
	}
	return c.printSecret(made, "until"+at(keys[was].GetExpireTime()))
}

// printSecret hands a new key over: its secret is seen here and nowhere else.
// until says how long the key in whose place it is stays good.
func (c *Console) printSecret(made *accessv1.CreateKeyResponse, until string) error {
	return c.print(made, func(s *sheet) {
		k := made.GetKey()
		s.text("", fmt.Sprintf("%s, %s, for %s%s", k.GetName(), holderOf(k), k.GetBearer(), boundsOf(k)))
		s.line("%s", made.GetSecret())
		s.line("This secret is shown this once and kept nowhere: hand it over now.")
		s.text("", "On the command line it goes into the environment as HALFSHAFT_KEY, with the server's address in HALFSHAFT_SERVER; "+
			"a program sends it with each call as \"authorization: Bearer\".")
		if k.GetRotates() != "" {
			s.text("", k.GetRotates()+" opens the door beside it "+until+": change over by then.")
		}
	})
}

// boundsOf says what a key is for only, and when it ends.
func boundsOf(k *accessv1.Key) string {
	text := ""
	if len(k.GetScopes()) > 0 {
		text += ", only " + strings.Join(k.GetScopes(), ", ")
	}
	if k.GetExpireTime() != nil {
		text += ", until" + at(k.GetExpireTime())
	}
	return text
}

// holderOf says what a key's bearer is, and of whom.
func holderOf(k *accessv1.Key) string {
	text := word(k.GetRole(), "ROLE_")
	switch {
	case k.GetOrganisation() != "":
		text += " of " + idOf(k.GetOrganisation())
	case k.GetPerson() != "":
		text += " " + idOf(k.GetPerson())
	}
	return text
}

func (c *Console) allKeys(ctx context.Context) ([]*accessv1.Key, error) {
	return page.All(func(token string) ([]*accessv1.Key, string, error) {
		r, err := c.Access.ListKeys(ctx, &accessv1.ListKeysRequest{PageSize: 500, PageToken: token})
		return r.GetKeys(), r.GetNextPageToken(), err
	})
}

// Keys prints the API keys.
func (c *Console) Keys(ctx context.Context) error {
	keys, err := c.allKeys(ctx)
	if err != nil {
		return err
	}
	return printAll(c, keys, func(s *sheet) {
		var rows [][]string
		for _, k := range keys {
			rows = append(rows, []string{k.GetName(), holderOf(k), k.GetBearer(), k.GetTitle(), keyState(k)})
		}
		s.table("", rows)
	})
}

// keyState says how a key stands, in words.
func keyState(k *accessv1.Key) string {
	var parts []string
	switch {
	case k.GetRevokeTime() != nil:
		parts = append(parts, "revoked"+at(k.GetRevokeTime()))
	case k.GetExpireTime() != nil:
		parts = append(parts, "until"+at(k.GetExpireTime()))
	default:
		parts = append(parts, "good")
	}
	if len(k.GetScopes()) > 0 {
		parts = append(parts, "only "+strings.Join(k.GetScopes(), ", "))
	}
	if k.GetRotates() != "" {
		parts = append(parts, "in place of "+idOf(k.GetRotates()))
	}
	if t := k.GetLastUseTime(); t != nil {
		// Kept to the hour.
		parts = append(parts, "last used on "+t.AsTime().Format("2 January 2006 after 15:04 UTC"))
	} else {
		parts = append(parts, "not used yet")
	}
	return strings.Join(parts, "; ")
}

// RevokeKey ends a key at once.
func (c *Console) RevokeKey(ctx context.Context, name string) error {
	k, err := c.Access.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: keyName(name), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(k, func(s *sheet) { s.line("%s is revoked.", k.GetName()) })
}

// WhoAmI prints who the services take the caller for.
func (c *Console) WhoAmI(ctx context.Context) error {
	w, err := c.Access.WhoAmI(ctx, &accessv1.WhoAmIRequest{})
	if err != nil {
		return err
	}
	return c.print(w, func(s *sheet) {
		text := w.GetBearer() + ", " + word(w.GetRole(), "ROLE_")
		if w.GetOrganisation() != "" {
			text += " of " + idOf(w.GetOrganisation())
		}
		if w.GetCredential() != "" {
			text += ", by " + w.GetCredential()
		}
		if len(w.GetScopes()) > 0 {
			text += ", for " + strings.Join(w.GetScopes(), ", ")
		}
		s.line("%s", text)
	})
}

// roleOf reads a role as typed.
func roleOf(typed string) (accessv1.Role, error) {
	value, ok := enumOf(accessv1.Role_value, "ROLE_", typed)
	if !ok {
		return 0, fault.InvalidField("role", typed, kinds(accessv1.Role_name, "ROLE_"))
	}
	return accessv1.Role(value), nil
}

// accountRoleOf reads a role that an account may have.
func accountRoleOf(typed string) (accessv1.Role, error) {
	role, err := roleOf(typed)
	if err != nil {
		return 0, fault.InvalidField("role", typed, "dealer, support, engineer or administrator")
	}
	return role, nil
}

// These take an identifier with or without what stands before it in a resource
// name.
func keyName(id string) string { return "keys/" + strings.TrimPrefix(id, "keys/") }

func organisationName(id string) string {
	return "organisations/" + strings.TrimPrefix(id, "organisations/")
}

func accountName(id string) string { return "accounts/" + strings.TrimPrefix(id, "accounts/") }
