package enquiryrpc

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// vehicleOrAll reads a parent: a vehicle, or "" for "vehicles/-".
func vehicleOrAll(parent string) (vehicle.Serial, error) {
	if parent == "vehicles/-" {
		return "", nil
	}
	serial, _, err := resname.Serial("parent", enquirywire.VehicleForm, parent)
	return serial, err
}

// pageOf reads the page fields of a list.
func pageOf(request proto.Message, asked int32, token string) (size int, after string, err error) {
	if size, err = page.Size(asked, 50, 500); err != nil {
		return 0, "", err
	}
	after, err = page.After(request, token)
	return size, after, err
}

// ListEnquiries implements the EnquiryService.
func (s *Service) ListEnquiries(ctx context.Context, r *enquiryv1.ListEnquiriesRequest) (*enquiryv1.ListEnquiriesResponse, error) {
	serial, err := vehicleOrAll(r.GetParent())
	if err != nil {
		return nil, err
	}
	person, err := enquirywire.PersonID("person", r.GetPerson())
	if err != nil {
		return nil, err
	}
	if person != "" && !readsPeople(access.CallerFrom(ctx)) {
		return nil, fault.New(fault.Denied, "ASKER_MAY_NOT", "The role %s may not ask who asked: leave the person out.", access.CallerFrom(ctx).Role)
	}
	by, err := vehiclewire.Date(r.GetFollowUpByDate())
	if err != nil {
		return nil, fault.InvalidField("follow_up_by_date", r.GetFollowUpByDate().String(), "a day of the calendar")
	}
	size, token, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	after, err := parsePlace(token)
	if err != nil {
		return nil, err
	}
	found := s.store.Enquiries(serial, func(e enquiry.Enquiry) bool {
		return (!r.GetOpenOnly() || !e.Closed) && (by.IsZero() || e.FollowUpDue(by)) && (person == "" || e.Person == person)
	})
	if len(found) == 0 && serial != "" { // a vehicle that is not there is told apart
		if _, err := s.releaseOn(ctx, serial, s.today()); fault.Is(err, fault.NotFound) {
			return nil, err
		}
	}
	found = slices.DeleteFunc(found, func(k enquirystore.Kept) bool { return !after.before(placeOf(k)) })
	out := &enquiryv1.ListEnquiriesResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, func(k enquirystore.Kept) string { return placeOf(k).String() })
	out.Enquiries, err = s.shownAll(ctx, found)
	return out, err
}

// place is where an enquiry stands in a list, the latest first.
type place struct {
	at   time.Time
	name string
	some bool // whether it is a place at all: the first page begins before any
}

func placeOf(k enquirystore.Kept) place {
	return place{k.Asked, enquirywire.EnquiryName(k.Serial, k.ID), true}
}

// before reports whether another place comes after this one.
func (p place) before(other place) bool {
	if !p.some {
		return true
	}
	if c := other.at.Compare(p.at); c != 0 {
		return c < 0
	}
	mine, theirs := strings.Split(p.name, "/"), strings.Split(other.name, "/") // vehicles/…/enquiries/…
	if mine[1] != theirs[1] {
		return mine[1] < theirs[1]
	}
	return mine[3] > theirs[3] // as enquirystore.Latest has it
}

func (p place) String() string { return fmt.Sprintf("%d/%s", p.at.UnixMicro(), p.name) }

// parsePlace reads what String wrote; nothing is before every enquiry.
func parsePlace(text string) (place, error) {
	if text == "" {
		return place{}, nil
	}
	micro, name, _ := strings.Cut(text, "/")
	at, err := strconv.ParseInt(micro, 10, 64)
	if _, _, nameErr := enquirywire.EnquiryID("", name); err != nil || nameErr != nil {
		return place{}, fault.InvalidField("page_token", text, "the next_page_token of the same request")
	}
	return place{time.UnixMicro(at).UTC(), name, true}, nil
}

// maxQuery bounds what is searched for, in characters.
const maxQuery = 1000

// SearchEnquiries implements the EnquiryService.
func (s *Service) SearchEnquiries(ctx context.Context, r *enquiryv1.SearchEnquiriesRequest) (*enquiryv1.SearchEnquiriesResponse, error) {
	if fault.Longer(r.GetQuery(), maxQuery) || strings.TrimSpace(r.GetQuery()) == "" && len(r.GetPositions()) == 0 {
		return nil, fault.InvalidField("query", fault.NotRepeated+")", "some words, in up to "+fault.Characters(maxQuery)+", or a position")
	}
	size, token, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	question := enquiry.Question{Text: r.GetQuery(), Positions: r.GetPositions(), Any: true}
	found := s.store.Like(question, func(e enquiry.Enquiry) bool {
		return r.GetRelease() == "" || e.Release == r.GetRelease()
	})
	found = slices.DeleteFunc(found, func(f enquirystore.Similar) bool { return len(r.GetPositions()) > 0 && f.Place == "" })
	if token != "" {
		after, err := parseRank(token)
		if err != nil {
			return nil, err
		}
		found = slices.DeleteFunc(found, func(f enquirystore.Similar) bool { return after.Compare(f.Found) >= 0 })
	}
	out := &enquiryv1.SearchEnquiriesResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, func(f enquirystore.Similar) string { return rankOf(f.Found) })
	for _, f := range found {
		p, err := s.shown(ctx, f.Kept)
		if err != nil {
			return nil, err
		}
		out.Enquiries = append(out.Enquiries, p)
	}
	return out, nil
}

// rankOf writes where something stands among what was found.
func rankOf(f enquiry.Found) string { return fmt.Sprintf("%d/%d/%s", f.Score, f.At.UnixMicro(), f.Key) }

// parseRank reads what rankOf wrote.
func parseRank(text string) (enquiry.Found, error) {
	parts := strings.SplitN(text, "/", 3)
	if len(parts) == 3 {
		score, err := strconv.Atoi(parts[0])
		at, atErr := strconv.ParseInt(parts[1], 10, 64)
		if err == nil && atErr == nil {
			return enquiry.Found{Key: parts[2], At: time.UnixMicro(at).UTC(), Likeness: enquiry.Likeness{Score: score}}, nil
		}
	}
	return enquiry.Found{}, fault.InvalidField("page_token", text, "the next_page_token of the same request")
}

// SuggestAnswers implements the EnquiryService.
func (s *Service) SuggestAnswers(ctx context.Context, r *enquiryv1.SuggestAnswersRequest) (*enquiryv1.SuggestAnswersResponse, error) {
	serial, _, err := resname.Serial("parent", enquirywire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	if fault.Longer(r.GetQuestion(), maxQuery) {
		return nil, fault.InvalidField("question", fault.NotRepeated+")", "up to "+fault.Characters(maxQuery))
	}
	most, err := page.Size(r.GetMost(), 5, 20)
	if err != nil {
		return nil, fault.InvalidField("most", strconv.Itoa(int(r.GetMost())), "0 or more")
	}
	release, err := s.releaseOn(ctx, serial, s.today())
	if err != nil {
		return nil, err
	}
	question := enquiry.Question{Text: r.GetQuestion(), Positions: r.GetPositions(), Release: release}
	out := &enquiryv1.SuggestAnswersResponse{}
	for _, n := range first(s.store.NotesLike(question), most) {
		out.AnswerNotes = append(out.AnswerNotes, noteProto(n))
	}
	answered := func(e enquiry.Enquiry) bool { return len(e.Answers) > 0 }
	for _, f := range first(s.store.Like(question, answered), most) {
		p := elsewhere(f.Kept)
		if f.Serial == serial {
			if p, err = s.shown(ctx, f.Kept); err != nil {
				return nil, err
			}
		}
		out.Enquiries = append(out.Enquiries, &enquiryv1.SimilarEnquiry{Enquiry: p, Sentence: f.Sentence()})
	}
	return out, nil
}

// first gives at most so many of a list.
func first[T any](all []T, most int) []T { return all[:min(len(all), most)] }
