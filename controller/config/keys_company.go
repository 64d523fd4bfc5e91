package config

func companyKeys() []Key {
	keys := []Key{
		{Path: "stirring", Kind: Section, Many: true, Is: "a pump that stirs a reservoir ahead of a flood", Example: "{output: stirrer, before_flood: 10 min}", Without: "nothing stirs"},
		{Path: "stirring.output", Kind: Reference, Needed: true, Is: "the output of the stirring pump", Example: "stirrer"},
		{Path: "stirring.reservoir", Kind: Reference, Is: "the reservoir that it stirs", Example: "tank", Without: "the only one there is; with several it is needed"},
		{Path: "stirring.before_flood", Kind: Time, Usual: stirs, Needed: true, Is: "how long it stirs ahead of a flood", Example: "10 min"},

		{Path: "aeration", Kind: Section, Many: true, Is: "an air pump and its hours", Example: "{output: air, always: true}", Without: "nothing aerates",
			Both: [][2]string{{"from", "to"}}},
		{Path: "aeration.output", Kind: Reference, Needed: true, Is: "the output of the air pump", Example: "air"},
		{Path: "aeration.always", Kind: Truth, Default: "false", Is: "whether it never rests; then no hours are given", Example: "true"},
		{Path: "aeration.from", Kind: TimeOfDay, Is: "when it begins", Example: `"06:00"`, Without: "it is needed, unless always is true"},
		{Path: "aeration.to", Kind: TimeOfDay, Is: "when it ends", Example: `"22:00"`, Without: "it is needed, unless always is true"},

		{Path: "lamps", Kind: Section, Many: true, Is: "lamps and their hours", Example: `{output: lamps, on: "06:00", off: "22:00"}`, Without: "plants have daylight"},
		{Path: "lamps.output", Kind: Reference, Is: "the output of the lamps", Example: "lamps", Without: "they are on a timer of their own: their light is reckoned with, and nothing here switches them"},
		{Path: "lamps.on", Kind: TimeOfDay, Needed: true, Is: "when they light", Example: `"06:00"`},
		{Path: "lamps.off", Kind: TimeOfDay, Needed: true, Is: "when they go out", Example: `"22:00"`},
		{Path: "lamps.flux", Kind: PhotonFlux, Usual: fluxes, Is: "their light at the leaves", Example: "180 umol/m2s", Zero: true, Without: "water demand leaves their light out",
			Measure: "a quantum meter at the height of the leaves, or the maker's table for that height"},

		{Path: "buzzer", Kind: Section, Is: "what sounds before an automatic start", Example: "{output: horn, before_start: 10 s}", Without: "nothing sounds"},
		{Path: "buzzer.output", Kind: Reference, Needed: true, Is: "the output of the buzzer", Example: "horn"},
		{Path: "buzzer.before_start", Kind: Time, Usual: sounds, Needed: true, Is: "how long it sounds before the pump starts", Example: "10 s"},

		{Path: "hands_in_button", Kind: Section, Is: "a button that keeps everything off while somebody works in the benches", Example: "{line: GPIO26, pressed: closes}", Without: "hands-in is said by page and command alone"},
	}
	keys = append(keys, lineKeys("hands_in_button.", "GPIO26")...)
	return append(keys,
		Key{Path: "hands_in_button.pressed", Kind: Choice, Words: []string{"closes", "opens"}, Needed: true, Is: "what a press does to its contact", Example: "closes",
			Measure: "an ohmmeter on its wires while it is pressed"},
		pull("hands_in_button."))
}

func planKeys() []Key {
	const stage, batch = "plans.NAME.stages.STAGE.", "batches.BATCH."
	return []Key{
		{Path: "plans", Kind: Named, Needed: true, Is: "each plan under its name: a list of stages, or a title and such a list", Example: `basil: [{from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}]`},
		{Path: "plans.NAME", Kind: Section, Alone: "stages", Is: "one plan: the list of its stages, or a section with its title and these stages", Example: `{title: Basil in pots, stages: [{from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}]}`},
		title("plans.NAME.", "Basil in pots"),
		{Path: "plans.NAME.stages", Kind: List, Since: inNovember, Needed: true, Is: "the stages of one plan, the youngest plants first", Example: `- {from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}`},
		{Path: "plans.NAME.stages.STAGE", Kind: Section, Is: "one stage", Example: `{from_day: 0, flood_at: ["09:00"], hold: 4 min, strength: 25 %, can_wait: 48 h}`,
			One: []string{"flood_at", "cron", "floods"}, Apart: [][]string{{"cron"}, {"every"}}},
		{Path: stage + "from_day", Kind: Whole, Usual: ages, Least: "0", Most: longestText, Needed: true, Zero: true, Is: "the age of the plants in days from which the stage holds: since they were transplanted, or since they were sown where the batch gives no transplanted", Example: "10"},
		{Path: stage + "flood_at", Kind: TimeOfDay, Many: true, Is: "the times of its floods", Example: `["08:30", "15:00"]`, Without: "one of flood_at, cron and floods is needed"},
		{Path: stage + "cron", Kind: CronTimes, Is: "the times of its floods as a cron expression", Example: `"0 8-17/3 * * *"`, Without: "one of flood_at, cron and floods is needed"},
		{Path: stage + "floods", Kind: Whole, Least: "1", Most: "24", Is: "how many floods are spread over the light hours of a day", Example: "4", Without: "one of flood_at, cron and floods is needed"},
		{Path: stage + "every", Kind: Days, Since: inNovember, Least: "1 d", Most: "30 d", Default: "1 d", Is: "after how many days it floods again, with flood_at or floods, counted in days of the calendar from the first day of the stage", Example: "2 d",
			Measure: "can_wait has to be longer than that"},
		{Path: stage + "hold", Kind: Time, Usual: holds, Needed: true, Is: "how long the water stands", Example: "4 min", Measure: "try it: the pots are wet at the top when the water falls"},
		{Path: stage + "strength", Kind: Share, Usual: strengths, Most: "100 %", Needed: true, Is: "the strength of the solution", Example: "25 %"},
		{Path: stage + "can_wait", Kind: Time, Usual: waits, Needed: true, Is: "how long these plants can go without a flood", Example: "48 h", Measure: "leave one pot out and watch it on a hot day: half the time until it wilts"},

		{Path: "batches", Kind: List, Is: "the plants that stand on the benches", Example: "- {name: basil_spring, plan: basil, bench: north, transplanted: 2026-03-02, pots: 96, pot: {top: 9 cm, volume: 0.35 L}}", Without: "nothing is flooded by schedule"},
		{Path: "batches.BATCH", Kind: Section, Is: "plants of one age on one bench", Example: "{name: basil_spring, plan: basil, bench: north, transplanted: 2026-03-02, pots: 96, pot: {top: 9 cm, volume: 0.35 L}}",
			Any: []string{"transplanted", "sown"}},
		{Path: batch + "name", Kind: OwnName, Needed: true, Is: "the name of the batch", Example: "basil_spring"},
		title(batch, "Basil of the spring"),
		{Path: batch + "plan", Kind: Reference, Needed: true, Is: "the plan that it follows", Example: "basil"},
		{Path: batch + "bench", Kind: Reference, Needed: true, Is: "the bench that it stands on", Example: "north"},
		{Path: batch + "transplanted", Kind: Date, Is: "the day it was transplanted into its pots and came onto the bench, from which ages count", Example: "2026-03-02",
			Without: "it is sown in its pots: ages count from sown, which is needed then", Measure: "the label in the tray, or the diary"},
		{Path: batch + "sown", Kind: Date, Since: inNovember, Older: "how old its plants are counts from the day they came onto the bench alone", Is: "the day it was sown; ages count from it where transplanted is not given", Example: "2026-02-09",
			Without: "nobody is told how old the seed is; ages count from transplanted, which is needed then", Measure: "the label in the tray, or the diary"},
		{Path: batch + "closed", Kind: Date, Is: "its last day on the bench", Example: "2026-05-30", Without: "it stands until it is closed"},
		{Path: batch + "pots", Kind: Whole, Least: "1", Most: "1000000", Needed: true, Is: "how many pots there are", Example: "96"},
		{Path: batch + "pot", Kind: Section, Needed: true, Is: "one pot", Example: "{top: 9 cm, volume: 0.35 L}"},
		{Path: batch + "pot.top", Kind: Length, Usual: potTops, Needed: true, Is: "the diameter of its rim", Example: "9 cm", Measure: "a rule across the rim, inside"},
		{Path: batch + "pot.volume", Kind: Volume, Usual: potVolumes, Needed: true, Is: "what one pot holds", Example: "0.35 L", Measure: "fill it from a measuring jug with its holes taped"},
		{Path: batch + "substrate", Kind: Choice, Words: namesOf(substrates, func(s Substrate) string { return s.Name }), Default: substrates[0].Name, Meant: otherSubstrates, Is: "what fills the pots", Example: "peat"},
		{Path: batch + "crop", Kind: Choice, Words: cropNames(), Default: "leafy", Meant: otherCrops, Is: "what grows", Example: "leafy"},
		{Path: batch + "covered_on_day", Kind: Whole, Usual: coverDays, Least: "0", Most: longestText, Zero: true, Is: "the age in days at which leaves cover the bench", Example: "42", Without: "what is usual for the crop", Measure: "the day on which no floor of the bench is seen from above"},
		{Path: batch + "spread", Kind: Length, Usual: widths, Is: "how wide one plant grows", Example: "17 cm", Without: "its share of the bench", Measure: "a rule over a plant ready to be sold"},
		{Path: batch + "advance", Kind: Choice, Words: []string{"auto", "asked"}, Meant: map[string]string{"automatic": "auto", "manual": "asked", "ask": "asked"}, Default: "auto", Is: "whether it enters a stage by its age, or when a person says so", Example: "asked"},
	}
}

// Other words for what fills pots and for what grows in them.
var (
	otherSubstrates = map[string]string{
		"soil": "peat", "potting soil": "peat", "potting mix": "peat", "compost": "peat", "turf": "peat", "peat moss": "peat",
		"coco": "coir", "coconut": "coir", "cocopeat": "coir", "coco coir": "coir",
		"stone wool": "rockwool", "stonewool": "rockwool", "mineral wool": "rockwool", "pine bark": "bark", "wood fibre": "wood", "wood fiber": "wood",
	}
	otherCrops = map[string]string{
		"herbs": "leafy", "salad": "leafy", "chard": "leafy", "kale": "leafy", "spinach": "leafy", "mint": "leafy", "parsley": "leafy",
		"pepper": "sweet_pepper", "peppers": "sweet_pepper", "bell pepper": "sweet_pepper", "capsicum": "sweet_pepper", "chili": "sweet_pepper", "chilli": "sweet_pepper", "tomatoes": "tomato", "cucumbers": "cucumber",
	}
)
