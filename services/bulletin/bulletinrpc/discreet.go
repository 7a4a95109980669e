package bulletinrpc

import (
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access"
)

// discreetFollowUp takes out of a follow-up what is not for an owner or a dealer
// who asks: why the vehicle is in the set may name other vehicles, and the words
// of whoever recorded a step are for the works and for the organisation whose
// words they are.
func discreetFollowUp(caller access.Caller, p *bulletinv1.FollowUp) *bulletinv1.FollowUp {
	if !caller.Role.Limited() {
		return p
	}
	p.EnteredBecause = nil
	for _, step := range p.GetSteps() {
		theirs := caller.Role == access.Dealer && caller.Organisation != "" && step.GetOrganisation() == caller.Organisation
		if !theirs {
			step.Text, step.RecordedBy = "", ""
		}
	}
	return p
}

// discreetBulletin leaves out who signed, and what was reported to whom.
func discreetBulletin(caller access.Caller, p *bulletinv1.Bulletin) *bulletinv1.Bulletin {
	if caller.Role.Limited() {
		p.SignedBy, p.ReportDate, p.DeterminedDate, p.FollowUp = "", nil, nil, nil
	}
	return p
}

// discreetMatch says only whether, and not why.
func discreetMatch(caller access.Caller, p *bulletinv1.SetMatch) *bulletinv1.SetMatch {
	if !caller.Role.Limited() {
		return p
	}
	p.Reasons = nil
	switch p.GetState() {
	case bulletinv1.MatchState_MATCH_STATE_IN:
		p.Sentence = "It is for this vehicle."
	case bulletinv1.MatchState_MATCH_STATE_UNKNOWN:
		p.Sentence = "It cannot be told from the record whether it is for this vehicle: somebody must look."
	default:
		p.Sentence = "This vehicle is on the list of the campaign."
	}
	return p
}
