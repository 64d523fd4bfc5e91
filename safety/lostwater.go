package safety

// FoundLost takes the controller's verdict that the floods of a bench lose
// water; the guard knows no plants. It keeps the bench off like any latched
// trip.
func (g *Guard) FoundLost(now Now, bench int, detail string) {
	if _, err := g.bench(bench); err != nil {
		return
	}
	g.now = now
	g.trip(bench, LostWater, true, detail)
	g.survey()
	g.again = true
}
