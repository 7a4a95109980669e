// Package access decides who may do what. It knows the roles, the caller that
// travels in a context, keys, organisations and accounts, which dealer may see
// which vehicle and until when, and the one table of method by role by relation;
// it does not know how a caller proves who they are: that is accessgate.
package access
