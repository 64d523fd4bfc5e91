package config

import (
	"strconv"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

// inNovember is the day that brought a second kind of file: lines of any chip, titles,
// a reservoir's inside, a pump's curve.
const inNovember = "2026-11-30"

var outputKinds = []OutputKind{Pump, Air, EnableCoil, LampKind, BuzzerKind}

func wiringKeys() []Key {
	keys := []Key{
		{Path: "outputs", Kind: Named, Needed: true, Is: "each relay under its name", Example: "flood_pump: {line: GPIO5, energise: low, kind: pump}"},
		{Path: "outputs.NAME", Kind: Section, Is: "one relay", Example: "{line: GPIO5, energise: low, kind: pump}"},
	}
	keys = append(keys, lineKeys("outputs.NAME.", "GPIO5")...)
	keys = append(keys, []Key{
		{Path: "outputs.NAME.energise", Kind: Choice, Words: []string{"low", "high"}, Meant: map[string]string{"active low": "low", "active_low": "low", "active high": "high", "active_high": "high", "0": "low", "1": "high"}, Needed: true, Is: "the level that energises the relay", Example: "low",
			Measure: "the relay board's manual, or look for its lamp while the line is held low"},
		{Path: "outputs.NAME.kind", Kind: Choice, Words: spelt(outputKinds), Meant: map[string]string{"relay": "enable", "air pump": "air", "air_pump": "air", "airpump": "air", "air-pump": "air", "light": "lamp", "lights": "lamp", "water pump": "pump", "horn": "buzzer", "alarm": "buzzer"}, Needed: true, Is: "what hangs on it", Example: "pump"},
		{Path: "outputs.NAME.behind", Kind: Reference, Is: "the enable output in series with this pump", Example: "enable",
			Without: "the only enable output there is; with several it is needed"},
	}...)
	return append(keys, reservoirKeys()...)
}

// reservoirKeys are those of reservoirs, with their switches and thermometers.
func reservoirKeys() []Key {
	keys := []Key{
		{Path: "reservoirs", Kind: Named, Needed: true, Is: "each reservoir under its name", Example: "tank: {usable: 200 L, keep: 20 L}"},
		{Path: "reservoirs.NAME", Kind: Section, Is: "one reservoir", Example: "{usable: 200 L, keep: 20 L}"},
		title("reservoirs.NAME.", "Tank by the door"),
		{Path: "reservoirs.NAME.usable", Kind: Volume, Usual: tanks, Needed: true, Is: "how much it holds when full, with what is to be kept", Example: "200 L",
			Measure: "fill it with a bucket of known size up to the mark to which it will be topped up"},
		{Path: "reservoirs.NAME.keep", Kind: Volume, Usual: keeps, Needed: true, Is: "how much is never drawn, to cover the intake", Example: "20 L",
			Measure: "pump it down until the pump draws air, add a hand's breadth of water, and measure what is left"},
		{Path: "reservoirs.NAME.inside", Kind: Section, Since: inNovember, Older: "how far its level falls while a table fills is guessed", Is: "the plan of the reservoir inside, by which its level falls while a table fills", Example: "{length: 0.9 m, width: 0.6 m}",
			Without: "fills are worked out as if the level stayed; whether the pump lifts to their end is held against a reservoir 0.4 m deep",
			One:     []string{"length", "diameter"}, Both: [][2]string{{"length", "width"}}, Apart: [][]string{{"diameter"}, {"length", "width"}}},
		{Path: "reservoirs.NAME.inside.length", Kind: Length, Since: inNovember, Usual: insides, Is: "the inside length of the reservoir at its mark", Example: "0.9 m", Without: "it is round", Measure: "a tape from wall to wall at the mark"},
		{Path: "reservoirs.NAME.inside.width", Kind: Length, Since: inNovember, Usual: insides, Is: "the inside width of the reservoir at its mark", Example: "0.6 m", Without: "it is round", Measure: "a tape from wall to wall at the mark"},
		{Path: "reservoirs.NAME.inside.diameter", Kind: Length, Since: inNovember, Usual: insides, Is: "the inside diameter of a round reservoir at its mark", Example: "0.8 m", Without: "it has a length and a width", Measure: "a tape across its middle at the mark"},
		{Path: "reservoirs.NAME.low_switch", Kind: Section, Is: "the float that proves that a flood can be drawn", Example: "{line: GPIO23, at: 155 L, water: closes}",
			Without: "nothing shows that the reservoir holds a flood before the pump starts"},
	}
	keys = append(keys, lineKeys("reservoirs.NAME.low_switch.", "GPIO23")...)
	keys = append(keys, []Key{
		{Path: "reservoirs.NAME.low_switch.at", Kind: Volume, Needed: true, Is: "how much water the made switch proves, tables empty", Example: "155 L",
			Measure: "fill with a bucket of known size until the switch turns"},
		water("reservoirs.NAME.low_switch."), pull("reservoirs.NAME.low_switch."), band("reservoirs.NAME.low_switch."),
		{Path: "reservoirs.NAME.level_switch", Kind: Section, Since: inNovember, Older: "no switch of it is passed by each fill, so it is seldom weighed and a slow leak shows late", Is: "a second float, which weighs and forbids nothing", Example: "{line: GPIO26, at: 150 L, water: closes}",
			Without: "only low_switch weighs"},
	}...)
	keys = append(keys, lineKeys("reservoirs.NAME.level_switch.", "GPIO26")...)
	return append(keys, []Key{
		{Path: "reservoirs.NAME.level_switch.at", Kind: Volume, Needed: true, Is: "how much water there is when it turns, tables empty", Example: "150 L",
			Measure: "fill with a bucket of known size until the switch turns"},
		water("reservoirs.NAME.level_switch."), pull("reservoirs.NAME.level_switch."), band("reservoirs.NAME.level_switch."),
		{Path: "reservoirs.NAME.thermometer", Kind: Section, Is: "a thermometer in the solution", Example: "{path: /sys/bus/w1/devices/28-000000000001/temperature}",
			Without: "nothing keeps a pump from starting in ice"},
		{Path: "reservoirs.NAME.thermometer.path", Kind: WholePath, Needed: true, Is: "the file in which its reading appears, in thousandths of a degree Celsius", Example: "/sys/bus/w1/devices/28-000000000001/temperature",
			Measure: "look under /sys/bus/w1/devices"},
	}...)
}

// lineKeys are those of a line, which is a name or a section.
func lineKeys(under, such string) []Key {
	return []Key{
		{Path: under + "line", Kind: GPIOLine, Needed: true, Is: "the line it is wired to", Example: such,
			One: []string{"chip", "pin"}, Both: [][2]string{{"chip", "offset"}}, Apart: [][]string{{"pin"}, {"chip", "address", "offset"}},
			Measure: "follow the wire to the header or the expander; benchtide lines lists the lines there are"},
		{Path: under + "line.chip", Kind: ChipLabel, Since: inNovember, Older: "which line that is says only its name, which another kernel, or a second chip with such names, may change", Is: "the label of the chip that the line is on, where the kernel gives the line no name", Example: "pcf8574", Without: "the line is given by its name or its pin",
			Measure: "benchtide lines shows the labels"},
		{Path: under + "line.address", Kind: Words, Since: inNovember, Is: "where the chip is on its bus, where labels are alike", Example: "0x20", Without: "the label is enough",
			Measure: "benchtide lines shows the addresses"},
		{Path: under + "line.offset", Kind: Whole, Since: inNovember, Zero: true, Least: "0", Most: "4294967295", Is: "the number of the line on that chip, counted from 0", Example: "5", Without: "the line is given by its name or its pin",
			Measure: "benchtide lines shows the offsets"},
		{Path: under + "line.pin", Kind: Whole, Since: inNovember, Least: "1", Most: "4294967295", Is: "the pin of the header, where the board says which line that is", Example: "29", Without: "the line is given by its name or its chip",
			Measure: "count the pins of the header, odd ones on one side"},
	}
}

func water(under string) Key {
	return Key{Path: under + "water", Kind: Choice, Words: []string{"closes", "opens"}, Meant: map[string]string{"nc": "opens", "normally closed": "opens", "no": "closes", "normally open": "closes"}, Needed: true, Is: "what water does to its contact", Example: "closes",
		Measure: "an ohmmeter on its wires while the float is lifted by hand"}
}

// title is what people call a thing that has a name.
func title(under, such string) Key {
	return Key{Path: under + "title", Kind: Words, Since: inNovember, Older: "people read its name, which is made for commands", Most: strconv.Itoa(texts.Name), Is: "what people call it, in any script; the name stays in commands and records", Example: such, Without: "people read its name"}
}

func pull(under string) Key {
	return Key{Path: under + "pull", Kind: Choice, Words: spelt([]Pull{PullUp, PullDown, PullNone}), Default: string(PullUp), Is: "what holds the line while the contact is open", Example: "up",
		Measure: "the wiring: up where the contact leads to ground, down where it leads to 3.3 V, none where it has a resistor of its own"}
}

func band(under string) Key {
	return Key{Path: under + "band", Kind: Length, Since: inNovember, Most: quantity.In(mostBand, quantity.Millimetre), Is: "how far below where it is made it turns back", Example: "6 mm",
		Without: "it is taken to be 3 mm", Measure: "mark the water where the switch turns on the way up and on the way down, and measure between the marks"}
}

func spelt[T ~string](words []T) (all []string) {
	for _, w := range words {
		all = append(all, string(w))
	}
	return all
}

func benchKeys() []Key {
	const bench = "benches.NAME."
	keys := []Key{
		{Path: "benches", Kind: Named, Needed: true, Is: "each bench under its name", Example: "north: {reservoir: tank, pump: flood_pump, …}"},
		{Path: "benches.NAME", Kind: Section, Is: "one bench", Example: "{reservoir: tank, pump: flood_pump, …}"},
		title(bench, "Nordtisch"),
		{Path: bench + "reservoir", Kind: Reference, Needed: true, Is: "the reservoir that it is flooded from", Example: "tank"},
		{Path: bench + "pump", Kind: Reference, Needed: true, Is: "the output that floods it", Example: "flood_pump"},
		{Path: bench + "table", Kind: Section, Needed: true, Is: "the inside of the table", Example: "{length: 2.4 m, width: 1.2 m, rim: 75 mm}"},
		{Path: bench + "table.length", Kind: Length, Usual: tableLengths, Needed: true, Is: "the inside length of the table", Example: "2.4 m", Measure: "a tape along the floor of the table, wall to wall"},
		{Path: bench + "table.width", Kind: Length, Usual: tableWidths, Needed: true, Is: "the inside width of the table", Example: "1.2 m", Measure: "a tape across the floor of the table, wall to wall"},
		{Path: bench + "table.rim", Kind: Length, Usual: rims, Needed: true, Is: "the height of the rim above the floor of the table", Example: "75 mm", Measure: "a rule at the lowest place of the rim, inside"},
		{Path: bench + "standpipe", Kind: Section, Needed: true, Is: "the pipe over whose top the flood runs back", Example: "{crest: 30 mm, bore: 50 mm}"},
		{Path: bench + "standpipe.crest", Kind: Length, Usual: crests, Needed: true, Is: "the height of its top above the floor of the table", Example: "30 mm", Measure: "a rule beside the pipe"},
		{Path: bench + "standpipe.bore", Kind: Length, Usual: standpipes, Needed: true, Is: "its inside diameter", Example: "50 mm", Measure: "a rule or a calliper across the opening; the size on the label is not the bore"},
		{Path: bench + "supply", Kind: Section, Needed: true, Is: "the hose from the pump to the table, and the pump by its label or its curve", Example: "{bore: 19 mm, length: 3 m, lift: 0.8 m, max_head: 2.2 m, max_flow: 2000 L/h}",
			One: []string{"max_head", "curve"}, Both: [][2]string{{"max_head", "max_flow"}}, Apart: [][]string{{"curve"}, {"max_head", "max_flow"}}},
		{Path: bench + "supply.bore", Kind: Length, Usual: hoses, Needed: true, Is: "the inside diameter of the hose", Example: "19 mm", Measure: "a calliper across the cut end"},
		{Path: bench + "supply.length", Kind: Length, Usual: hoseLengths, Needed: true, Is: "the length of the hose", Example: "3 m", Measure: "a tape along it"},
		{Path: bench + "supply.lift", Kind: Length, Usual: lifts, Needed: true, Is: "how far the floor of the table is above the full reservoir", Example: "0.8 m", Measure: "a tape from the mark of the full reservoir up to the floor of the table"},
		{Path: bench + "supply.max_head", Kind: Length, Usual: heads, Is: "the greatest lift of the pump", Example: "2.2 m", Without: "it is needed, unless curve is given", Measure: "the label of the pump: H max"},
		{Path: bench + "supply.max_flow", Kind: Flow, Usual: pumpFlows, Is: "the greatest flow of the pump", Example: "2000 L/h", Without: "it is needed, unless curve is given", Measure: "the label of the pump: Q max"},
		{Path: bench + "supply.curve", Kind: List, Since: inNovember, Is: "two or more points of the pump's curve, from the least head up", Example: "[{head: 0 m, flow: 2000 L/h}, {head: 1.2 m, flow: 1300 L/h}, {head: 2.2 m, flow: 0 L/h}]",
			Without: "a curve is laid through max_head and max_flow", Measure: "the data sheet of the pump"},
		{Path: bench + "supply.curve.POINT", Kind: Section, Since: inNovember, Is: "one point of the curve", Example: "{head: 1.2 m, flow: 1300 L/h}"},
		{Path: bench + "supply.curve.POINT.head", Kind: Length, Since: inNovember, Zero: true, Needed: true, Is: "the head of the point", Example: "1.2 m", Measure: "the data sheet of the pump"},
		{Path: bench + "supply.curve.POINT.flow", Kind: Flow, Since: inNovember, Zero: true, Needed: true, Is: "what the pump brings at that head", Example: "1300 L/h", Measure: "the data sheet of the pump"},
		{Path: bench + "drain", Kind: Section, Needed: true, Is: "how the table drains: through the pump, or by a fitting {bore: 25 mm, length: 0.6 m}", Example: "{through: pump}",
			One: []string{"through", "bore"}, Both: [][2]string{{"bore", "length"}}, Apart: [][]string{{"through"}, {"length", "open"}}},
		{Path: bench + "drain.through", Kind: Choice, Words: []string{"pump"}, Is: "the way back", Example: "pump", Without: "it drains by a fitting of its own"},
		{Path: bench + "drain.bore", Kind: Length, Usual: drainBores, Is: "the inside diameter of the fitting", Example: "25 mm", Without: "it drains through the pump", Measure: "a calliper across the opening"},
		{Path: bench + "drain.length", Kind: Length, Usual: drainLengths, Is: "the length of the fitting and its pipe", Example: "0.6 m", Without: "it drains through the pump", Measure: "a tape along it"},
		{Path: bench + "drain.open", Kind: Choice, Words: []string{"between_floods", "always"}, Default: "between_floods", Is: "when the fitting is open", Example: "between_floods",
			Measure: "between_floods where a valve on the pump's circuit shuts it, else always"},
		{Path: bench + "cycle", Kind: Section, Is: "what was measured on the bench; calibration replaces it", Example: "{fill: 3.5 min, fall: 2 min, drain: 12 min}",
			Without: "the times are worked out from the measures above"},
		{Path: bench + "cycle.fill", Kind: Time, Usual: fills, Is: "how long the pump takes until FULL is made", Example: "3.5 min", Without: "it is worked out", Measure: "a stop watch, from pump start to FULL, pots on the table"},
		{Path: bench + "cycle.fall", Kind: Time, Usual: falls, Is: "how long after the pump stops FULL clears", Example: "2 min", Without: "it is worked out", Measure: "a stop watch, from pump stop to FULL clear"},
		{Path: bench + "cycle.drain", Kind: Time, Usual: drains, Is: "how long after the pump stops the table is bare", Example: "12 min", Without: "it is worked out", Measure: "a stop watch, from pump stop to a bare floor"},
		{Path: bench + "cycle.flow", Kind: Flow, Usual: pumpFlows, Is: "the flow while the table fills", Example: "1280 L/h", Without: "it is worked out", Measure: "pump into a bucket of known size at the height of the table and time it"},
		{Path: bench + "cycle.free", Kind: Share, Least: "50 %", Most: "150 %", Is: "the free area found, over what table and pots come to", Example: "97 %", Without: "100 %", Measure: "commissioning works it out from the water of a flood"},
	}
	return append(keys, floatKeys(bench)...)
}

// floatKeys are those of the switches on a bench.
func floatKeys(bench string) (keys []Key) {
	for _, sw := range []Key{
		{Path: "full_switch", Is: "the float that shows a whole flood", Example: "{line: GPIO24, at: 26 mm, water: closes}", Without: "no flood can be proven"},
		{Path: "high_switch", Is: "the float that stops the pump before the rim", Example: "{line: GPIO25, at: 52 mm, water: opens}", Without: "only the standpipe keeps water from the floor"},
		{Path: "empty_switch", Is: "the float on the floor of the table that shows it bare", Example: "{line: GPIO16, at: 3 mm, water: closes}", Without: "the table is taken to be bare by time"},
		{Path: "leak_switch", Is: "the sensor on the floor under the bench", Example: "{line: GPIO26, water: closes}", Without: "nothing sees water on the floor"},
	} {
		sw.Path, sw.Kind = bench+sw.Path, Section
		under := sw.Path + "."
		keys = append(append(keys, sw), lineKeys(under, "GPIO24")...)
		if at := (Key{Path: under + "at", Kind: Length, Needed: true, Is: "the height of the water that turns it, above the floor of the table", Example: "26 mm",
			Measure: "a rule beside the float while the table is filled from a can"}); sw.Name() == "empty_switch" {
			at.Needed, at.Zero, at.Default, at.Example = false, true, "0 mm", "3 mm"
			keys = append(keys, at)
		} else if sw.Name() != "leak_switch" {
			keys = append(keys, at)
		}
		keys = append(keys, water(under), pull(under))
	}
	return keys
}

// KindOfOutput is a word for what hangs on an output, and what it does.
type KindOfOutput struct {
	Kind OutputKind
	Is   string
}

// OutputKinds lists what may hang on an output.
func OutputKinds() []KindOfOutput {
	return []KindOfOutput{
		{Pump, "a pump that floods a bench or stirs a reservoir; it belongs behind an enable relay"},
		{Air, "an air pump"},
		{EnableCoil, "the relay in series with every pump behind it; HIGH is wired into its coil"},
		{LampKind, "lamps over plants, or one that tells of what is urgent"},
		{BuzzerKind, "a buzzer before a start, or for what is urgent"},
	}
}
