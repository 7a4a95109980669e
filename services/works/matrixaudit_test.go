package works_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/page"
)

// audited holds the audit against what was answered well in the whole walk: each
// method that changes something has lines of that, and the chain is whole. A
// line of a call that changed nothing is written a moment after its answer.
func (w *world) audited(t *testing.T, methods []protoreflect.MethodDescriptor) {
	t.Helper()
	var want []string
	for _, m := range methods {
		full := fullName(m)
		if w.done.of[full] && access.Changes(full) && !access.Table()[full].Bookkeeping {
			want = append(want, full)
		}
	}
	missing := want
	for limit := time.Now().Add(10 * time.Second); len(missing) > 0 && time.Now().Before(limit); {
		seen := w.auditedMethods(t)
		missing = slices.DeleteFunc(slices.Clone(want), func(m string) bool { return seen[m] })
	}
	if len(missing) > 0 {
		t.Errorf("of these changes the audit has no line: %s", strings.Join(missing, ", "))
	}
	proof, err := w.operator.Audit.CheckAudit(w.ctx, &accessv1.CheckAuditRequest{})
	if err != nil || len(proof.GetFaults()) > 0 {
		t.Errorf("the chain is not whole: %v, %v", proof.GetFaults(), err)
	}
	t.Logf("%d methods that change something have their lines; %d lines in the chain, %d wait", len(want)-len(missing), proof.GetLines(), proof.GetPendingLines())
}

// auditedMethods are the methods of which the audit says that they were done.
func (w *world) auditedMethods(t *testing.T) map[string]bool {
	t.Helper()
	seen := map[string]bool{}
	for _, l := range w.auditLines(t, accessv1.AuditOutcome_AUDIT_OUTCOME_CHANGED, accessv1.AuditOutcome_AUDIT_OUTCOME_UNCHANGED) {
		seen[l.GetMethod()] = true
	}
	return seen
}

// auditLines are all lines of the audit with the outcomes, or with any.
func (w *world) auditLines(t *testing.T, outcomes ...accessv1.AuditOutcome) []*accessv1.AuditLine {
	t.Helper()
	r := &accessv1.ListAuditLinesRequest{PageSize: 500, Outcomes: outcomes}
	lines, err := page.All(func(token string) ([]*accessv1.AuditLine, string, error) {
		r.PageToken = token
		out, err := w.operator.Audit.ListAuditLines(w.ctx, r)
		return out.GetLines(), out.GetNextPageToken(), err
	})
	if err != nil {
		t.Fatal(err)
	}
	return lines
}
