package demand

// Cover is the share of the light outside that reaches the plants through the
// glass or film of a greenhouse. Glazing and structure take 10 to 40 % (UMass
// Extension, sizing the greenhouse water system). 0 means the open air.
type Cover float64

// greenhouseResistance is the aerodynamic resistance in s/m of short plants in
// still greenhouse air, whatever the wind outside: what fitted lysimeters under
// plastic from 1993 to 2004 best (Fernández et al., Irrigation Science, 2010,
// abstract). Later papers quote 295 for it, with which plants would use 10 to 15 %
// less.
const greenhouseResistance = 150

// stillAir is the wind in m/s that FAO-56 eq. 4 gives such a resistance.
const stillAir = 208.0 / greenhouseResistance

// AssumedStillAir and AssumedWarmCover are what a greenhouse takes the place of
// wind and sky with.
const (
	AssumedStillAir  Assumption = "greenhouse: still air of 150 s/m in place of wind"
	AssumedWarmCover Assumption = "greenhouse: cover as warm as the plants, no heat lost to the sky"
)

func (c Cover) check() error {
	if c == 0 {
		return nil
	}
	return between("light that the cover lets through", 100*c, 5, 100, "%")
}

// under is FAO-56 eq. 6 with the light that the cover lets through and a fixed
// aerodynamic resistance, which eq. 6 knows as 208/wind. A cover that holds back
// heat is taken as warm as what stands under it, which errs, by up to a fifth,
// towards more water; the source does not say.
func (c Cover) under(b Balance) Balance {
	b.Light *= Megajoules(c)
	b.Wind = stillAir
	b.Assumed = append(b.Assumed, AssumedStillAir, AssumedWarmCover)
	return b
}
