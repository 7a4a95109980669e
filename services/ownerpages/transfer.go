package ownerpages

import (
	"net/http"
	"strings"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
)

// confirmPage is a page with one button.
type confirmPage struct {
	Text    []string
	Button  string
	Request string
	Second  *undo // another button; nil for none
}

// showTransfer asks for the link that makes the code.
func (v *visit) showTransfer() {
	v.ask(http.StatusOK, "confirm.html", v.say("transfer.title"), confirmPage{
		Text:   append(v.handingOver(), v.say("transfer.first"), v.say("confirm.lost")),
		Button: v.say("confirm.button"), Request: uuid.NewString(),
	})
}

// showGiveAway makes the code by its button.
func (v *visit) showGiveAway() {
	if v.over() {
		return
	}
	v.ask(http.StatusOK, "confirm.html", v.say("transfer.title"), confirmPage{
		Text: v.handingOver(), Button: v.say("transfer.button"), Request: uuid.NewString(),
	})
}

// handingOver says what it is to hand the vehicle over.
func (v *visit) handingOver() []string {
	return []string{v.say("transfer.intro", "serial", v.target.Serial), v.say("transfer.goes"), v.say("transfer.ends")}
}

// offer makes the one-time code, or calls it off. Its link makes one code: pressed
// again, it asks for the same and the code is not kept.
func (v *visit) offer() {
	if v.form.text("do") == "undo" {
		v.callOff()
		return
	}
	if v.over() {
		return
	}
	offer, err := v.Owners.OfferTransfer(v.owner(), &ownerv1.OfferTransferRequest{
		Parent: v.vehicle, OfferedBy: v.person, RequestId: v.once(),
	})
	if f := rpcerr.FromStatus(err); f != nil && (f.Kind == fault.FailedPrecondition || f.Kind == fault.Invalid) {
		v.message(http.StatusForbidden, "not-yours")
		return
	}
	if err != nil {
		v.failed(err)
		return
	}
	back := undo{Label: v.say("transfer.undo"), Fields: []labelled{{"do", "undo"}, {"transfer", offer.GetTransfer().GetName()}, {"request", uuid.NewString()}}}
	if offer.GetCode() == "" { // the form was sent twice, and the code is not kept
		v.result(v.say("transfer.made"), message{
			Text: []string{v.say("transfer.shown")}, Undo: &back,
		})
		return
	}
	until := ""
	if t := offer.GetTransfer().GetExpireTime(); t.IsValid() {
		until = v.say("transfer.until", "date", v.habit.Date(vehicle.DateOf(t.AsTime().In(v.zone))))
	}
	v.result(v.say("transfer.made"), message{
		Text: []string{v.say("transfer.tell")}, After: append(v.relative(), strings.TrimSpace(until+" "+v.say("transfer.once"))),
		Big: []labelled{
			{v.say("transfer.address"), v.Address + "/take-over"},
			{v.say("transfer.serial"), v.target.Serial},
			{v.say("transfer.code"), offer.GetCode()},
		},
		Undo: &back,
	})
}

// relative says of an address on the page that it lacks its beginning, where the
// works gives none. What a request says of its host may come from anybody.
func (v *visit) relative() []string {
	if v.Address != "" {
		return nil
	}
	return []string{v.say("address.relative")}
}

// callOff calls an offer of this vehicle off.
func (v *visit) callOff() {
	name := v.form.text("transfer")
	if !strings.HasPrefix(name, v.vehicle+"/transfers/") {
		v.message(http.StatusBadRequest, "form-unread")
		return
	}
	_, err := v.Owners.CancelTransfer(v.owner(), &ownerv1.CancelTransferRequest{Name: name, RequestId: v.form.request()})
	switch f := rpcerr.FromStatus(err); {
	case f == nil:
		v.result(v.say("undone.title"), message{Text: []string{v.say("transfer.undone", "serial", v.target.Serial)}})
	case f.Kind == fault.FailedPrecondition:
		v.message(http.StatusConflict, "transfer.too-late")
	default:
		v.failed(err)
	}
}
