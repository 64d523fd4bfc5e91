package commission

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"benchtide/controller/config"
)

// Prove holds the monthly proof test of the benches named, all of them when
// none is: every switch is moved both ways, and HIGH has to keep the enable
// relay open. It needs no plug pulled: under hands-in no pump circuit closes
// where an enable relay is fitted.
func Prove(ctx context.Context, o Options, benches []string) error {
	d := &dialogue{Options: o, site: o.Site}
	chosen, err := choose(o.Site, benches)
	if err != nil {
		return err
	}
	return d.hold(ctx, d.finally(func() error {
		if err := d.dated(); err != nil {
			return err
		}
		for _, i := range chosen {
			if err := d.proveBench(i); err != nil {
				return err
			}
		}
		return nil
	}))
}

func choose(site *config.Site, names []string) (chosen []int, err error) {
	var known []string
	for i, b := range site.Benches {
		known = append(known, b.Name)
		if len(names) == 0 {
			chosen = append(chosen, i)
		}
	}
	for _, name := range names {
		i := slices.Index(known, name)
		if i < 0 {
			return nil, fmt.Errorf("proof test: no bench %q; there are %s", name, strings.Join(known, ", "))
		}
		chosen = append(chosen, i)
	}
	return chosen, nil
}

func (d *dialogue) proveBench(i int) error {
	name := d.Site.Benches[i].Name
	d.answers = nil
	d.say("\nProof test of %s.", d.bench(i))
	if d.Site.Outputs[d.Site.Benches[i].Pump].Enable < 0 {
		if err := d.confirm("Unplug the pump of "+d.bench(i)+". Is it unplugged?", "unplug it first"); err != nil {
			return err
		}
	}
	err := d.underTest(i, func() error {
		for _, p := range d.switchesOf(i) {
			if err := d.test(p, p.brief()); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		err = d.highDrops(i)
	}
	data := stepData{Step: "proof test", Answers: d.answers}
	if errors.Is(err, ErrFailed) {
		data.Failure = err.Error()
		return errors.Join(err, d.add(failed, name, data))
	}
	if err != nil {
		return err
	}
	return d.add(proved, name, data)
}
