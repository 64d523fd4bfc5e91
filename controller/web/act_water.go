package web

import (
	"fmt"
	"net/http"
	"strings"

	"benchtide/controller/live"
	"benchtide/controller/quantity"
)

// WaterRequest says where the water went or came from that weighings of a
// reservoir cannot explain.
type WaterRequest struct {
	Reservoir string  `json:"reservoir"`
	Litres    float64 `json:"litres"` // as they were shown; 0 means all that is asked about
	By        string  `json:"by"`
}

// ToppedUpRequest says whether somebody poured in the water that came.
type ToppedUpRequest struct {
	Reservoir string  `json:"reservoir"`
	Poured    *bool   `json:"poured"`
	Litres    float64 `json:"litres"` // as of WaterRequest
	By        string  `json:"by"`
}

func (q WaterRequest) about() string    { return q.Reservoir }
func (q ToppedUpRequest) about() string { return q.Reservoir }

func (a *API) tookOut(r *http.Request, q WaterRequest, k int, name string) (Done, error) {
	u, err := a.Site.TookOut(r.Context(), k, q.Litres, q.By)
	words := fmt.Sprintf("%s are booked as taken out of %s, and are not looked for any more", a.volume(u.Litres), a.Facts.Called.Reservoir(name))
	if !u.First {
		words = fmt.Sprintf("%s: that is known already%s: %s", a.Facts.Called.Reservoir(name), byWhom(u.By), a.volume(u.Litres))
	}
	if len(u.Latched) > 0 {
		words += "; " + listed(u.Latched) + " stays locked until you reset it"
	}
	return Done{Done: words}, ofWord(err)
}

func (a *API) toppedUp(r *http.Request, q ToppedUpRequest, k int, name string) (Done, error) {
	if q.Poured == nil {
		return Done{}, live.Invalid{Reason: "poured: write true if somebody poured the water in, false if nobody did"}
	}
	u, err := a.Site.ToppedUp(r.Context(), k, *q.Poured, q.Litres, q.By)
	yes, no := true, false
	done := Done{
		fmt.Sprintf("%s are booked as a top-up of %s", a.volume(u.Litres), a.Facts.Called.Reservoir(name)),
		&Undo{"topped-up", ToppedUpRequest{Reservoir: name, Poured: &no, Litres: u.Litres}, "nobody poured them in"},
	}
	switch {
	case !u.First:
		done.Done = fmt.Sprintf("%s: that is known already%s: %s", a.Facts.Called.Reservoir(name), byWhom(u.By), a.volume(u.Litres))
	case !*q.Poured:
		done.Done = fmt.Sprintf("%s are not booked as a top-up of %s; look whether water runs in by itself, and at its switch", a.volume(u.Litres), a.Facts.Called.Reservoir(name))
	}
	if !*q.Poured {
		done.Undo = &Undo{"topped-up", ToppedUpRequest{Reservoir: name, Poured: &yes, Litres: u.Litres}, "somebody poured them in"}
	}
	return done, ofWord(err)
}

// volume is one of water as people read it.
func (a *API) volume(litres float64) string {
	return a.Facts.Units.Weighed(quantity.Litres(litres))
}

func byWhom(by string) string {
	if by == "" {
		return ""
	}
	return " from " + by
}

// reservoir finds a reservoir by name; the only one may go unnamed.
func (a *API) reservoir(name string) (int, string, error) {
	var names []string
	for _, r := range a.Facts.Reservoirs {
		names = append(names, r.Name)
	}
	return find("reservoir", strings.TrimSpace(name), names, a.Facts.Called.Reservoirs)
}
