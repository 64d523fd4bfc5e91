// Package notify takes what package alarm decides out of the house: by mail,
// webhook and MQTT, to a lamp and a buzzer, and tells somebody outside that the
// controller lives.
//
// A Desk hears of each turn of the loop, which only leaves word in memory and
// never waits. A goroutine of the desk's own works it up: it makes every notice
// one parcel for each way out. Each way has a goroutine that takes its parcels
// in order, from memory and at once. What cannot be reached holds up all that is
// for it and is tried again, for days; what refuses one parcel holds up only
// that. A parcel that nobody took in its time is not dropped silently: it is
// kept and shown as undelivered.
//
// Beside that, what waits, what nobody took, how the ways fare and the state of
// the alarms go to a Store, whole and in memory, by one more goroutine. So
// nothing that is told, asked, done or sent waits for storage, and where that
// takes no writes all goes on. After a restart the desk goes on from what was
// stored.
//
// A program can die between the moment a receiver took a parcel and the moment
// that was written down. Then the parcel is sent a second time with the same
// id, which stands in the mail's Message-ID, in the webhook's webhook-id and in
// the MQTT event: mail and webhooks are delivered at least once, and exactly
// once to a receiver that leaves out an id it has seen. Only where it dies
// before storage heard of the parcel at all, which follows at once, is the same
// told anew under an id of its own: no two parcels ever share one.
package notify
