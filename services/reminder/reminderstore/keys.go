// Package reminderstore keeps notices, claims, tasks and opt-outs in etcd.
//
// The claim of a stage is a key of its own, created in the same transaction as
// the notice, so that no two notices tell one stage of one round to one
// person, whoever runs and however often. The rendered message stands apart
// from its notice, sealed under the recipient's key: following the service's
// prefix does not read it.
package reminderstore

import (
	"strings"

	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// The keys:
//
//	/halfshaft/v1/reminder/notices/<serial>/<notice>       reminder.v1.Notice, without its message
//	/halfshaft/v1/reminder/claims/<serial>/<cycle>/<stage>/<channel>/<person>
//	                                                       reminder.v1.Notice: name, claim_time, purpose where
//	                                                       it is another than service, and the state where
//	                                                       the notice was rerouted
//	/halfshaft/v1/reminder/claims/<serial>/<cycle>/task/<kind>
//	                                                       reminder.v1.Task, name and create_time only
//	/halfshaft/v1/reminder/tasks/<task>                    reminder.v1.Task
//	/halfshaft/v1/reminder/optouts/<serial>/<person>       reminder.v1.OptOut, of service notices
//	/halfshaft/v1/reminder/optouts/<serial>/<person>/year-letter
//	                                                       reminder.v1.OptOut, of the letter at the year's end
//	/halfshaft/v1/reminder/answers/<serial>/<answer>       reminder.v1.Answer
//	/halfshaft/v1/reminder/cadences/<class>                reminder.v1.Cadence
//	/halfshaft/v1/reminder/epochs/<person>                 reminder.v1.LinkEpoch
//	/halfshaft/v1/reminder/passdays/<day>                  reminder.v1.PassDay
//	/halfshaft/v1/reminder/standstills/<kind>              reminder.v1.Standstill
//	/halfshaft/v1/calendars/reminder/feeds/<serial>/<person>
//	                                                       reminder.v1.KeptFeed
//	/halfshaft/v1/calendars/reminder/addresses/<sha256>    reminder.v1.CalendarFeed, its name only
//	/halfshaft/v1/calendars/reminder/events/<serial>/<person>
//	                                                       reminder.v1.KeptCalendar
//	/halfshaft/v1/bodies/reminder/<serial>/<notice>        the sealed message
//	/halfshaft/v1/sent/reminder/to/<serial>/<notice>       the address or number that it goes or went to, sealed
//	/halfshaft/v1/sent/reminder/references/<reference>     reminder.v1.Notice, its name only
var (
	prefix        = kv.Prefix(service)
	noticesPrefix = prefix + "notices/"
	claimsPrefix  = prefix + "claims/"
	tasksPrefix   = prefix + "tasks/"
	optOutsPrefix = prefix + "optouts/"
	bodiesPrefix  = kv.Prefix("bodies") + service + "/"

	sentPrefix       = kv.Prefix("sent") + service + "/"
	sentToPrefix     = sentPrefix + "to/"
	referencesPrefix = sentPrefix + "references/"

	answersPrefix  = prefix + "answers/"
	cadencesPrefix = prefix + "cadences/"
	epochsPrefix   = prefix + "epochs/"
	passDaysPrefix = prefix + "passdays/"

	standstillsPrefix = prefix + "standstills/"

	calendarsPrefix = kv.Prefix("calendars") + service + "/"
	feedsPrefix     = calendarsPrefix + "feeds/"
	addressesPrefix = calendarsPrefix + "addresses/"
	eventsPrefix    = calendarsPrefix + "events/"
)

const service = "reminder"

func noticeKey(serial vehicle.Serial, id string) string {
	return noticesPrefix + string(serial) + "/" + id
}

func bodyKey(serial vehicle.Serial, id string) string {
	return bodiesPrefix + string(serial) + "/" + id
}

func sentToKey(serial vehicle.Serial, id string) string {
	return sentToPrefix + string(serial) + "/" + id
}

func claimKey(n reminder.Notice, l reminder.ToldLine) string {
	return claimsPrefix + strings.Join([]string{string(n.Serial), l.Cycle, l.Stage.String(), string(n.Channel), n.Person}, "/")
}

func taskClaimKey(serial vehicle.Serial, cycle string, kind reminder.TaskKind) string {
	return claimsPrefix + strings.Join([]string{string(serial), cycle, "task", string(kind)}, "/")
}

func taskKey(id string) string { return tasksPrefix + id }

func optOutKey(o reminder.OptOut) string {
	return optOutsPrefix + strings.ReplaceAll(o.ID(), ".", "/")
}

// parseClaim reads a claim's key.
func parseClaim(key string) (vehicle.Serial, reminder.Claim, bool) {
	parts := strings.Split(strings.TrimPrefix(key, claimsPrefix), "/")
	switch {
	case len(parts) == 4 && parts[2] == "task":
		return vehicle.Serial(parts[0]), reminder.Claim{Cycle: parts[1], Task: reminder.TaskKind(parts[3])}, true
	case len(parts) == 5:
		for stage := reminder.Early; stage <= reminder.Works; stage++ {
			if stage.String() == parts[2] {
				return vehicle.Serial(parts[0]), reminder.Claim{
					Cycle: parts[1], Stage: stage, Channel: reminder.Channel(parts[3]), Person: parts[4],
				}, true
			}
		}
	}
	return "", reminder.Claim{}, false
}
