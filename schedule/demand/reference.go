package demand

// Balance is how a reference evapotranspiration came about. Energies are of a
// day, or of an hour where an hour was asked for.
type Balance struct {
	ET Millimetres // may be a little below zero on a cold damp day: dew

	Slope, Gamma       Kilopascals // per K
	Saturation, Vapour Kilopascals
	Wind               MetresPerSecond
	Daylight           Hours // of the day, also for an hour

	Above, Light, ClearSky         Megajoules // above the atmosphere; reaching the plants; under a clear sky
	ShortWave, LongWave, Net, Soil Megajoules // kept, lost, both together, passed on to the ground

	Mean    Celsius
	Assumed []Assumption // what had to stand in for readings
}

// Deficit is the vapour pressure deficit.
func (b Balance) Deficit() Kilopascals { return b.Saturation - b.Vapour }

// Assumption says in words what stood in for a missing reading.
type Assumption string

// The assumptions of FAO-56 chapter 3 for missing readings.
const (
	AssumedDew       Assumption = "no humidity: dew point taken as the night's low"
	AssumedWind      Assumption = "no wind: 2 m/s, the mean of many stations"
	AssumedFromRange Assumption = "no light: guessed from the day's range of temperature"
	AssumedFromSun   Assumption = "no light: worked out from hours of sunshine"
)

// usualWind stands in for wind that was not read (FAO-56 ch. 3).
const usualWind = 2

// Reference is the water that short grass uses in a day, by the FAO-56
// Penman–Monteith equation (eq. 6). Missing humidity, wind and light are taken
// as FAO-56 chapter 3 says and listed in Assumed. Under a Cover, temperatures
// and humidity are those inside, light and sunshine those outside, and wind
// does not count. Readings that cannot be are an error that names the range.
func (p Location) Reference(d Day) (Balance, error) {
	if err := d.check(p); err != nil {
		return Balance{}, err
	}
	b := p.light(d)
	b.moisture(d)
	if p.Cover > 0 {
		b = p.Cover.under(b)
	} else {
		b.wind(d)
		b.LongWave = NetLongWave(d.Low, d.High, b.Vapour, clearness(b.Light, b.ClearSky))
	}
	b.close(d, p.Altitude)
	b.ET = b.penmanMonteith()
	return b, nil
}

// light takes the best of measured light, sunshine and range of temperature.
func (p Location) light(d Day) Balance {
	above := Extraterrestrial(d.YearDay, p.Latitude)
	b := Balance{Above: above, Daylight: Daylight(d.YearDay, p.Latitude), ClearSky: ClearSky(above, p.Altitude)}
	if light, ok := d.Light.Get(); ok {
		b.Light = light
		return b
	}
	if sunshine, ok := d.Sunshine.Get(); ok {
		b.Light = LightFromSunshine(above, min(sunshine, b.Daylight), b.Daylight)
		b.Assumed = append(b.Assumed, AssumedFromSun)
		return b
	}
	b.Light = LightFromRange(above, d.Low, d.High, p.Coastal)
	b.Assumed = append(b.Assumed, AssumedFromRange)
	return b
}

// moisture takes the best of what is known, in the order of FAO-56 ch. 3.
func (b *Balance) moisture(d Day) {
	b.Saturation = MeanSaturation(d.Low, d.High)
	vapour, haveVapour := d.Vapour.Get()
	dew, haveDew := d.Dew.Get()
	driest, haveDriest := d.Driest.Get()
	dampest, haveDampest := d.Dampest.Get()
	mean, haveMean := d.Humidity.Get()
	switch {
	case haveVapour:
		b.Vapour = vapour
	case haveDew:
		b.Vapour = Saturation(dew)
	case haveDriest && haveDampest:
		b.Vapour = VapourFromExtremes(d.Low, d.High, driest, dampest)
	case haveMean:
		b.Vapour = VapourFromMean(d.Low, d.High, mean)
	case haveDampest:
		b.Vapour = VapourFromDampest(d.Low, dampest)
	default:
		b.Vapour = Saturation(d.Low)
		b.Assumed = append(b.Assumed, AssumedDew)
	}
}

func (b *Balance) wind(d Day) {
	wind, ok := d.Wind.Get()
	if !ok {
		wind = usualWind
		b.Assumed = append(b.Assumed, AssumedWind)
	}
	b.Wind = wind
}

// close works out what follows from the rest.
func (b *Balance) close(d Day, altitude Metres) {
	b.Mean = d.mean()
	b.Slope = Slope(b.Mean)
	b.Gamma = Psychrometric(Pressure(altitude))
	b.ShortWave = NetShortWave(b.Light)
	b.Net = b.ShortWave - b.LongWave
	b.Soil = d.Soil
}

// clearness is the share of a clear sky's light. In the polar night there is
// none to compare, and half clear it is.
func clearness(light, clear Megajoules) float64 {
	if clear <= 0 {
		return halfClear
	}
	return float64(light / clear)
}

// halfClear lies between the 0.4 to 0.6 that FAO-56 names for nights in humid
// and the 0.7 to 0.8 in dry climates (from memory).
const halfClear = 0.6

// penmanMonteith is FAO-56 eq. 6.
func (b Balance) penmanMonteith() Millimetres {
	slope, gamma, wind := float64(b.Slope), float64(b.Gamma), float64(b.Wind)
	energy := evaporate * slope * float64(b.Net-b.Soil)
	air := gamma * 900 / (float64(b.Mean) + 273) * wind * float64(b.Deficit())
	return Millimetres((energy + air) / (slope + gamma*(1+0.34*wind)))
}

// ByEnergy is what light on the plants of a place adds to the reference at a mean
// temperature: the energy term of FAO-56 eq. 6, with the usual wind or that of Cover.
func (p Location) ByEnergy(mean Celsius, light Megajoules) Millimetres {
	b := Balance{Mean: mean, Slope: Slope(mean), Gamma: Psychrometric(Pressure(p.Altitude)), Net: NetShortWave(light), Wind: usualWind}
	if p.Cover > 0 {
		b.Wind = stillAir
	}
	return b.penmanMonteith()
}
