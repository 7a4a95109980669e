package console

import (
	"strings"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

// What the protos say in one word each, as it stands in a sentence.
var (
	purposeWords = map[ownerv1.Purpose]string{
		ownerv1.Purpose_PURPOSE_UNSPECIFIED: "service notices",
		ownerv1.Purpose_PURPOSE_SERVICE:     "service notices",
		ownerv1.Purpose_PURPOSE_YEAR_LETTER: "the letter at the year's end",
		ownerv1.Purpose_PURPOSE_SAFETY:      "safety campaigns",
		ownerv1.Purpose_PURPOSE_HANDBOOK:    "the handbook",
	}
	byWay = map[ownerv1.ContactWay]string{
		ownerv1.ContactWay_CONTACT_WAY_MAIL:   " by mail",
		ownerv1.ContactWay_CONTACT_WAY_TEXT:   " by text message",
		ownerv1.ContactWay_CONTACT_WAY_LETTER: " by letter",
	}
	byChannel = map[reminderv1.Channel]string{
		reminderv1.Channel_CHANNEL_MAIL:   " by mail",
		reminderv1.Channel_CHANNEL_TEXT:   " by text message",
		reminderv1.Channel_CHANNEL_LETTER: " by letter",
	}
	sourceWords = map[ownerv1.ConsentSource]string{
		ownerv1.ConsentSource_CONSENT_SOURCE_PAGE:      ", on the works' pages",
		ownerv1.ConsentSource_CONSENT_SOURCE_PAPER:     ", on paper",
		ownerv1.ConsentSource_CONSENT_SOURCE_TELEPHONE: ", on the telephone",
		ownerv1.ConsentSource_CONSENT_SOURCE_MESSAGE:   ", in a message to the works",
		ownerv1.ConsentSource_CONSENT_SOURCE_TEXT:      ", in a text message",
	}
	returnWords = map[reminderv1.ReturnKind]string{
		reminderv1.ReturnKind_RETURN_KIND_FAILED:     "it cannot be delivered, and the address is not used again",
		reminderv1.ReturnKind_RETURN_KIND_GIVEN_UP:   "it could not be delivered this time",
		reminderv1.ReturnKind_RETURN_KIND_DELAYED:    "it is still under way",
		reminderv1.ReturnKind_RETURN_KIND_RELAYED:    "it was handed on to a system that reports nothing",
		reminderv1.ReturnKind_RETURN_KIND_DELIVERED:  "it arrived",
		reminderv1.ReturnKind_RETURN_KIND_COMPLAINT:  "the recipient called it unwanted",
		reminderv1.ReturnKind_RETURN_KIND_AUTO_REPLY: "a machine answered for the recipient",
		reminderv1.ReturnKind_RETURN_KIND_REPLY:      "somebody answered",
	}
	unitWords = map[string]string{"": "miles", "mi": "miles", "km": "kilometres"}
)

// onTime says when, after a space: " on 2 March 2025 at 18:20 UTC".
func onTime(t *timestamppb.Timestamp) string {
	if t == nil {
		return ""
	}
	return " on " + t.AsTime().Format("2 January 2006 at 15:04 UTC")
}

// spoken names a language or a habit with its tag: "German (de)".
func spoken(tag string) string {
	parsed, err := language.Parse(tag)
	if err != nil {
		return tag
	}
	return display.English.Tags().Name(parsed) + " (" + tag + ")"
}

// enumOf finds the value that somebody typed: "year-letter" of PURPOSE_.
func enumOf(values map[string]int32, prefix, typed string) (int32, bool) {
	value, ok := values[prefix+strings.ToUpper(strings.ReplaceAll(typed, "-", "_"))]
	return value, ok && value != 0
}
