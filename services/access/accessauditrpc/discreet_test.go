package accessauditrpc_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
)

func TestWhoseHistoryIsForWhom(t *testing.T) {
	d := open(t)
	var lines []audit.Line
	for i, object := range []string{"vehicles/AM0147P", "people/p0031", "accounts/ida", "keys/0badcafe", "organisations/ferncombe"} {
		l := line(i, "front desk", object, audit.Changed)
		l.Network, l.Credential = "192.0.2.17", "sessions/5f2c77"
		lines = append(lines, l)
	}
	d.pend(t, lines[:3]...)
	d.seal(t)
	d.pend(t, lines[3:]...)
	d.pend(t, lines[:1]...)
	for object, may := range map[string]string{
		"vehicles/AM0147P": "support engineer administrator", "builds/AM0147P": "support engineer administrator",
		"people/p0031": "support administrator", "accounts/ida": "administrator", "keys/0badcafe": "administrator",
		"sessions/5f2c77": "administrator", "organisations/ferncombe": "administrator",
	} {
		for _, role := range []access.Role{access.Support, access.Engineer, access.Administrator} {
			ctx := access.NewContext(t.Context(), access.Caller{Role: role, Bearer: "somebody"})
			out, err := d.ListHistory(ctx, &accessv1.ListHistoryRequest{Parent: object})
			if !strings.Contains(may, role.String()) {
				if !fault.Is(err, fault.Denied) {
					t.Errorf("the role %s reads the history of %s: %v, %v", role, object, out, err)
				}
				continue
			}
			if err != nil {
				t.Errorf("the role %s, %s: %v", role, object, err)
			}
			said := prototext.Format(out)
			told := strings.Contains(said, "192.0.2.17") || strings.Contains(said, "5f2c77")
			if len(out.GetLines()) > 0 && told != (role == access.Administrator) {
				t.Errorf("the role %s is told of %s: %s", role, object, said)
			}
		}
	}
}
