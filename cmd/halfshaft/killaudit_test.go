package main

import (
	"context"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/works"
)

// audited holds the audit against the entries that are there: after any number
// of kills each has its line, and no line stands for an entry that is not. The
// chain must be whole besides.
func (w *writers) audited(t *testing.T, s *works.Session, entries int) {
	t.Helper()
	r := &accessv1.ListAuditLinesRequest{PageSize: 500, Outcomes: []accessv1.AuditOutcome{accessv1.AuditOutcome_AUDIT_OUTCOME_CHANGED}}
	recorded := 0
	for more := true; more; more = r.PageToken != "" {
		out, err := s.Audit.ListAuditLines(context.Background(), r)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range out.GetLines() {
			if l.GetMethod() == "/halfshaft.schedule.v1.ScheduleService/RecordService" {
				recorded++
			}
		}
		r.PageToken = out.GetNextPageToken()
	}
	if recorded != entries {
		t.Errorf("%d entries were recorded, and the audit has %d lines of that", entries, recorded)
	}
	proof, err := s.Audit.CheckAudit(context.Background(), &accessv1.CheckAuditRequest{})
	if err != nil || len(proof.GetFaults()) > 0 {
		t.Errorf("the chain is not whole after kills: %v, %v", proof.GetFaults(), err)
	}
}
