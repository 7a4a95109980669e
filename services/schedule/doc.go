// Package schedule decides what is due on a vehicle, when, and why.
//
// The parts, in the order in which a schedule is made:
//
//   - Programme (programme.go, validate.go): the works' items as data, checked
//     as a whole. Compile (compile.go) makes it ready: which items count as done
//     with which, and the predicates that say on which vehicles an item is.
//   - Ledger (ledger.go, chain.go): odometer readings become true distance.
//     Readings that do not fit are doubtful: kept, not counted, explained
//     (explain.go), and left to a person.
//   - Pace (pace.go): how fast the vehicle is used, robustly, from the readings
//     that count.
//   - Travel (travel.go): distance as a function of the day, the past
//     interpolated, the future at the pace, lay-ups without any.
//   - Evaluate (evaluate.go, rounds.go): the state and dates of every item.
//   - Explain (reasons.go): the same in reasons and one sentence, only when
//     asked.
//
// Everything is a pure function of its arguments; the date is one of them. The
// order in which facts arrived never matters.
//
// A due date that is past is never moved by what is learned about later days:
// of an item that falls due on the first day on which its limit is met, no
// later reading or use can change that day.
package schedule
