package client

import (
	"context"
	"fmt"
	"io"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/web"
)

// onReservoir names the reservoir of an act.
type onReservoir struct {
	Name string `arg:"" optional:"" name:"reservoir" help:"Which reservoir; where there is only one it goes unnamed."`
}

// ofWater is common to what a person says of water that weighings show.
type ofWater struct {
	act
	Litres string `placeholder:"VOLUME" help:"How much you were told of, such as \"22 L\"; all that is asked about unless given."`
	By     string `placeholder:"NAME" help:"Who says so, for the record."`
}

func (w ofWater) shown() (float64, error) {
	if w.Litres == "" {
		return 0, nil
	}
	v, err := quantity.ParseVolume(w.Litres)
	return float64(v), flagged("--litres", err)
}

type TookOut struct {
	ofWater
	onReservoir
}

func (TookOut) Help() string {
	return `When the reservoir is told to lose water and you took it yourself. The litres are
booked in the diary, once, however often it is said, and the next floods are judged
anew. It resets nothing: a bench that is locked stays so until you reset it.

Example:

    benchtide took-out tank`
}

func (c TookOut) Run(ctx context.Context, s *cli.Session) error {
	litres, err := c.shown()
	if err != nil {
		return err
	}
	return c.do(ctx, s, "took-out", web.WaterRequest{Reservoir: c.Name, Litres: litres, By: c.By})
}

type ToppedUp struct {
	ofWater
	Poured string `arg:"" name:"yes|no" enum:"yes,no" help:"yes if you or somebody else poured it in, no if nobody did."`
	onReservoir
}

func (ToppedUp) Help() string {
	return `Water that came between two weighings and that nobody wrote down is booked as a
top-up. Say no if nobody poured it in: it is not booked then, and what the reservoir
holds is not known until its next weighing.

Examples:

    benchtide topped-up no tank
    benchtide topped-up yes`
}

func (c ToppedUp) Run(ctx context.Context, s *cli.Session) error {
	litres, err := c.shown()
	if err != nil {
		return err
	}
	poured := c.Poured == "yes"
	return c.do(ctx, s, "topped-up", web.ToppedUpRequest{Reservoir: c.Name, Poured: &poured, Litres: litres, By: c.By})
}

// writeReservoir writes what a reservoir holds, how that is known, and what is
// asked about its water.
func writeReservoir(w io.Writer, r *live.ReservoirStatus) {
	fmt.Fprintf(w, "%s\t%s%s. Top up now? %s\n", r.Name, r.Words, warmth(r), r.TopUp.Words)
	if r.Thermometer == "silent" {
		fmt.Fprintln(w, "\t! the thermometer shows nothing that can be believed: frost protection is off")
	}
	if u := r.Missing; u != nil && u.Answer == "" {
		fmt.Fprintf(w, "\t! %.0f L are missing since %s; if you took them out, say \"benchtide took-out %s\"\n", u.Litres, ask.Clock(u.From, ask.DayAndTime), r.Name)
	}
	if u := r.Came; u != nil && u.Answer == "" {
		fmt.Fprintf(w, "\t%.0f L came since %s and are booked as a top-up; if nobody poured them in, say \"benchtide topped-up no %s\"\n", u.Litres, ask.Clock(u.From, ask.DayAndTime), r.Name)
	}
}
