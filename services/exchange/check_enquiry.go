package exchange

import (
	"time"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/vehicle"
)

// checkEnquiries looks at enquiries and notes, each by itself, as the enquiry
// service will. Who asked and what about is looked up as in any table.
func (c *Collection) checkEnquiries(today vehicle.Date) {
	now := today.AddDays(1).Start(time.UTC)
	for _, d := range c.drafts[TableNamed("enquiries")] {
		if d.same {
			continue
		}
		m := c.Message(d).(*enquiryv1.Enquiry)
		e, err := enquirywire.Enquiry(m)
		e.Asked = e.AskedBy(now)
		if e.OnRecord() && e.Question == "" {
			e.Question = "gone" // with the key of who asked: the service knows whether it is
		}
		c.refuseAll(d, append(formFaults(err), formFaults(e.Restored(now))...))
	}
	for _, d := range c.drafts[TableNamed("answer notes")] {
		if d.same {
			continue
		}
		n, err := enquirywire.Note(c.Message(d).(*enquiryv1.AnswerNote))
		if err == nil {
			err = n.Restored(now)
		}
		c.refuseAll(d, formFaults(err))
	}
}
