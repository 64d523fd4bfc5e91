package hydraulics

// What the program reaches through pipes alone, for the tables.
var (
	Colebrook      = colebrook
	SwameeJain     = swameeJain
	FrictionFactor = frictionFactor
)

// Edges of the friction factor's kinds of flow, by Reynolds number.
const (
	LaminarBelow   = laminarBelow
	TurbulentAbove = turbulentAbove
)

// OperatingPoint is where the curve meets a static head in m and a resistance r
// in s²/m⁵: flow in m³/s and head in m.
func (p Pump) OperatingPoint(static, r float64) (flow, head float64) {
	flow = p.flow(p.shutOff-static, r)
	return flow, p.head(flow)
}

// ShutOff is the head at no flow, the highest that the pump lifts.
func (p Pump) ShutOff() Metres { return Metres(p.shutOff) }

// HeadLoss is the head lost to friction and fittings at flow q.
func (p Pipe) HeadLoss(q CubicMetresPerSecond, nu SquareMetresPerSecond) (Metres, error) {
	if err := p.check(nu); err != nil {
		return 0, err
	}
	return Metres(p.headLoss(float64(q), float64(nu))), nil
}

// Transition is the head in m where the weir drowns into an orifice, a little
// over a third of the bore. Source: US EPA SWMM.
func (s Standpipe) Transition() float64 { return s.orifice() / s.weir() }

// Reynolds is the Reynolds number of flow q in m³/s.
func (p Pipe) Reynolds(q, nu float64) float64 { return p.reynolds(q, nu) }
