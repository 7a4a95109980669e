package accessrpc

import (
	"strings"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
)

// WatchDoor implements the AccessService.
func (s *Service) WatchDoor(_ *accessv1.WatchDoorRequest, stream grpc.ServerStreamingServer[accessv1.WatchDoorResponse]) error {
	return s.watch(stream.Context(), s.store.SubscribeDoor(), s.everything, func(names []string, revision int64, last bool) error {
		out := &accessv1.WatchDoorResponse{}
		for _, name := range names {
			s.addTo(out, name)
		}
		if last {
			out.Revision, out.Synced = revision, true
		}
		return stream.Send(out)
	})
}

// everything gives the names of all that is at the door: organisations and
// accounts before the assignments.
func (s *Service) everything() []string {
	var names []string
	for _, id := range s.store.Organisations() {
		names = append(names, "organisations/"+id)
	}
	for _, id := range s.store.Accounts() {
		names = append(names, "accounts/"+id)
	}
	for _, serial := range s.store.Assigned() {
		for _, a := range s.store.Assignments(serial) {
			names = append(names, a.Name())
		}
	}
	return names
}

// addTo adds what goes by a name to an answer.
func (s *Service) addTo(out *accessv1.WatchDoorResponse, name string) {
	kind, id, _ := strings.Cut(name, "/")
	switch kind {
	case "organisations":
		if o, there := s.store.Organisation(id); there {
			out.Organisations = append(out.Organisations, accesswire.OrganisationProto(o.Organisation))
		}
	case "accounts":
		if a, there := s.store.Account(id); there {
			out.Accounts = append(out.Accounts, accesswire.AccountProto(a.Account))
		}
	default:
		serial, id, err := accesswire.AssignmentID("name", name)
		if err != nil {
			return // not one of ours, and the store would not have given it
		}
		if a, there := s.store.Assignment(serial, id); there {
			out.Assignments = append(out.Assignments, accesswire.AssignmentProto(a.Assignment))
		}
	}
}
