package accesswire

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle/vehiclewire"
)

// SealedProto writes a line of the audit as it is stored: its place, its hashes
// and its text.
func SealedProto(s audit.Sealed) *accessv1.AuditLine {
	return &accessv1.AuditLine{
		Sequence: s.Sequence, Hash: s.Hash.String(), Text: s.Text, TextSha256: s.TextSHA256.String(),
		KeptUntilDate: vehiclewire.DateProto(s.KeptUntil),
	}
}

// Sealed reads what SealedProto wrote.
func Sealed(p *accessv1.AuditLine) (audit.Sealed, error) {
	day, err := vehiclewire.Date(p.GetKeptUntilDate())
	hash, okHash := audit.ParseDigest(p.GetHash())
	sum, okSum := audit.ParseDigest(p.GetTextSha256())
	if err != nil || !okHash || !okSum {
		return audit.Sealed{}, fault.New(fault.Internal, "RECORD_DAMAGED", "a line of the audit cannot be read")
	}
	return audit.Sealed{Sequence: p.GetSequence(), KeptUntil: day, TextSHA256: sum, Hash: hash, Text: p.GetText()}, nil
}

// LineProto writes a line for reading: what was sealed, and what its text says,
// nil for one whose text is gone or was changed since.
func LineProto(s audit.Sealed, said *audit.Line) *accessv1.AuditLine {
	p := SealedProto(s)
	if said != nil {
		Describe(p, *said)
	}
	return p
}

// Describe writes what a line says into a message.
func Describe(p *accessv1.AuditLine, l audit.Line) {
	p.LineTime = timestamppb.New(l.Time)
	p.Actor, p.Role, p.Credential, p.Party, p.Through = l.Actor, RoleProto(l.Role), l.Credential, l.Party, l.Through
	p.Method, p.Objects, p.Fields, p.Outcome = l.Method, l.Objects, l.Fields, OutcomeProto(l.Outcome)
	p.ErrorReason, p.Because, p.Network, p.Count = l.ErrorReason, l.Because, l.Network, int32(l.Count)
	p.Sentence, p.Deed = audit.Sentence(l), audit.Deed(l)
}

// OutcomeProto writes an outcome; the numbers are the same.
func OutcomeProto(o audit.Outcome) accessv1.AuditOutcome { return accessv1.AuditOutcome(o) }

// Outcome reads what OutcomeProto writes.
func Outcome(o accessv1.AuditOutcome) audit.Outcome { return audit.Outcome(o) }

// CheckpointProto writes a checkpoint.
func CheckpointProto(c audit.Checkpoint) *accessv1.AuditCheckpoint {
	return &accessv1.AuditCheckpoint{Sequence: c.Sequence, Hash: c.Hash.String(), CheckpointTime: vehiclewire.MomentProto(c.Time)}
}

// Checkpoint reads a checkpoint of a field that bears the name.
func Checkpoint(field string, p *accessv1.AuditCheckpoint) (audit.Checkpoint, error) {
	hash, ok := audit.ParseDigest(p.GetHash())
	if !ok {
		return audit.Checkpoint{}, fault.InvalidField(field+".hash", p.GetHash(), "64 hexadecimal digits in lower case")
	}
	if p.GetSequence() < 0 {
		return audit.Checkpoint{}, fault.InvalidField(field+".sequence", p.String(), "0 or more")
	}
	return audit.Checkpoint{Sequence: p.GetSequence(), Hash: hash, Time: vehiclewire.Moment(p.GetCheckpointTime())}, nil
}

// Checkpoints reads the checkpoints of a field that bears the name.
func Checkpoints(field string, all []*accessv1.AuditCheckpoint) ([]audit.Checkpoint, error) {
	var out []audit.Checkpoint
	for _, p := range all {
		c, err := Checkpoint(field, p)
		if err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	return out, nil
}

// ReportProto writes what came of a proof.
func ReportProto(r audit.Report) *accessv1.CheckAuditResponse {
	out := &accessv1.CheckAuditResponse{Lines: r.Lines, RemovedLines: r.Removed, Checkpoint: CheckpointProto(r.Last)}
	for _, f := range r.Faults {
		out.Faults = append(out.Faults, &accessv1.AuditFault{Sequence: f.Sequence, Sentence: f.Sentence})
	}
	return out
}
