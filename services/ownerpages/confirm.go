package ownerpages

import (
	"net/http"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/webguard"
)

// confirm has a link sent to the address on record, with which its reader goes on.
// Whoever else pressed the button gets nothing by it, and their reader learns of it.
func (v *visit) confirm(matter reminderv1.ConfirmationMatter) {
	p, ok := v.me()
	if !ok {
		return
	}
	wait, ok := v.tries.Take(v.Proxies.Sender(v.r), v.Clock())
	if ok {
		wait, ok = v.asks.Take(wish{v.person, v.vehicle, matter}, v.Clock())
	}
	if !ok {
		v.w.Header().Set("Retry-After", webguard.RetryAfter(wait))
		v.message(http.StatusTooManyRequests, "confirm.too-often")
		return
	}
	sent, err := v.Reminders.SendConfirmation(v.owner(), &reminderv1.SendConfirmationRequest{
		Parent: v.vehicle, Person: v.person, Matter: matter, RequestId: v.form.request(),
	})
	if f := rpcerr.FromStatus(err); f != nil && f.Kind == fault.FailedPrecondition {
		v.message(http.StatusConflict, "confirm.call")
		return
	}
	if err != nil {
		v.failed(err)
		return
	}
	where := v.say("confirm.by-mail", "address", maskedMail(p.GetEmail()))
	if sent.GetChannel() == reminderv1.Channel_CHANNEL_TEXT {
		where = v.say("confirm.by-text", "end", ending(p.GetPhone()))
	}
	v.result(v.say("confirm.sent"), message{Text: []string{where, v.say("confirm.next"), v.say("confirm.lost")}})
}

// over says that a link that confirms works no more where the address that it went
// to was replaced since: by itself, or because somebody else read there.
func (v *visit) over() bool {
	if v.replaced {
		v.message(http.StatusGone, "confirm.over")
	}
	return v.replaced
}

// once is the identifier of the one call that a link is good for: the service knows
// it again, whatever form it comes with.
func (v *visit) once() string {
	return uuid.NewSHA1(uuid.NameSpaceURL, []byte(v.r.PathValue("token"))).String()
}
