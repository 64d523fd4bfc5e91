// Package notify takes what package alarm decides out of the house: by mail,
// webhook and MQTT, to a lamp and a buzzer, and tells somebody outside that the
// controller lives.
//
// A Dispatcher hears of each turn of the loop, which only leaves word in memory
// and never waits. A goroutine of the dispatcher's own works it up: it makes
// every notice one message for each channel. Each channel has a goroutine that
// takes its messages in order, from memory and at once. What cannot be reached
// holds up all that is for it and is tried again, for days; what refuses one
// message holds up only that. A message that nobody took in its time is not
// dropped silently: it is kept and shown as undelivered.
//
// Beside that, what waits, what nobody took, how the channels fare and the
// state of the alarms go to a Store, whole and in memory, by one more
// goroutine. So nothing that is told, asked, done or sent waits for storage,
// and where that takes no writes all goes on. After a restart the dispatcher
// goes on from what was stored.
//
// A program can die between the moment a receiver took a message and the moment
// that was written down. Then the message is sent a second time with the same
// id, which stands in the mail's Message-ID, in the webhook's webhook-id and in
// the MQTT event: mail and webhooks are delivered at least once, and exactly
// once to a receiver that leaves out an id it has seen. Only where it dies
// before storage heard of the message at all, which follows at once, is the same
// told anew under an id of its own: no two messages ever share one.
package notify
