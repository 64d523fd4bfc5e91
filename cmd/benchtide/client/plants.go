package client

import (
	"benchtide/controller/web"
)

// onBatch names the batch of an act.
type onBatch struct {
	Batch string `arg:"" optional:"" help:"Which batch; where there is only one it goes unnamed."`
}

// sanitiseFields are of the beginning of sanitising and of its end.
type sanitiseFields struct {
	onBench
	By string `placeholder:"NAME" help:"Who says so, for the record."`
}

func (f sanitiseFields) request() (any, error) {
	return web.SanitiseRequest{Bench: f.bench(), By: f.By}, nil
}

type advanceFields struct {
	onBatch
	ToDay *int `placeholder:"N" help:"The stage of its plan that begins at this day of its age; the one that is due, else the next, unless given."`
}

func (f advanceFields) request() (any, error) {
	return web.AdvanceRequest{Batch: f.Batch, FromDay: f.ToDay}, nil
}

type closeFields struct {
	onBatch
	Last   string `placeholder:"DATE" xor:"when" help:"Its last day on the bench; without it its floods stop at once."`
	Reopen bool   `xor:"when" help:"Take an earlier word back."`
}

func (f closeFields) request() (any, error) {
	return web.CloseRequest{Batch: f.Batch, LastDay: f.Last, Reopen: f.Reopen}, nil
}
