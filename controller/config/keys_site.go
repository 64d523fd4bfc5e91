package config

import (
	"slices"
	"strconv"

	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

func allKeys() []Key {
	return slices.Concat(siteKeys(), wiringKeys(), benchKeys(), companyKeys(), messageKeys(), planKeys())
}

func siteKeys() []Key {
	keys := []Key{
		{Path: "site", Kind: Section, Needed: true, Is: "what the site is called and where it is", Example: "{name: Quarry Lane greenhouse, timezone: Europe/Dublin}",
			Both: [][2]string{{"latitude", "longitude"}}},
		{Path: "site.name", Kind: Words, Most: strconv.Itoa(texts.Name), Needed: true, Is: "what people call the site", Example: "Quarry Lane greenhouse"},
		{Path: "site.timezone", Kind: Zone, Needed: true, Is: "the time zone of the place, by which floods are planned", Example: "Europe/Dublin",
			Measure: "run timedatectl list-timezones and take the largest town of your zone"},
		{Path: "site.latitude", Kind: Degrees, Least: "-90", Most: "90", Is: "how far north the site is, in degrees", Example: "53.2",
			Without: "daylight is not known, and 50° north is taken for water demand", Measure: "read it off a map; south is negative"},
		{Path: "site.longitude", Kind: Degrees, Least: "-180", Most: "180", Is: "how far east the site is, in degrees", Example: "-7.1",
			Without: "daylight is not known", Measure: "read it off a map; west is negative"},
		{Path: "site.floor", Kind: Choice, Words: []string{"drained", "dry-room"}, Default: "dry-room", Meant: map[string]string{"drain": "drained", "wet": "drained", "dry": "dry-room", "no": "dry-room", "yes": "drained"}, Is: "whether the floor can take a spill", Example: "drained",
			Measure: "pour out a bucket: on a drained floor it runs off and harms nothing"},
		{Path: "site.units", Kind: Choice, Since: inNovember, Words: []string{quantity.Metric.String(), quantity.US.String()}, Default: quantity.Metric.String(), Meant: map[string]string{"imperial": "us", "american": "us", "customary": "us", "usa": "us", "inches": "us", "si": "metric", "eu": "metric"}, Is: "in which units people read everything about the site; the file may be written in either", Example: "us"},
		{Path: "site.climate", Kind: Section, Is: "what days are like where the plants are", Example: "{lows: 10 to 18 C, highs: 18 to 34 C, humidity: 40 to 85 %, light: 4 to 27 MJ/m2}",
			Without: "a greenhouse in a temperate summer is taken for all months", Apart: [][]string{{"months"}, {"lows", "highs", "humidity", "light"}},
			One: []string{"months", "lows"}, Both: [][2]string{{"lows", "highs"}, {"lows", "humidity"}, {"lows", "light"}}},
		{Path: "site.climate.cover", Kind: Share, Least: "5 %", Most: "100 %", Default: "70 %", Is: "the share of the light that glass or film lets through", Example: "70 %",
			Measure: "a light meter under the cover and in the open at the same minute; 100 % in the open air"},
		{Path: "site.climate.months", Kind: Named, Is: "a line of the climate for each month that has its own", Example: "{july: {lows: 14 to 18 C, highs: 24 to 34 C, humidity: 40 to 80 %, light: 8 to 27 MJ/m2}}",
			Without: "the whole year has one line"},
		{Path: "site.climate.months.MONTH", Kind: Section, Words: monthNames, Is: "the climate of that month; a month without its own has that of the one before",
			Example: "{lows: 14 to 18 C, highs: 24 to 34 C, humidity: 40 to 80 %, light: 8 to 27 MJ/m2}"},
	}
	keys = append(keys, climateLineKeys("site.climate.months.MONTH.", true)...)
	keys = append(keys, climateLineKeys("site.climate.", false)...)
	return append(keys,
		Key{Path: "site.weather", Kind: Words, Is: "a file beside this one: a table of days on record with the columns date, low_c, high_c and others, or the log of a sensor with time, air_c and humidity_pct; low_f, high_f and air_f are taken too", Example: "weather.csv",
			Without: "the climate stands in for the weather"},
		Key{Path: "board", Kind: Choice, Words: []string{string(Simulated), string(GPIO)}, Needed: true, Meant: map[string]string{"pi": "gpio", "rpi": "gpio", "raspberry pi": "gpio", "real": "gpio", "sim": "simulated", "demo": "simulated"}, Is: "what the lines below are on", Example: "gpio"})
}

// climateLineKeys are the four figures of a climate.
func climateLineKeys(under string, needed bool) []Key {
	without := "it is needed, unless months are given"
	if needed {
		without = ""
	}
	return []Key{
		{Path: under + "lows", Kind: Warmths, Needed: needed, Without: without, Is: "how cool the coolest and the warmest nights get", Example: "10 to 18 C",
			Measure: "a thermometer with a memory among the plants"},
		{Path: under + "highs", Kind: Warmths, Needed: needed, Without: without, Is: "how warm the coolest and the hottest days get", Example: "18 to 34 C",
			Measure: "a thermometer with a memory among the plants"},
		{Path: under + "humidity", Kind: Shares, Needed: needed, Without: without, Is: "the humidity on the driest and the dampest days", Example: "40 to 85 %",
			Measure: "a hygrometer among the plants"},
		{Path: under + "light", Kind: Sunlights, Needed: needed, Without: without, Is: "the light outdoors on dull and on bright days", Example: "4 to 27 MJ/m2",
			Measure: "the records of the nearest weather station: global radiation by day"},
	}
}
