package schedulerpc

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
)

// attributed is a record that says who is behind it.
type attributed interface {
	GetOrganisation() string
	GetStatedBy() string
}

// dealerIn gives the organisation for which a call is made, empty for none.
func dealerIn(ctx context.Context) string {
	if caller := access.CallerFrom(ctx); caller.Role == access.Dealer {
		return caller.Organisation
	}
	return ""
}

// stated reports whether something was said by the owner who asks.
func stated(caller access.Caller, m interface{ GetStatedBy() string }) bool {
	return caller.Person != "" && caller.Person == m.GetStatedBy()
}

// ofTheirs reports whether the caller's own organisation recorded something.
func ofTheirs(caller access.Caller, m attributed) bool {
	return caller.Role == access.Dealer && caller.Organisation != "" && caller.Organisation == m.GetOrganisation()
}

// recordedBy gives who recorded something as the caller may read it: the bearer
// of an owner's key may be a name, and so may that of another dealer's. A
// dealer's people are not an owner's to know by the names they sign in with:
// the organisation stands beside it.
func recordedBy(caller access.Caller, m attributed, by string) string {
	switch {
	case caller.Role == access.Owner && (m.GetOrganisation() != "" || m.GetStatedBy() != "" && !stated(caller, m)),
		caller.Role == access.Dealer && (m.GetStatedBy() != "" || m.GetOrganisation() != "" && !ofTheirs(caller, m)):
		return ""
	}
	return by
}

// mayVoid reports whether the caller may strike an entry out: an owner only
// what they stated themselves, a dealer only what their organisation recorded.
func mayVoid(caller access.Caller, m *schedulev1.ServiceEntry) bool {
	switch caller.Role {
	case access.Owner:
		return m.GetOwnerStatement() && stated(caller, m)
	case access.Dealer:
		return ofTheirs(caller, m)
	}
	return true
}

// discreetReading takes out of a reading what is not for an owner or a dealer
// who asks: the technical record goes on to whoever has the vehicle next, or
// works on it, and the words and photographs of those who had it do not.
func discreetReading(caller access.Caller, m *schedulev1.Reading) {
	if caller.Role != access.Owner && caller.Role != access.Dealer {
		return
	}
	m.RecordedBy = recordedBy(caller, m, m.GetRecordedBy())
	if caller.Person == "" || !strings.HasPrefix(m.GetPhotograph(), caller.Person+"/") {
		m.Photograph = ""
	}
	if m.GetSource() == schedulev1.ReadingSource_READING_SOURCE_OWNER && !stated(caller, m) {
		m.Note, m.StatedBy = "", ""
		if m.GetSettlement() != nil {
			m.Settlement.Reason = "" // it may repeat theirs
		}
	}
	if caller.Role == access.Dealer && m.GetSettlement() != nil && !ofTheirs(caller, m) {
		m.Settlement.Reason = "" // what the works heard of whom
	}
	if caller.Role == access.Owner && m.GetSettlement() != nil && m.GetOrganisation() != "" {
		m.Settlement.SettledBy = "" // one of the dealer's, perhaps, who struck their entry out
	}
}

// discreetEntry gives an entry as an owner or a dealer who asks may read it,
// likewise: of another's statement what was done and measured, without a word.
// It changes nothing in what it is given.
func discreetEntry(caller access.Caller, m *schedulev1.ServiceEntry) *schedulev1.ServiceEntry {
	if caller.Role != access.Owner && caller.Role != access.Dealer {
		return m
	}
	by, theirs := recordedBy(caller, m, m.GetRecordedBy()), !m.GetOwnerStatement() || stated(caller, m)
	if theirs && by == m.GetRecordedBy() && (m.GetVoidedBy() == "" || m.GetVoidedBy() == caller.Bearer) {
		return m
	}
	m = proto.CloneOf(m)
	m.RecordedBy = by
	if m.GetVoidedBy() != caller.Bearer {
		m.VoidedBy = ""
	}
	if theirs {
		return m
	}
	m.DoneBy, m.Note, m.StatedBy = "", "", ""
	if m.GetVoidReason() != "" {
		m.VoidReason = "struck out"
	}
	for _, done := range m.GetItems() {
		done.Note = ""
		for _, v := range done.GetMeasured() {
			v.MeasuredBy, v.Instrument = "", ""
		}
	}
	return m
}

// discreetEvents gives the events that are for the caller. A dealer learns
// nothing of lay-ups that another recorded, for a vehicle that is put away often
// stands where nobody is at home; and nobody's words but those of their own
// organisation, for a note may repeat an owner's.
func discreetEvents(caller access.Caller, all []*schedulev1.Event) []*schedulev1.Event {
	if caller.Role != access.Dealer {
		return all
	}
	all = slices.DeleteFunc(all, func(m *schedulev1.Event) bool {
		return m.GetKind() == schedulev1.EventKind_EVENT_KIND_LAY_UP && !ofTheirs(caller, m)
	})
	for _, m := range all {
		m.RecordedBy = recordedBy(caller, m, m.GetRecordedBy())
		if !ofTheirs(caller, m) {
			m.Note, m.StatedBy = "", ""
		}
	}
	return all
}

// discreetUses gives how the vehicle lives as far as it is for the caller: to a
// dealer the kinds of hard use, which shorten intervals, and neither lay-ups nor
// seasons, nor a word or a name.
func discreetUses(caller access.Caller, all []*schedulev1.UseFact) []*schedulev1.UseFact {
	if caller.Role != access.Dealer {
		return all
	}
	all = slices.DeleteFunc(all, func(m *schedulev1.UseFact) bool {
		return m.GetKind() == schedulev1.UseKind_USE_KIND_LAID_UP || m.GetKind() == schedulev1.UseKind_USE_KIND_SEASONAL
	})
	for _, m := range all {
		m.Note, m.RecordedBy = "", ""
	}
	return all
}
