package console

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// OfferTransfer makes the one-time code with which a new owner takes a vehicle
// over, on behalf of the present one.
func (c *Console) OfferTransfer(ctx context.Context, serial, by string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	made, err := c.Owners.OfferTransfer(ctx, &ownerv1.OfferTransferRequest{
		Parent: "vehicles/" + serialOf(name), OfferedBy: personName(by), RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) {
		s.line("%s", made.GetCode())
		s.text("", "This code is shown this once. Whoever has it takes "+serialOf(name)+" over on the works' pages, until"+
			at(made.GetTransfer().GetExpireTime())+": hand it to the present owner and to nobody else.")
	})
}

// NewOwner is who a vehicle goes to, as typed: somebody who is there already,
// somebody new, or nobody known.
type NewOwner struct {
	Person                         string // identifier of somebody who is there
	Name, Email, Phone, Zone, Unit string
	Language                       string
	Postal                         []string
	Unknown                        bool
}

func (n NewOwner) proto() (*ownerv1.Person, error) {
	switch {
	case n.Unknown && (n.Person != "" || n.Name != ""), n.Person != "" && n.Name != "":
		return nil, fault.InvalidField("to", n.Person, "one of: somebody who is there already, a new name, or that nobody knows")
	case n.Unknown:
		return nil, nil
	case n.Person != "":
		return &ownerv1.Person{Name: personName(n.Person)}, nil
	case n.Name == "":
		return nil, fault.InvalidField("to", "", "somebody who is there already, a new name, or that nobody knows")
	}
	return &ownerv1.Person{
		FullName: n.Name, Email: n.Email, Phone: n.Phone, PostalLines: n.Postal,
		Language: n.Language, DistanceUnit: n.Unit, TimeZone: n.Zone,
	}, nil
}

// RecordTransfer records a change of owner on evidence.
func (c *Console) RecordTransfer(ctx context.Context, serial string, to NewOwner, on vehicle.Date, evidence string, staying []string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	owner, err := to.proto()
	if err != nil {
		return err
	}
	for i, id := range staying {
		staying[i] = personName(id)
	}
	made, err := c.Owners.RecordTransfer(ctx, &ownerv1.RecordTransferRequest{
		Parent: "vehicles/" + serialOf(name), NewOwner: owner, TransferDate: vehiclewire.DateProto(on),
		Evidence: evidence, Staying: staying, RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { transferLine(s, made) })
}

// CancelTransfer calls an offer off.
func (c *Console) CancelTransfer(ctx context.Context, name string) error {
	t, err := c.Owners.CancelTransfer(ctx, &ownerv1.CancelTransferRequest{Name: name, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(t, func(s *sheet) { transferLine(s, t) })
}

// Transfers prints the changes of owner of a vehicle.
func (c *Console) Transfers(ctx context.Context, serial string) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	transfers, err := page.All(func(token string) ([]*ownerv1.Transfer, string, error) {
		r, err := c.Owners.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: "vehicles/" + serialOf(name), PageSize: 500, PageToken: token})
		return r.GetTransfers(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, transfers, func(s *sheet) {
		for _, t := range transfers {
			transferLine(s, t)
		}
		if len(transfers) == 0 {
			s.line("No transfer.")
		}
	})
}

func transferLine(s *sheet, t *ownerv1.Transfer) {
	serial := serialOf(t.GetName())
	var text string
	switch t.GetState() {
	case ownerv1.TransferState_TRANSFER_STATE_OFFERED:
		text = fmt.Sprintf("%s is offered by %s; its code holds until%s.", serial, idOf(t.GetOfferedBy()), at(t.GetExpireTime()))
	case ownerv1.TransferState_TRANSFER_STATE_DONE:
		to := "an owner whom nobody here knows"
		if t.GetNewOwner() != "" {
			to = idOf(t.GetNewOwner())
		}
		text = fmt.Sprintf("%s went to %s on %s", serial, to, day(t.GetTransferDate()))
		if t.GetEvidence() != "" {
			text += ", as shown by: " + strings.TrimSuffix(t.GetEvidence(), ".")
		} else {
			text += ", with a code from " + idOf(t.GetOfferedBy())
		}
		text += "."
	case ownerv1.TransferState_TRANSFER_STATE_CALLED_OFF:
		text = fmt.Sprintf("The offer of %s was called off%s.", serial, onTime(t.GetEndTime()))
	default:
		text = fmt.Sprintf("The offer of %s ran out%s.", serial, onTime(cmp.Or(t.GetEndTime(), t.GetExpireTime())))
	}
	s.text("", text+" ("+t.GetName()+")")
}

func standingWords(st *ownerv1.Standing) string {
	if st.GetState() == ownerv1.StandingState_STANDING_STATE_UNSPECIFIED {
		return "in use"
	}
	text := word(st.GetState(), "STANDING_STATE_")
	if st.GetSinceDate() != nil {
		text += " since " + day(st.GetSinceDate())
	}
	if st.GetNote() != "" {
		text += ": " + st.GetNote()
	}
	return text
}

// Standing prints what has become of a vehicle, or records it when a state is
// given: in-use, owner-unknown, exported, scrapped.
func (c *Console) Standing(ctx context.Context, serial, state string, since vehicle.Date, note string) error {
	opened, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	name := "vehicles/" + serialOf(opened) + "/standing"
	st, err := c.Owners.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: name})
	if err != nil {
		return err
	}
	if state != "" {
		value, ok := enumOf(ownerv1.StandingState_value, "STANDING_STATE_", state)
		if !ok {
			return fault.InvalidField("state", state, kinds(ownerv1.StandingState_name, "STANDING_STATE_"))
		}
		st, err = c.Owners.UpdateStanding(ctx, &ownerv1.UpdateStandingRequest{
			Standing: &ownerv1.Standing{
				Name: name, State: ownerv1.StandingState(value), SinceDate: vehiclewire.DateProto(since), Note: note, Etag: st.GetEtag(),
			}, RequestId: uuid.NewString(),
		})
		if err != nil {
			return err
		}
	}
	return c.print(st, func(s *sheet) { s.line("%s is %s.", serialOf(opened), standingWords(st)) })
}

// whatBecame says what has become of a vehicle, "" for one in use; and "" where
// the caller may not ask, or nobody answers.
func (c *Console) whatBecame(ctx context.Context, serial string) (string, error) {
	if c.Owners == nil || c.role(ctx) == accessv1.Role_ROLE_DEALER {
		return "", nil
	}
	st, err := c.Owners.GetStanding(ctx, &ownerv1.GetStandingRequest{Name: "vehicles/" + serial + "/standing"})
	switch {
	case status.Code(err) == codes.PermissionDenied, st.GetState() == ownerv1.StandingState_STANDING_STATE_IN_USE, st.GetState() == 0 && err == nil:
		return "", nil
	case err != nil:
		return "", err
	}
	return "It is " + standingWords(st) + ".", nil
}
