package main

import (
	"fmt"
	"strings"

	"benchtide/controller/quantity"
	"benchtide/controller/solution"
)

type mixCommand struct {
	Raise      mixRaise      `cmd:"" help:"How much stock makes a solution stronger."`
	Dilute     mixDilute     `cmd:"" help:"How much water makes a solution weaker."`
	TopUp      mixTopUp      `cmd:"" help:"How strong the make-up for a tank has to be."`
	Dose       mixDose       `cmd:"" help:"How much of each concentrate a tank takes by the label."`
	Loss       mixLoss       `cmd:"" help:"What a solution comes to when plants took water out of it."`
	Oxygen     mixOxygen     `cmd:"" help:"How much oxygen water can hold."`
	Compensate mixCompensate `cmd:"" help:"What a reading comes to at 25 °C."`
	PPM        mixPPM        `cmd:"" name:"ppm" help:"What an EC is on the scales of ppm meters."`
	Recipe     mixRecipe     `cmd:"" help:"What a well-known recipe weighs and holds."`
}

func (mixCommand) Help() string {
	return `EC is in mS/cm at 25 °C, volumes in litres, temperatures in °C. A value that no
solution can have is refused with its range.

Examples:

    benchtide mix raise --litres 180 --from 0.4 --to 1.2 --stock 120
    benchtide mix oxygen --temperature 24 --altitude 80`
}

// mixed is what all verbs share.
type mixed struct {
	JSON bool `help:"Print one JSON object."`
}

func (m mixed) print(s *session, a solution.Answer, err error) error {
	switch {
	case err != nil:
		return usage(fmt.Errorf("mix: %w", err))
	case m.JSON:
		return s.printJSON(a)
	}
	_, err = fmt.Fprintln(s.out, strings.Join(a.Words, "\n"))
	return err
}

type mixRaise struct {
	mixed
	Litres quantity.Litres `required:"" placeholder:"L" help:"What there is."`
	From   solution.EC     `required:"" placeholder:"EC" help:"Of it now."`
	To     solution.EC     `required:"" placeholder:"EC" help:"Wanted."`
	Stock  solution.EC     `required:"" placeholder:"EC" help:"Of the stock: that of its dilution times the dilution."`
}

func (c mixRaise) Run(s *session) error {
	a, err := solution.MixRaise(c.Litres, c.From, c.To, c.Stock)
	return c.print(s, a, err)
}

type mixDilute struct {
	mixed
	Litres quantity.Litres `required:"" placeholder:"L" help:"What there is."`
	From   solution.EC     `required:"" placeholder:"EC" help:"Of it now."`
	To     solution.EC     `required:"" placeholder:"EC" help:"Wanted."`
	Water  solution.EC     `required:"" placeholder:"EC" help:"Of the water at hand."`
}

func (c mixDilute) Run(s *session) error {
	a, err := solution.MixDilute(c.Litres, c.From, c.To, c.Water)
	return c.print(s, a, err)
}

type mixTopUp struct {
	mixed
	Full  quantity.Litres `required:"" placeholder:"L" help:"When made up."`
	Left  quantity.Litres `required:"" placeholder:"L" help:"What there is."`
	EC    solution.EC     `required:"" name:"ec" placeholder:"EC" help:"Of what there is."`
	To    solution.EC     `required:"" placeholder:"EC" help:"Wanted."`
	Water solution.EC     `required:"" placeholder:"EC" help:"Of the water at hand."`
}

func (c mixTopUp) Run(s *session) error {
	a, err := solution.MixTopUp(c.Full, c.Left, c.EC, c.To, c.Water)
	return c.print(s, a, err)
}

type mixDose struct {
	mixed
	Litres   quantity.Litres `required:"" placeholder:"L" help:"Of water to make into solution."`
	Strength percent         `required:"" placeholder:"%" help:"Part of full strength, such as 25%."`
	Part     []dosePart      `required:"" placeholder:"NAME=DOSE" help:"A concentrate and its dose a litre at full strength, such as A=4mL or salt=1.2g; once for each, in the order of adding."`
}

func (c mixDose) Run(s *session) error {
	var stock solution.Stock
	for _, p := range c.Part {
		stock.Parts = append(stock.Parts, solution.Part(p))
	}
	a, err := solution.MixDose(c.Litres, quantity.Fraction(c.Strength), stock)
	return c.print(s, a, err)
}

// dosePart is a flag such as A=4mL.
type dosePart solution.Part

func (p *dosePart) UnmarshalText(text []byte) error {
	name, dose, ok := strings.Cut(string(text), "=")
	n, err := fmt.Sscanf(strings.TrimSpace(dose), "%g%s", &p.Dose, &p.Unit)
	if !ok || name == "" || n != 2 || err != nil {
		return fmt.Errorf("%q: write a name and its dose in a litre, such as A=4mL or salt=1.2g", text)
	}
	p.Name = name
	return nil
}

// percent is a flag such as 25%.
type percent quantity.Fraction

func (p *percent) UnmarshalText(text []byte) error {
	f, err := quantity.ParseFraction(string(text))
	*p = percent(f)
	return err
}

type mixLoss struct {
	mixed
	Litres quantity.Litres `required:"" placeholder:"L" help:"What there was."`
	Lost   quantity.Litres `required:"" placeholder:"L" help:"Of it gone as water."`
	EC     solution.EC     `required:"" name:"ec" placeholder:"EC" help:"Before."`
}

func (c mixLoss) Run(s *session) error {
	a, err := solution.MixLoss(c.Litres, c.Lost, c.EC)
	return c.print(s, a, err)
}

type mixOxygen struct {
	mixed
	Temperature quantity.Celsius `required:"" placeholder:"C" help:"Of the water."`
	Altitude    quantity.Metres  `default:"0" placeholder:"M" help:"Over the sea; ${default} m unless given."`
	Salinity    float64          `default:"0" placeholder:"G" help:"Of the water in g/kg; ${default} unless given."`
}

func (c mixOxygen) Run(s *session) error {
	a, err := solution.MixOxygen(c.Temperature, c.Altitude, c.Salinity)
	return c.print(s, a, err)
}

type mixCompensate struct {
	mixed
	EC          solution.EC          `required:"" name:"ec" placeholder:"EC" help:"As read, by a meter that does not compensate."`
	Temperature quantity.Celsius     `required:"" placeholder:"C" help:"Of the solution."`
	Coefficient solution.Coefficient `default:"0.0191" placeholder:"K" help:"Share that EC rises a kelvin; ${default} unless given."`
}

func (c mixCompensate) Run(s *session) error {
	a, err := solution.MixCompensate(c.EC, c.Temperature, c.Coefficient)
	return c.print(s, a, err)
}

type mixPPM struct {
	mixed
	EC solution.EC `required:"" name:"ec" placeholder:"EC" help:"To be put in ppm."`
}

func (c mixPPM) Run(s *session) error {
	a, err := solution.MixPPM(c.EC)
	return c.print(s, a, err)
}

type mixRecipe struct {
	mixed
	Name string `arg:"" enum:"hoagland,steiner" help:"hoagland (No. 1) or steiner."`
}

func (c mixRecipe) Run(s *session) error {
	recipe := map[string]solution.Recipe{"hoagland": solution.Hoagland1, "steiner": solution.Steiner}[c.Name]
	a, err := solution.MixRecipe(recipe)
	return c.print(s, a, err)
}
