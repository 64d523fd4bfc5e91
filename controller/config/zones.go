package config

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// towns are large towns that the tz database has no zone for, and the zone of
// their place; letters after a clock's time are written for it too. From memory.
var towns = map[string]string{
	"minneapolis": "America/Chicago", "saint_paul": "America/Chicago", "dallas": "America/Chicago", "houston": "America/Chicago", "austin": "America/Chicago",
	"milwaukee": "America/Chicago", "kansas_city": "America/Chicago", "st_louis": "America/Chicago", "memphis": "America/Chicago", "new_orleans": "America/Chicago", "omaha": "America/Chicago", "des_moines": "America/Chicago",
	"boston": "America/New_York", "philadelphia": "America/New_York", "washington": "America/New_York", "atlanta": "America/New_York", "miami": "America/New_York", "charlotte": "America/New_York", "cleveland": "America/New_York", "pittsburgh": "America/New_York",
	"seattle": "America/Los_Angeles", "portland": "America/Los_Angeles", "san_francisco": "America/Los_Angeles", "san_diego": "America/Los_Angeles", "sacramento": "America/Los_Angeles", "las_vegas": "America/Los_Angeles",
	"salt_lake_city": "America/Denver", "albuquerque": "America/Denver", "colorado_springs": "America/Denver",
	"ottawa": "America/Toronto", "calgary": "America/Edmonton",
	"frankfurt": "Europe/Berlin", "munich": "Europe/Berlin", "hamburg": "Europe/Berlin", "cologne": "Europe/Berlin",
	"manchester": "Europe/London", "birmingham": "Europe/London", "edinburgh": "Europe/London", "cardiff": "Europe/London", "leeds": "Europe/London",
	"cork": "Europe/Dublin", "galway": "Europe/Dublin", "lyon": "Europe/Paris", "marseille": "Europe/Paris", "barcelona": "Europe/Madrid", "milan": "Europe/Rome", "naples": "Europe/Rome",
	"geneva": "Europe/Zurich", "basel": "Europe/Zurich", "rotterdam": "Europe/Amsterdam", "the_hague": "Europe/Amsterdam",
	"mumbai": "Asia/Kolkata", "delhi": "Asia/Kolkata", "beijing": "Asia/Shanghai", "osaka": "Asia/Tokyo",
	"cst": "America/Chicago", "cdt": "America/Chicago", "edt": "America/New_York", "mdt": "America/Denver", "pst": "America/Los_Angeles", "pdt": "America/Los_Angeles",
	"bst": "Europe/London", "ist": "Europe/Dublin", "cest": "Europe/Berlin", "eest": "Europe/Helsinki", "aest": "Australia/Sydney", "jst": "Asia/Tokyo",
	"eastern": "America/New_York", "central": "America/Chicago", "mountain": "America/Denver", "pacific": "America/Los_Angeles",
}

// stopped are zones whose clocks never change, though those of most places that
// go by these letters do.
var stopped = map[string]string{"EST": "America/New_York", "MST": "America/Denver", "HST": "Pacific/Honolulu"}

func zone(text string) (*time.Location, error) {
	if text == "" || text == "Local" {
		return time.UTC, fmt.Errorf("%q: name the site's own zone, such as Europe/Dublin", text)
	}
	loc, err := time.LoadLocation(text)
	if err != nil {
		return time.UTC, fmt.Errorf("%q: no such time zone%s", text, nearZone(text))
	}
	return loc, nil
}

// nearZone says which zone may be meant.
func nearZone(text string) string {
	town := strings.ToLower(strings.NewReplacer(" ", "_", ".", "").Replace(text[strings.LastIndexByte(text, '/')+1:]))
	if z, ok := towns[strings.TrimSuffix(strings.TrimPrefix(town, "us_"), "_time")]; ok {
		if !strings.Contains(text, "/") && len(text) <= 4 {
			return fmt.Sprintf(": letters are of no one place: did you mean %s?", z)
		}
		return fmt.Sprintf(": did you mean %s, whose clocks it has?", z)
	}
	var zones []string
	for z := range latitudes() {
		zones = append(zones, z)
		if strings.EqualFold(z[strings.LastIndexByte(z, '/')+1:], town) {
			return fmt.Sprintf(": did you mean %s?", z)
		}
	}
	slices.Sort(zones)
	if z := closest(text, zones); z != "" {
		return fmt.Sprintf(": did you mean %s?", z)
	}
	if strings.ContainsAny(text, "+-0123456789") {
		return "; hours from UTC leave summer time out: name a place of the tz database, such as Europe/Dublin or America/New_York"
	}
	return "; name a place of the tz database, such as Europe/Dublin or America/New_York"
}
