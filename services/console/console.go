// Package console prints what support staff and scripts ask for on the command
// line: a vehicle, a part, a schedule, what is due, and the answers to what
// they record. It is a client of the services like any other.
package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/vehicle"
)

// Console asks the services and prints their answers to Out: in words, or with
// JSON as the protos say.
type Console struct {
	Access     accessv1.AccessServiceClient
	Audit      accessv1.AuditServiceClient
	SignIn     accessv1.SignInServiceClient
	Owners     ownerv1.OwnerServiceClient
	Builds     buildv1.BuildServiceClient
	Parts      partsv1.PartsServiceClient
	Schedules  schedulev1.ScheduleServiceClient
	Reminders  reminderv1.ReminderServiceClient
	Bulletins  bulletinv1.BulletinServiceClient
	Warranties warrantyv1.WarrantyServiceClient
	Enquiries  enquiryv1.EnquiryServiceClient
	Handbooks  handbookv1.HandbookServiceClient
	JobSheets  jobsheetv1.JobSheetServiceClient

	Out  io.Writer
	JSON bool

	callersRole accessv1.Role // none until it was asked for
}

// ErrRefused says that the question was understood and answered with a
// refusal, which is printed already. A script sees it as a failure.
var ErrRefused = errors.New("refused")

// print writes a message as JSON, or in words through text.
func (c *Console) print(m proto.Message, text func(*sheet)) error {
	if c.JSON {
		raw, err := protojson.MarshalOptions{Multiline: true, Indent: "  "}.Marshal(m)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(c.Out, string(raw))
		return err
	}
	s := &sheet{}
	text(s)
	_, err := io.WriteString(c.Out, s.String())
	return err
}

// printAll writes messages one after the other: JSON lines, or in words.
func printAll[M proto.Message](c *Console, messages []M, text func(*sheet)) error {
	if !c.JSON {
		s := &sheet{}
		text(s)
		_, err := io.WriteString(c.Out, s.String())
		return err
	}
	for _, m := range messages {
		raw, err := protojson.Marshal(m)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintln(c.Out, string(raw)); err != nil {
			return err
		}
	}
	return nil
}

// open finds the one vehicle that a serial names. A wrong serial is explained
// and nothing is opened.
func (c *Console) open(ctx context.Context, serial string) (string, error) {
	if !c.searches(ctx) {
		of, err := vehicle.ParseSerial(serial)
		return "builds/" + string(of), err
	}
	found, err := c.Builds.FindBuilds(ctx, &buildv1.FindBuildsRequest{Query: serial})
	if err != nil {
		return "", err
	}
	for _, m := range found.GetMatches() {
		if m.GetMatchedBy() == "serial" {
			return m.GetBuild(), nil
		}
	}
	return "", c.refuse(serial, found)
}

// searches reports whether the caller may look for vehicles: an owner or a
// dealer knows what is theirs, and a search would be refused to them, and the
// refusal stand in the audit. When nobody says who they are, the search is.
func (c *Console) searches(ctx context.Context) bool {
	role := c.role(ctx)
	return role != accessv1.Role_ROLE_OWNER && role != accessv1.Role_ROLE_DEALER
}

// role says what the caller is; none when nobody says. Once it was said it is
// not asked for again: a Console is one caller's.
func (c *Console) role(ctx context.Context) accessv1.Role {
	if c.callersRole == accessv1.Role_ROLE_UNSPECIFIED {
		who, err := c.Access.WhoAmI(ctx, &accessv1.WhoAmIRequest{})
		if err != nil {
			return accessv1.Role_ROLE_UNSPECIFIED
		}
		c.callersRole = who.GetRole()
	}
	return c.callersRole
}

// refuse prints why a serial opens nothing, and what it may have been.
func (c *Console) refuse(query string, found *buildv1.FindBuildsResponse) error {
	err := c.print(found, func(s *sheet) {
		if r := found.GetSerialRefusal(); r != "" {
			s.line("%s", r)
		} else if len(found.GetMatches()) == 0 {
			s.line("Nothing here goes by %q.", query)
		}
		if near := found.GetNearSerials(); len(near) > 0 {
			serials := make([]string, len(near))
			for i, n := range near {
				serials[i] = idOf(n)
			}
			s.line("One slip away: %s. Ask the caller to read the number once more.", strings.Join(serials, ", "))
		}
		if len(found.GetMatches()) > 0 {
			s.line("%q is no serial, but these vehicles go by it:", query)
			for _, m := range found.GetMatches() {
				former := ""
				if m.GetFormer() {
					former = ", formerly"
				}
				s.line("  %-10s %s %s%s", serialOf(m.GetBuild()), m.GetMatchedBy(), m.GetMatchedText(), former)
			}
		}
	})
	return errors.Join(err, ErrRefused)
}

// serialOf gives the identifier of "builds/AM0147P" or "vehicles/AM0147P/…".
func serialOf(name string) string {
	parts := strings.Split(name, "/")
	if len(parts) < 2 {
		return name
	}
	return parts[1]
}

// idOf gives the last identifier of a resource name.
func idOf(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }
