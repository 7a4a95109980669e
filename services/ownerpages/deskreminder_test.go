package ownerpages_test

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

func (d *desk) CreateAnswer(ctx context.Context, r *reminderv1.CreateAnswerRequest, _ ...grpc.CallOption) (*reminderv1.Answer, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.Answer, error) {
		kept := proto.CloneOf(r.GetAnswer())
		kept.Name, kept.CreateTime = fmt.Sprintf("%s/answers/%d", theVehicle, len(d.answers)), timestamppb.New(d.now)
		d.answers = append(d.answers, kept)
		return kept, nil
	})
}

func (d *desk) SendConfirmation(ctx context.Context, r *reminderv1.SendConfirmationRequest, _ ...grpc.CallOption) (*reminderv1.SendConfirmationResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if d.refuse != nil {
		return nil, d.refuse
	}
	return once(d, r, func() (*reminderv1.SendConfirmationResponse, error) {
		if r.GetParent() != theVehicle || r.GetPerson() != thePerson {
			return nil, notFound()
		}
		d.confirmed = append(d.confirmed, r.GetMatter())
		if d.person.GetEmail() != "" {
			return &reminderv1.SendConfirmationResponse{Channel: reminderv1.Channel_CHANNEL_MAIL}, nil
		}
		return &reminderv1.SendConfirmationResponse{Channel: reminderv1.Channel_CHANNEL_TEXT}, nil
	})
}

func (d *desk) ListAnswers(ctx context.Context, _ *reminderv1.ListAnswersRequest, _ ...grpc.CallOption) (*reminderv1.ListAnswersResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &reminderv1.ListAnswersResponse{Answers: d.answers}, d.mine(ctx)
}

func (d *desk) WithdrawAnswer(ctx context.Context, r *reminderv1.WithdrawAnswerRequest, _ ...grpc.CallOption) (*reminderv1.Answer, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.Answer, error) {
		for _, a := range d.answers {
			if a.GetName() == r.GetName() {
				a.WithdrawTime = timestamppb.New(d.now)
				return a, nil
			}
		}
		return nil, notFound()
	})
}

func (d *desk) CreateOptOut(ctx context.Context, r *reminderv1.CreateOptOutRequest, _ ...grpc.CallOption) (*reminderv1.OptOut, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.OptOut, error) {
		o := proto.CloneOf(r.GetOptOut())
		o.Name = "optOuts/" + strings.TrimPrefix(o.GetVehicle(), "vehicles/") + "." + strings.TrimPrefix(o.GetPerson(), "people/")
		if o.GetPurpose() == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
			o.Name += ".year-letter"
		}
		o.CreateTime = timestamppb.New(d.now)
		d.optOuts[o.GetName()] = o
		return o, nil
	})
}

func (d *desk) ListOptOuts(ctx context.Context, r *reminderv1.ListOptOutsRequest, _ ...grpc.CallOption) (*reminderv1.ListOptOutsResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	out := &reminderv1.ListOptOutsResponse{}
	for _, o := range d.optOuts {
		if o.GetVehicle() == r.GetParent() {
			out.OptOuts = append(out.OptOuts, o)
		}
	}
	return out, nil
}

func (d *desk) EndOptOut(ctx context.Context, r *reminderv1.EndOptOutRequest, _ ...grpc.CallOption) (*reminderv1.EndOptOutResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.EndOptOutResponse, error) {
		if d.optOuts[r.GetName()] == nil {
			return nil, notFound()
		}
		delete(d.optOuts, r.GetName())
		return &reminderv1.EndOptOutResponse{}, nil
	})
}

func (d *desk) CreateCalendarFeed(ctx context.Context, r *reminderv1.CreateCalendarFeedRequest, _ ...grpc.CallOption) (*reminderv1.CreateCalendarFeedResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	_, again := d.requests[r.GetRequestId()]
	feed, err := once(d, r, func() (*reminderv1.CreateCalendarFeedResponse, error) {
		d.feed = fmt.Sprintf("secret-%d", d.changes)
		return &reminderv1.CreateCalendarFeedResponse{Secret: d.feed}, nil
	})
	if err == nil && again {
		feed.Secret = ""
	}
	return feed, err
}

func (d *desk) EndCalendarFeed(ctx context.Context, r *reminderv1.EndCalendarFeedRequest, _ ...grpc.CallOption) (*reminderv1.EndCalendarFeedResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.EndCalendarFeedResponse, error) {
		if d.feed == "" || r.GetName() != theVehicle+"/calendarFeeds/p0031" {
			return nil, notFound()
		}
		d.feed = ""
		return &reminderv1.EndCalendarFeedResponse{}, nil
	})
}

const theCalendar = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n"

func (d *desk) ReadCalendar(ctx context.Context, r *reminderv1.ReadCalendarRequest, _ ...grpc.CallOption) (*reminderv1.ReadCalendarResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	if d.refuse != nil {
		return nil, d.refuse
	}
	if d.feed == "" || r.GetSecret() != d.feed {
		return nil, notFound()
	}
	return &reminderv1.ReadCalendarResponse{Calendar: []byte(theCalendar), EntityTag: "abc"}, nil
}

func (d *desk) TakeTextEvent(ctx context.Context, r *reminderv1.TakeTextEventRequest, _ ...grpc.CallOption) (*reminderv1.TakeTextEventResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	if d.refuse != nil {
		return nil, d.refuse
	}
	d.events = append(d.events, r)
	return &reminderv1.TakeTextEventResponse{Reply: d.reply}, nil
}
