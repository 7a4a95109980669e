package reminderjob

import (
	"context"
	"maps"
	"slices"

	"google.golang.org/grpc"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// Bulletins is what is asked of the bulletins: which campaigns are open for
// which vehicles, and what they say. A bulletinv1.BulletinServiceClient is one.
type Bulletins interface {
	ListFollowUps(ctx context.Context, r *bulletinv1.ListFollowUpsRequest, _ ...grpc.CallOption) (*bulletinv1.ListFollowUpsResponse, error)
	GetBulletin(ctx context.Context, r *bulletinv1.GetBulletinRequest, _ ...grpc.CallOption) (*bulletinv1.Bulletin, error)
	RecordFollowUpStep(ctx context.Context, r *bulletinv1.RecordFollowUpStepRequest, _ ...grpc.CallOption) (*bulletinv1.FollowUp, error)
}

// askCampaigns asks which campaigns are open for one vehicle, or for each.
func (j *Job) askCampaigns(ctx context.Context, w *world, parent string) error {
	return page.Each(func(token string) ([]*bulletinv1.FollowUp, string, error) {
		r, err := j.Bulletins.ListFollowUps(ctx, &bulletinv1.ListFollowUpsRequest{
			Parent: parent, States: reminderwire.OpenStates(), PageSize: 500, PageToken: token,
		})
		return r.GetFollowUps(), r.GetNextPageToken(), err
	}, func(f *bulletinv1.FollowUp) error {
		serial, id, err := reminderwire.FollowUpOf(f)
		if serial == "" {
			j.Logger.Error("a vehicle of a campaign cannot be told and was passed over", "error", err)
			return nil
		}
		var item reminder.Item
		open := false
		if err == nil {
			var b *bulletinv1.Bulletin
			if b, err = j.bulletin(ctx, w, id); err != nil && outOfReach(err) {
				return err
			}
			if err == nil && b.GetState() == bulletinv1.BulletinState_BULLETIN_STATE_ISSUED {
				w.listed[serial] = append(w.listed[serial], id)
				if lost, unknown := reminderwire.Ownerless(f, b); unknown {
					w.ownerless[serial] = append(w.ownerless[serial], lost)
				}
				item, open, err = reminderwire.Campaign(f, b, w.day())
			}
		}
		if err != nil {
			j.Logger.Error("a campaign of a vehicle could not be read and was passed over", "vehicle", serial, "error", err)
			w.unasked[serial] = true
		} else if open {
			w.campaigns[serial] = append(w.campaigns[serial], item)
		}
		return nil
	})
}

// bulletin asks, once in a world, for the version of a bulletin that holds.
func (j *Job) bulletin(ctx context.Context, w *world, id string) (*bulletinv1.Bulletin, error) {
	if b := w.bulletins[id]; b != nil {
		return b, nil
	}
	b, err := j.Bulletins.GetBulletin(ctx, &bulletinv1.GetBulletinRequest{Name: "bulletins/" + id + "/versions/-"})
	if err == nil {
		w.bulletins[id] = b
	}
	return b, err
}

// anyVehicle stands in world.unasked for all of them.
const anyVehicle vehicle.Serial = ""

// lookAtCampaigns adds the letters of open campaigns to the vehicles. Where the
// bulletins cannot be asked everything else is told as ever, and letters that
// are claimed already wait.
func (j *Job) lookAtCampaigns(ctx context.Context, w *world) error {
	if j.Bulletins == nil {
		w.unasked[anyVehicle] = true
		j.Logger.Info("there is no bulletin service to ask; nobody is written to about campaigns")
		return nil
	}
	if err := j.askCampaigns(ctx, w, "vehicles/-"); err != nil {
		if stops(ctx, err) {
			return err
		}
		w.unasked[anyVehicle] = true
		j.Logger.Warn("the bulletin service could not be asked; letters about campaigns wait for the next pass", "error", err)
	}
	due := map[vehicle.Serial]int{}
	for n, v := range w.due {
		due[v.Serial] = n
	}
	for _, serial := range slices.Sorted(maps.Keys(w.campaigns)) {
		n, there := due[serial]
		if !there {
			v, err := j.vehicleOfCampaign(ctx, w, serial)
			if err != nil {
				if stops(ctx, err) {
					return err
				}
				v, w.unread[serial] = reminder.Vehicle{Serial: serial}, err
			}
			n, w.due = len(w.due), append(w.due, v)
		}
		w.due[n].Items = append(slices.Clip(w.due[n].Items), w.campaigns[serial]...)
	}
	return nil
}

// vehicleOfCampaign asks for the schedule of a vehicle of a campaign. One that
// has none is written about all the same: what can hurt does not hang on a
// schedule.
func (j *Job) vehicleOfCampaign(ctx context.Context, w *world, serial vehicle.Serial) (reminder.Vehicle, error) {
	v, err := j.vehicleNow(ctx, w, serial)
	if err != nil && rpcerr.FromStatus(err).Kind == fault.NotFound {
		return reminder.Vehicle{Serial: serial}, nil
	}
	return v, err
}

// campaignsNow asks which campaigns are open for one vehicle, for caseNow. Who
// decides about nothing but service need not ask.
func (j *Job) campaignsNow(ctx context.Context, w *world, serial vehicle.Serial) {
	if j.Bulletins == nil {
		w.unasked[serial] = true
		return
	}
	if err := j.askCampaigns(ctx, w, reminderwire.VehicleName(serial)); err != nil {
		w.unasked[serial] = true
		j.Logger.Debug("the bulletin service could not be asked about a vehicle", "vehicle", serial, "error", err)
	}
}

// Campaigns gives the open campaigns of a vehicle as the letters of a day; none
// where they cannot be asked.
func (j *Job) Campaigns(ctx context.Context, serial vehicle.Serial, on vehicle.Date) []reminder.Item {
	w := newWorld(j.Clock())
	w.on = on
	j.campaignsNow(AsService(ctx), w, serial)
	return w.campaigns[serial]
}
