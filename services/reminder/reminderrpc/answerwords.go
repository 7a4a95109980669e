package reminderrpc

import (
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// sealPurpose names what the words of an answer belong to.
func sealPurpose(a reminder.Answer) string { return "answer " + string(a.Serial) + "/" + a.ID }

// sealed gives an answer as it is kept: what a person said in their own words
// is under their key, and goes with it. The works' own answers stay open.
func (s *Service) sealed(ctx context.Context, a reminder.Answer) (reminder.Answer, error) {
	if a.Person == "" || a.Workshop == "" && a.Note == "" {
		return a, nil
	}
	plain, err := proto.Marshal(&reminderv1.AnswerWords{Workshop: a.Workshop, Note: a.Note})
	if err != nil {
		return a, fmt.Errorf("write the words of an answer: %w", err)
	}
	r, err := s.Job.Owners.SealForPerson(reminderjob.AsService(ctx), &ownerv1.SealForPersonRequest{
		Person: reminderwire.PersonName(a.Person), Plaintext: plain, Purpose: sealPurpose(a),
	})
	if err != nil {
		return a, rpcerr.FromStatus(err)
	}
	a.Sealed, a.Workshop, a.Note = r.GetSealed(), "", ""
	return a, nil
}

// withWords opens the words of an answer for whoever may see them. They are
// empty where the key that they were sealed under is gone.
func (s *Service) withWords(ctx context.Context, a reminder.Answer) (reminder.Answer, error) {
	if len(a.Sealed) == 0 {
		return a, nil
	}
	r, err := s.Job.Owners.OpenForPerson(reminderjob.AsService(ctx), &ownerv1.OpenForPersonRequest{
		Person: reminderwire.PersonName(a.Person), Sealed: a.Sealed, Purpose: sealPurpose(a),
	})
	if err != nil {
		refusal := rpcerr.FromStatus(err)
		if refusal.Kind == fault.NotFound || refusal.Reason == otherKey {
			return a, nil
		}
		return a, refusal
	}
	var words reminderv1.AnswerWords
	if err := proto.Unmarshal(r.GetPlaintext(), &words); err != nil {
		return a, fault.New(fault.Internal, "ANSWER_DAMAGED", "the words of the answer %s cannot be read", a.ID)
	}
	a.Workshop, a.Note = words.GetWorkshop(), words.GetNote()
	return a, nil
}

// otherKey is why the owner service cannot open what was sealed for a person of
// the same identifier before they were erased and taken in anew.
const otherKey = "NOT_SEALED_HERE"

// opened writes an answer with its words.
func (s *Service) opened(ctx context.Context, k reminderstore.KeptAnswer) (*reminderv1.Answer, error) {
	var err error
	if k.Answer, err = s.withWords(ctx, k.Answer); err != nil {
		return nil, err
	}
	return answerProto(k), nil
}

// answersFor gives the answers about a vehicle that hold, as one of the people
// tied to it may see them: the words of others are left out.
func (s *Service) answersFor(ctx context.Context, all []reminder.Answer, person string) ([]reminder.Answer, error) {
	out := make([]reminder.Answer, len(all))
	for i, a := range all {
		if a.Person == person {
			var err error
			if a, err = s.withWords(ctx, a); err != nil {
				return nil, err
			}
		}
		out[i] = a
	}
	return out, nil
}
