package client

import (
	"fmt"
	"io"

	"benchtide/cmd/benchtide/ask"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
	"benchtide/controller/web"
)

// onReservoir names the reservoir of an act.
type onReservoir struct {
	Name string `arg:"" optional:"" name:"reservoir" help:"Which reservoir; where there is only one it goes unnamed."`
}

// ofWater is common to what a person says of water that weighings show.
type ofWater struct {
	Litres string `placeholder:"VOLUME" help:"How much you were told of, such as \"22 L\"; all that is asked about unless given."`
	By     string `placeholder:"NAME" help:"Who says so, for the record."`
}

// shown is in litres; 0 means all that is asked about.
func (w ofWater) shown() (float64, error) {
	if w.Litres == "" {
		return 0, nil
	}
	v, err := quantity.ParseVolume(w.Litres)
	return float64(v), flagged("--litres", err)
}

type tookOutFields struct {
	ofWater
	onReservoir
}

func (f tookOutFields) request() (any, error) {
	litres, err := f.shown()
	return web.WaterRequest{Reservoir: f.Name, Litres: litres, By: f.By}, err
}

type toppedUpFields struct {
	ofWater
	Poured string `arg:"" name:"yes|no" enum:"yes,no" help:"yes if you or somebody else poured it in, no if nobody did."`
	onReservoir
}

func (f toppedUpFields) request() (any, error) {
	litres, err := f.shown()
	poured := f.Poured == "yes"
	return web.ToppedUpRequest{Reservoir: f.Name, Poured: &poured, Litres: litres, By: f.By}, err
}

// writeReservoir writes what a reservoir holds, how that is known, and what is
// asked about its water.
func writeReservoir(w io.Writer, r *live.ReservoirStatus, units quantity.Units, called texts.Titles) {
	fmt.Fprintf(w, "%s\t%s%s. Top up now? %s\n", texts.Listed(r.Name, called.Reservoirs), r.Words, warmth(r, units), r.TopUp.Words)
	if r.Thermometer == "silent" {
		fmt.Fprintln(w, "\t! the thermometer shows nothing that can be believed: frost protection is off")
	}
	if u := r.Missing; u != nil && u.Answer == "" {
		fmt.Fprintf(w, "\t! %s are missing since %s; if you took them out, say \"benchtide took-out %s\"\n", units.Weighed(quantity.Litres(u.Litres)), ask.Clock(u.From, ask.DayAndTime), r.Name)
	}
	if u := r.Came; u != nil && u.Answer == "" {
		fmt.Fprintf(w, "\t%s came since %s and are booked as a top-up; if nobody poured them in, say \"benchtide topped-up no %s\"\n", units.Weighed(quantity.Litres(u.Litres)), ask.Clock(u.From, ask.DayAndTime), r.Name)
	}
}
