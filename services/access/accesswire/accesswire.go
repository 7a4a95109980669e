// Package accesswire converts keys, organisations, accounts and assignments
// between services/access and their protos.
package accesswire

import (
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle/vehiclewire"
)

const keys = "keys/"

// KeyName gives the resource name of a key.
func KeyName(id string) string { return keys + id }

// KeyID reads a key's resource name. field is the request's, for the refusal.
func KeyID(field, name string) (string, error) {
	id, ok := strings.CutPrefix(name, keys)
	if !ok || !access.ValidID(id) {
		return "", fault.InvalidField(field, name, "keys/{key}, as in keys/1s56eezg")
	}
	return id, nil
}

// Role reads a role; one that this program does not know is Nobody.
func Role(r accessv1.Role) access.Role {
	if r < 0 || int(r) > int(access.Service) {
		return access.Nobody
	}
	return access.Role(r)
}

// RoleProto writes a role.
func RoleProto(r access.Role) accessv1.Role {
	if !r.Valid() {
		return accessv1.Role_ROLE_UNSPECIFIED
	}
	return accessv1.Role(r)
}

// Key reads a key as it is stored and sent to other services. A digest of
// another length than SHA-256's opens nothing.
func Key(k *accessv1.Key) access.Key {
	out := access.Key{
		ID: strings.TrimPrefix(k.GetName(), keys), Title: k.GetTitle(), Role: Role(k.GetRole()),
		Person: k.GetPerson(), Organisation: k.GetOrganisation(), Account: k.GetAccount(), Bearer: k.GetBearer(),
		Scopes: k.GetScopes(), Rotates: strings.TrimPrefix(k.GetRotates(), keys),
		Created: vehiclewire.Moment(k.GetCreateTime()), Expires: vehiclewire.Moment(k.GetExpireTime()), Revoked: vehiclewire.Moment(k.GetRevokeTime()),
	}
	copy(out.Digest[:], k.GetSecretSha256())
	return out
}

// KeyProto writes a key for people: without its digest.
func KeyProto(k access.Key) *accessv1.Key {
	out := &accessv1.Key{
		Name: KeyName(k.ID), Title: k.Title, Role: RoleProto(k.Role), Person: k.Person, Bearer: k.Bearer,
		Organisation: k.Organisation, Account: k.Account, Scopes: k.Scopes,
		CreateTime: vehiclewire.MomentProto(k.Created), ExpireTime: vehiclewire.MomentProto(k.Expires), RevokeTime: vehiclewire.MomentProto(k.Revoked),
	}
	if k.Rotates != "" {
		out.Rotates = KeyName(k.Rotates)
	}
	return out
}

// KeyWithDigest writes a key for the store and for the gates of other
// processes.
func KeyWithDigest(k access.Key) *accessv1.Key {
	out := KeyProto(k)
	out.SecretSha256 = k.Digest[:]
	return out
}
