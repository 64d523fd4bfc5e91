// Package web is the site's HTTP API, under /api/v1/: what the benches do and
// did, as JSON and as a stream of server-sent events, and the acts by which a
// person takes part. The commands of the program use it, and so does the page.
//
// The package knows neither the loop nor storage. It asks a Site, which answers
// from the loop's turns, and a Record, which answers from the ledger, and both
// may be asked by any number of clients at once: none of them makes a turn of
// the loop wait. An act that the guard or the state of the site forbids is
// answered with 409 and the reason, one that is written wrongly with 400 and
// what to write instead.
//
// A browser on the same machine must not be led by another site's page to act
// here. So an act needs the header X-Benchtide, which no form can send, comes
// from the same origin, and carries JSON; and where no user has to name himself
// the Host is an address or localhost, never a name that somebody else may
// point here.
//
// openapi.json describes all of it and is served beside it.
package web
