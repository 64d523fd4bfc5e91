package offline

import (
	"fmt"
	"strings"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/quantity"
	"benchtide/controller/solution"
)

type Mix struct {
	Raise      mixRaise      `cmd:"" group:"verb" help:"How much stock makes a solution stronger."`
	Dilute     mixDilute     `cmd:"" group:"verb" help:"How much water makes a solution weaker."`
	TopUp      mixTopUp      `cmd:"" group:"verb" help:"How strong the make-up for a tank has to be."`
	Dose       mixDose       `cmd:"" group:"verb" help:"How much of each concentrate a tank takes by the label."`
	Loss       mixLoss       `cmd:"" group:"verb" help:"What a solution comes to when plants took water out of it."`
	Oxygen     mixOxygen     `cmd:"" group:"verb" help:"How much oxygen water can hold."`
	Compensate mixCompensate `cmd:"" group:"verb" help:"What a reading comes to at 25 °C."`
	PPM        mixPPM        `cmd:"" group:"verb" name:"ppm" help:"What an EC is on the scales of ppm meters."`
	Recipe     mixRecipe     `cmd:"" group:"verb" help:"What a well-known recipe weighs and holds."`
}

func (Mix) Help() string {
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

func (m mixed) print(s *cli.Session, a solution.Answer, err error) error {
	switch {
	case err != nil:
		return cli.Usage(fmt.Errorf("mix: %w", err))
	case m.JSON:
		return s.PrintJSON(a)
	}
	_, err = fmt.Fprintln(s.Out, strings.Join(a.Words, "\n"))
	return err
}

// mixChange is a solution and the strength that it is to have.
type mixChange struct {
	mixed
	Litres quantity.Litres `required:"" placeholder:"L" help:"How much solution there is."`
	From   solution.EC     `required:"" placeholder:"EC" help:"Its EC now."`
	To     solution.EC     `required:"" placeholder:"EC" help:"The EC that is wanted."`
}

type mixRaise struct {
	mixChange
	Stock solution.EC `required:"" placeholder:"EC" help:"EC of the stock: that of a dilution of it, times the dilution."`
}

func (mixRaise) Help() string {
	return `Example:

    benchtide mix raise --litres 180 --from 0.4 --to 1.2 --stock 120`
}

func (c mixRaise) Run(s *cli.Session) error {
	a, err := solution.MixRaise(c.Litres, c.From, c.To, c.Stock)
	return c.print(s, a, err)
}

type mixDilute struct {
	mixChange
	Water solution.EC `required:"" placeholder:"EC" help:"EC of the water at hand."`
}

func (mixDilute) Help() string {
	return `Example:

    benchtide mix dilute --litres 180 --from 2.4 --to 1.6 --water 0.3`
}

func (c mixDilute) Run(s *cli.Session) error {
	a, err := solution.MixDilute(c.Litres, c.From, c.To, c.Water)
	return c.print(s, a, err)
}

type mixTopUp struct {
	mixed
	Full  quantity.Litres `required:"" placeholder:"L" help:"How much is to be in the tank."`
	Left  quantity.Litres `required:"" placeholder:"L" help:"How much is left in it."`
	EC    solution.EC     `required:"" name:"ec" placeholder:"EC" help:"EC of what is left."`
	To    solution.EC     `required:"" placeholder:"EC" help:"The EC that is wanted."`
	Water solution.EC     `required:"" placeholder:"EC" help:"EC of the water at hand."`
}

func (mixTopUp) Help() string {
	return `Example:

    benchtide mix top-up --full 180 --left 120 --ec 1.9 --to 1.6 --water 0.3`
}

func (c mixTopUp) Run(s *cli.Session) error {
	a, err := solution.MixTopUp(c.Full, c.Left, c.EC, c.To, c.Water)
	return c.print(s, a, err)
}

type mixDose struct {
	mixed
	Litres   quantity.Litres `required:"" placeholder:"L" help:"How much water is to become solution."`
	Strength percent         `required:"" placeholder:"%" help:"Share of full strength, such as 25%."`
	Part     []dosePart      `required:"" placeholder:"NAME=DOSE" help:"A concentrate and its dose a litre at full strength, such as A=4mL or salt=1.2g; once for each, in the order of adding."`
}

func (mixDose) Help() string {
	return `Example:

    benchtide mix dose --litres 180 --strength 25% --part A=4mL --part B=4mL`
}

func (c mixDose) Run(s *cli.Session) error {
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
	Litres quantity.Litres `required:"" placeholder:"L" help:"How much solution there was."`
	Lost   quantity.Litres `required:"" placeholder:"L" help:"How much water plants took out of it."`
	EC     solution.EC     `required:"" name:"ec" placeholder:"EC" help:"Its EC before."`
}

func (mixLoss) Help() string {
	return `Example:

    benchtide mix loss --litres 180 --lost 40 --ec 1.6`
}

func (c mixLoss) Run(s *cli.Session) error {
	a, err := solution.MixLoss(c.Litres, c.Lost, c.EC)
	return c.print(s, a, err)
}

type mixOxygen struct {
	mixed
	Temperature quantity.Celsius `required:"" placeholder:"C" help:"That of the water."`
	Altitude    quantity.Metres  `default:"0" placeholder:"M" help:"Metres above the sea; ${default} unless given."`
	Salinity    float64          `default:"0" placeholder:"G" help:"Salt in the water, in g/kg; ${default} unless given."`
}

func (mixOxygen) Help() string {
	return `Example:

    benchtide mix oxygen --temperature 24 --altitude 80`
}

func (c mixOxygen) Run(s *cli.Session) error {
	a, err := solution.MixOxygen(c.Temperature, c.Altitude, c.Salinity)
	return c.print(s, a, err)
}

type mixCompensate struct {
	mixed
	EC          solution.EC          `required:"" name:"ec" placeholder:"EC" help:"What a meter reads that does not compensate."`
	Temperature quantity.Celsius     `required:"" placeholder:"C" help:"That of the solution."`
	Coefficient solution.Coefficient `default:"0.0191" placeholder:"K" help:"By what share EC rises with each °C; ${default} unless given."`
}

func (mixCompensate) Help() string {
	return `Example:

    benchtide mix compensate --ec 1.45 --temperature 19`
}

func (c mixCompensate) Run(s *cli.Session) error {
	a, err := solution.MixCompensate(c.EC, c.Temperature, c.Coefficient)
	return c.print(s, a, err)
}

type mixPPM struct {
	mixed
	EC solution.EC `required:"" name:"ec" placeholder:"EC" help:"The EC to be put in ppm."`
}

func (mixPPM) Help() string {
	return `Example:

    benchtide mix ppm --ec 1.6`
}

func (c mixPPM) Run(s *cli.Session) error {
	a, err := solution.MixPPM(c.EC)
	return c.print(s, a, err)
}

type mixRecipe struct {
	mixed
	Name string `arg:"" enum:"hoagland,steiner" help:"hoagland, his solution No. 1, or steiner."`
}

func (mixRecipe) Help() string {
	return `Example:

    benchtide mix recipe hoagland`
}

func (c mixRecipe) Run(s *cli.Session) error {
	recipe := map[string]solution.Recipe{"hoagland": solution.Hoagland1, "steiner": solution.Steiner}[c.Name]
	a, err := solution.MixRecipe(recipe)
	return c.print(s, a, err)
}
