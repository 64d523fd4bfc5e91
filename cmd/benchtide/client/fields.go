package client

import (
	"fmt"

	"benchtide/controller/quantity"
	"benchtide/controller/web"
)

// onBench names the bench of an act.
type onBench struct {
	Name string `arg:"" optional:"" name:"bench" help:"Which bench; where there is only one it goes unnamed."`
	Flag string `name:"bench" hidden:""`
}

// Validate refuses two names.
func (b onBench) Validate() error {
	if b.Name != "" && b.Flag != "" && b.Name != b.Flag {
		return fmt.Errorf("bench %q and --bench %q: name one", b.Name, b.Flag)
	}
	return nil
}

func (b onBench) bench() string {
	if b.Name != "" {
		return b.Name
	}
	return b.Flag
}

// benchFields are of an act on a bench that wants to know nothing else.
type benchFields struct{ onBench }

func (f benchFields) request() (any, error) { return web.BenchRequest{Bench: f.bench()}, nil }

type floodFields struct {
	onBench
	Hold  string `placeholder:"TIME" help:"How long FULL is to stand; that of the day's stage unless given."`
	Proof bool   `help:"You have made sure that nobody works in the bench; needed from another machine."`
}

func (f floodFields) request() (any, error) {
	request := web.FloodRequest{Bench: f.bench(), Proof: f.Proof}
	if f.Hold == "" {
		return request, nil
	}
	hold, err := quantity.ParseDuration(f.Hold)
	request.HoldS = hold.Seconds()
	return request, flagged("--hold", err)
}

type pauseFields struct {
	onBench
	Until string `required:"" placeholder:"TIME" help:"When floods start again: \"2026-03-08 15:00\", a date, or a length of time from now."`
	By    string `placeholder:"NAME" help:"Who pauses, for the record."`
}

func (f pauseFields) request() (any, error) {
	return web.PauseRequest{Bench: f.bench(), Until: f.Until, By: f.By}, nil
}

type handsInFields struct {
	State string `arg:"" name:"on|off" enum:"on,off" help:"on before you reach in, off when you are done."`
	Proof bool   `help:"You have made sure that nobody works in the benches; needed from another machine to end it."`
}

func (f handsInFields) request() (any, error) {
	on := f.State == "on"
	return web.HandsInRequest{On: &on, Proof: f.Proof}, nil
}

type resetFields struct {
	onBench
	Found string `required:"" placeholder:"TEXT" help:"What was found, for the record."`
}

func (f resetFields) request() (any, error) {
	return web.ResetRequest{Bench: f.bench(), Found: f.Found}, nil
}

type dropFields struct {
	Name  string `arg:"" name:"bench" help:"Which bench; status lists those that left the file."`
	Found string `required:"" placeholder:"TEXT" help:"What became of it, for the record."`
}

func (f dropFields) request() (any, error) {
	return web.ResetRequest{Bench: f.Name, Found: f.Found}, nil
}
