package score

import "benchtide/controller/sheet"

// figures are all that are judged, in the order in which they are shown.
var figures = []struct{ name, unit string }{
	{"fill by file", "s"}, {"fall by file", "s"}, {"drain by file", "s"}, {"flow by file", "L/h"}, {"V_flood by file", "L"}, {"overflow head by file", "mm"},
	{"fill", "s"}, {"fall", "s"}, {"drain", "s"}, {"flow", "L/h"}, {"V_flood", "L"}, {"overflow head", "mm"},
	{"daily use at 1 day", "L"}, {"daily use at 7 days", "L"}, {"daily use at 21 days", "L"},
	{"days of water left", "d"}, {"hour at which pots reach their limit", "h"}, {"litres weighed", "L"},
}

// sheetFigures are those of a bench sheet, which is stated by the file alone and again
// once the bench was timed, each by its key in JSON and as the sheet has it.
var sheetFigures = []struct {
	name, key string
	of        func(*sheet.Sheet) float64
}{
	{"fill", "t_fill_s", func(s *sheet.Sheet) float64 { return s.Fill.Seconds() }},
	{"fall", "t_fall_s", func(s *sheet.Sheet) float64 { return s.Fall.Seconds() }},
	{"drain", "t_drain_s", func(s *sheet.Sheet) float64 { return s.Drain.Seconds() }},
	{"flow", "flow_l_per_h", func(s *sheet.Sheet) float64 { return float64(s.Flow) }},
	{"V_flood", "v_flood_l", func(s *sheet.Sheet) float64 { return float64(s.VFlood) }},
	{"overflow head", "overflow_head_mm", func(s *sheet.Sheet) float64 { return 1000 * float64(s.OverflowHead) }},
}

// least is the smallest truth that an error is told as a share of, by unit: less than
// a quarter of a litre a day, or of an hour's wait, is none to anybody (judgement).
var least = map[string]float64{"L": 0.25, "h": 1, "d": 0.25}

// judge holds what was stated against what was true.
func judge(stated map[string]Stated, truth map[string]float64) (all []Outcome) {
	for _, f := range figures {
		if s, ok := stated[f.name]; ok && truth[f.name] > least[f.unit] {
			all = append(all, Outcome{f.name, s, truth[f.name]})
		}
	}
	return all
}
