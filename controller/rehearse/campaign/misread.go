package campaign

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"

	"benchtide/controller/config"
)

// Built is a random site of one bench as it stands, and its file as somebody wrote it
// who measured as people do.
type Built struct {
	Site *config.Site
	File string
}

// misreadings is how often somebody measures until the check of their file passes.
const misreadings = 50

// DrawBuilt draws one. Its bench has FULL, since without it nothing can be timed.
func DrawBuilt(ctx context.Context, r *rand.Rand) (b Built, err error) {
	for {
		p, err := drawSite(ctx, r, 1)
		if err != nil {
			return b, err
		}
		if p.Site.Benches[0].Full == nil {
			continue
		}
		house, stands := drawClimate(r), *p.draft
		stands.climate = house.key()
		if b.Site, err = parse(stands.text()); err != nil {
			return b, fmt.Errorf("the site as it stands: %w", err)
		}
		for range misreadings {
			file := p.draft.misread(r)
			file.climate = house.misread(r).key()
			b.File = file.text()
			if _, err = parse(b.File); err == nil {
				return b, nil
			}
		}
	}
}

// reads is how far a person's figure lies off the true one: of the standard deviation
// off, and never over twice that. What people err by is common practice, no source.
func reads(r *rand.Rand, off float64) float64 { return off * min(2, max(-2, r.NormFloat64())) }

// misread is the file of a site by a rule, a tape and the labels of pots. The area of
// the table, its floats and the mark of the tank nature draws.
func (d *draft) misread(r *rand.Rand) *draft {
	f := *d
	f.benches, f.batches = slices.Clone(d.benches), slices.Clone(d.batches)
	for i := range f.benches {
		b := &f.benches[i]
		b.crest += reads(r, 0.7)
		b.rim += reads(r, 1)
		b.lift = max(0.1, b.lift+reads(r, 0.03))
		b.hose *= 1 + reads(r, 0.05)
		b.drainLength *= 1 + reads(r, 0.05)
	}
	for i := range f.batches {
		b := &f.batches[i]
		b.top *= 1 + reads(r, 0.02)
		b.volume *= 1 + reads(r, 0.05)
	}
	return &f
}

// climate is that of a house in one line.
type climate struct {
	lows, highs, humid, light [2]float64
	cover                     float64
}

// drawClimate draws a house: spans as wide as the one that a file without them has.
func drawClimate(r *rand.Rand) climate {
	cold, warm := between(r, 8, 14), between(r, 16, 20)
	return climate{
		lows: [2]float64{cold, cold + between(r, 5, 9)}, highs: [2]float64{warm, warm + between(r, 12, 17)},
		humid: [2]float64{between(r, 35, 50), between(r, 75, 90)}, light: [2]float64{between(r, 2, 5), between(r, 22, 28)}, cover: between(r, 55, 80),
	}
}

// misread is what somebody who works in the house takes it for.
func (c climate) misread(r *rand.Rand) climate {
	for _, span := range []struct {
		of  *[2]float64
		off float64
	}{{&c.lows, 1}, {&c.highs, 1.5}, {&c.humid, 4}, {&c.light, 1}} {
		off := reads(r, span.off)
		span.of[0], span.of[1] = max(1, span.of[0]+off), span.of[1]+off
	}
	c.cover += reads(r, 4)
	return c
}

// key is the line of the file.
func (c climate) key() string {
	return fmt.Sprintf(", climate: {cover: %.0f %%, lows: %.1f to %.1f C, highs: %.1f to %.1f C, humidity: %.0f to %.0f %%, light: %.1f to %.1f MJ/m2}",
		c.cover, c.lows[0], c.lows[1], c.highs[0], c.highs[1], c.humid[0], min(100, c.humid[1]), c.light[0], c.light[1])
}
