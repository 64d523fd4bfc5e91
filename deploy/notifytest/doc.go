// Package notifytest follows a message from a blocked drain to whoever has to
// know: the real program on its simulated bench, a mail server with TLS, a
// receiver of webhooks that verifies signatures with the library of the
// specification's authors, Debian's MQTT broker with TLS, and an address that
// counts heartbeats. Connections are cut by closing sockets, the program is
// killed between queueing and sending and between the receiver's yes and the
// note of it.
//
// All of it is behind the build tag notifytest; the script run beside this file
// fetches the broker, builds the program and runs the tests, which print the
// times.
package notifytest
