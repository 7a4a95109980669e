package exchange

import (
	"crypto/sha256"
	"encoding/hex"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// Pending gives the records of one service that are still to be imported, in
// the order in which they take effect. Those that are there already, the same,
// are left out.
func (c *Collection) Pending(s Service) []*Draft {
	var out []*Draft
	for _, t := range everything() {
		if t.Service != s {
			continue
		}
		for _, d := range c.drafts[t] {
			if !d.same {
				out = append(out, d)
			}
		}
	}
	return out
}

// Wrap puts a record into its service's import row: row is a new, empty
// message of that row's type.
func (c *Collection) Wrap(d *Draft, row proto.Message) {
	m := c.Message(d).ProtoReflect()
	if etag := m.Descriptor().Fields().ByName("etag"); etag != nil && d.etag != "" {
		m.Set(etag, protoreflect.ValueOfString(d.etag))
	}
	r := row.ProtoReflect()
	r.Set(r.Descriptor().Fields().ByName(protoreflect.Name(d.Table.wrap)), protoreflect.ValueOfMessage(m))
}

// ID gives the identifier of what one service is sent: it follows from the
// content, so that the same files continue the import that they began.
func (c *Collection) ID(drafts []*Draft) string {
	h := sha256.New()
	for _, d := range drafts {
		h.Write([]byte(d.Name + "\x00" + d.etag + "\x00"))
		h.Write(encode(c.Message(d).ProtoReflect()))
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}
