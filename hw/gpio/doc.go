// Package gpio is the real board: relays and float switches on the kernel's
// GPIO lines.
//
// A line is found in what the kernel says of all its chips: by the line's name,
// by the label of its chip, or by a pin of the header; periph.io is asked for
// names that the kernel does not have. What is found more than once is refused
// with the way to say which. The number of a chip is never relied on: one that
// went and came back has another, so after any failure a line is looked up
// again by the label of its chip and its address, since another chip may have the
// same label.
//
// The lines are requested from the kernel by this package, through version 2 of
// the GPIO character device (Linux 5.10 and later).
// periph's own lines are never driven or read, because they cannot do three
// things that a pump needs:
//
//   - An output has to drive "off" from its first instant. The kernel takes an
//     initial value with the request; periph sends none, so its first Out
//     pulses the relay at every start.
//   - A reading that failed has to be told from a dry switch. periph answers
//     Low and only logs.
//   - A line held by another program has to be refused. Where periph maps the
//     registers it writes them without asking the kernel who holds the line.
//
// Each output is wrapped as a periph [gpio.PinOut]. Of the processor's own lines
// none is read back. One
// that failed is released and requested anew, with the level then wanted as
// its initial value, at the next turn. Switches are requested in banks, up to
// 64 lines of one chip each, so that one call reads them all at one instant;
// that matters on an expander, where every call is a bus transfer. They are
// polled; edges are not used. Readings are raw: the guard filters them.
//
// # Behind a bus
//
// On an expander a write succeeds although the chip is gone, has no power, or
// its bus is silent; only a get of the line, on its own request, fails or shows
// another level. So an output behind a bus has a keeper, a goroutine that
// drives it and reads it back once a turn. What was not read back in time, or
// otherwise than commanded, is an [hw.OutputError] of that turn; it heals by
// requesting the line anew. A relay that closes is requested anew each time,
// since a chip that lost its power comes back with nothing but inputs. Switches
// behind a bus are read beside the turns in the same way, each reading with the
// time at which it was asked for. No turn waits for a bus longer than its
// patience. An enable relay behind a bus is refused: it is what opens a pump
// circuit whose pump does not answer.
//
// # Electrical meaning
//
// A switch is a contact between its line and ground, with a pull-up; with
// [PullDown] it is a contact between its line and the supply. A closed contact
// therefore reads low with a pull-up and high with a pull-down, and a broken
// wire reads as an open contact. A switch with WaterCloses that loses its wire
// reads dry; one that water opens reads wet, which is why HIGH is wired so.
//
// An output energises its relay on high or on low. When the program dies the
// line may become an input or keep its level, by chip; so the hardware pull of
// the line must be the relay's "off".
//
// # Order
//
// Outputs are claimed enable first, each off. In a turn outputs that open do
// so before any that close, pumps before their enable relay; of those that
// close, enable goes before the pumps. So the enable contact never makes or
// breaks a load, and stays fit for the day a pump contact welds. Nothing
// closes in a turn in which something would not open.
package gpio
