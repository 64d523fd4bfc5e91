package offline

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/quantity"
	"benchtide/controller/solution"
)

// mixing is a calculation on nutrient solution: a row of the table mixes, and all
// that its command is made of.
type mixing struct {
	verb, help string
	example    string // its arguments
	of         calculation
}

// calculation is what is given, as flags: a pointer to a struct of them.
type calculation interface {
	// answer is in words for people who read these units; the error says that no
	// solution can be so.
	answer(quantity.Units) (solution.Answer, error)
	// given is in which units its quantities were written.
	given() []units
}

// mixes are the commands of mix.
var mixes = []mixing{
	{"raise", "How much stock makes a solution stronger.", "--litres 180 --from 0.4 --to 1.2 --stock 120", &raise{}},
	{"dilute", "How much water makes a solution weaker.", "--litres 180 --from 2.4 --to 1.6 --water 0.3", &dilute{}},
	{"replace", "How much of a full tank to throw away and make up with water.", "--litres 180 --from 2.4 --to 1.6 --water 0.3", &replace{}},
	{"top-up", "How strong the make-up for a tank has to be.", "--full 180 --left 120 --ec 1.9 --to 1.6 --water 0.3", &topUp{}},
	{"dose", "How much of each concentrate a tank takes by the label.", "--litres 180 --strength 25% --part A=4mL --part B=4mL", &dose{}},
	{"strength", "What a meter should show at a share of full strength.", "--strength 25% --water 0.4", &atStrength{}},
	{"loss", "What a solution comes to when plants took water out of it.", "--litres 180 --lost 40 --ec 1.6", &loss{}},
	{"oxygen", "How much oxygen water can hold.", "--temperature 24 --altitude 80", &oxygen{}},
	{"compensate", "What a reading comes to at 25 °C.", "--ec 1.45 --temperature 19", &compensate{}},
	{"ppm", "What an EC is on the scales of ppm meters, or what their ppm are in EC.", "--ppm 800 --scale 500", &ppm{}},
	{"recipe", "What a well-known recipe weighs and holds.", "hoagland", &recipe{}},
}

// Mix works out nutrient solution.
type Mix struct {
	Commands any `embed:""`
}

func newMix() Mix {
	var all []cli.Command
	for i := range mixes {
		of := reflect.New(reflect.TypeOf(mixes[i].of).Elem()).Interface()
		all = append(all, cli.Command{Name: mixes[i].verb, Group: "verb", Help: mixes[i].help, Do: mixingCommand{Of: of, row: &mixes[i]}})
	}
	return Mix{cli.Grammar(all)}
}

// Help is what --help adds.
func (Mix) Help() string {
	return `EC is in mS/cm at 25 °C. A bare number of a volume is in litres, one of a temperature
in °C; with its unit, as in the file, it may be "30 gal" or 75F. The answer is in the
units that were written, else in those of the site's file. A value that no solution can
have is refused with its range.

Examples:

    benchtide mix raise --litres 180 --from 0.4 --to 1.2 --stock 120
    benchtide mix raise --litres "30 gal" --from 0.4 --to 1.2 --stock 120
    benchtide mix oxygen --temperature 24 --altitude 80`
}

type mixingCommand struct {
	Site siteUnits `embed:""`
	JSON bool      `help:"Print one JSON object."`
	Of   any       `embed:""`

	row *mixing
}

// Help is what --help adds.
func (c mixingCommand) Help() string {
	return fmt.Sprintf("Example:\n\n    benchtide mix %s %s", c.row.verb, c.row.example)
}

// Run prints the answer in words, or as an object.
func (c mixingCommand) Run(s *cli.Session) error {
	u, err := c.Site.units()
	if err != nil {
		return err
	}
	if written, known := writtenIn(c.Of.(calculation).given()); known {
		u = written
	}
	a, err := c.Of.(calculation).answer(u)
	switch {
	case err != nil:
		return cli.Usage(errors.New("mix: " + u.Told(err)))
	case c.JSON:
		return s.PrintJSON(a)
	}
	_, err = fmt.Fprintln(s.Out, strings.Join(a.Words, "\n"))
	return err
}

// change is a solution and the strength that it is to have.
type change struct {
	Litres litres      `required:"" placeholder:"VOLUME" help:"How much solution there is."`
	From   solution.EC `required:"" placeholder:"EC" help:"Its EC now."`
	To     solution.EC `required:"" placeholder:"EC" help:"The EC that is wanted."`
}

func (c change) given() []units { return []units{c.Litres.units} }

type raise struct {
	change
	Stock solution.EC `required:"" placeholder:"EC" help:"EC of the stock: that of a dilution of it, times the dilution."`
}

func (c raise) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixRaise(u, c.Litres.Litres, c.From, c.To, c.Stock)
}

type dilute struct {
	change
	Water solution.EC `required:"" placeholder:"EC" help:"EC of the water at hand."`
}

func (c dilute) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixDilute(u, c.Litres.Litres, c.From, c.To, c.Water)
}

type replace struct {
	dilute
}

func (c replace) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixReplace(u, c.Litres.Litres, c.From, c.To, c.Water)
}

type topUp struct {
	Full  litres      `required:"" placeholder:"VOLUME" help:"How much is to be in the tank."`
	Left  litres      `required:"" placeholder:"VOLUME" help:"How much is left in it."`
	EC    solution.EC `required:"" name:"ec" placeholder:"EC" help:"EC of what is left."`
	To    solution.EC `required:"" placeholder:"EC" help:"The EC that is wanted."`
	Water solution.EC `required:"" placeholder:"EC" help:"EC of the water at hand."`
}

func (c topUp) given() []units { return []units{c.Full.units, c.Left.units} }

func (c topUp) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixTopUp(u, c.Full.Litres, c.Left.Litres, c.EC, c.To, c.Water)
}

type dose struct {
	Litres   litres     `required:"" placeholder:"VOLUME" help:"How much water is to become solution."`
	Strength percent    `required:"" placeholder:"%" help:"Share of full strength, such as 25%."`
	Part     []dosePart `required:"" placeholder:"NAME=DOSE" help:"A concentrate and its dose at full strength, in a litre such as A=4mL or salt=1.2g, in a US gallon such as A=15mL/gal or \"A=1 tsp/gal\"; once for each, in the order of adding."`
}

func (c dose) answer(u quantity.Units) (solution.Answer, error) {
	var stock solution.Stock
	for _, p := range c.Part {
		stock.Parts = append(stock.Parts, solution.Part(p))
	}
	return solution.MixDose(u, c.Litres.Litres, quantity.Fraction(c.Strength), stock)
}

func (c dose) given() []units { return []units{c.Litres.units} }

// dosePart is a flag such as A=4mL, in a litre, or A=15mL/gal, in a US gallon.
type dosePart solution.Part

var doses = regexp.MustCompile(`(?i)^\s*([^a-z]+?)\s*(ml|g|tsp|fl\.? ?oz)\.?\s*(/ ?l|/ ?gal)?\s*$`)

func (p *dosePart) UnmarshalText(text []byte) error {
	name, dose, ok := strings.Cut(string(text), "=")
	m := doses.FindStringSubmatch(dose)
	if !ok || name == "" || m == nil {
		return fmt.Errorf("%q: write a name and its dose in a litre or a gallon, such as A=4mL, salt=1.2g, A=15mL/gal or \"B=1 tsp/gal\"", text)
	}
	amount, err := quantity.VolumeIn(m[1], quantity.Litre)
	if err != nil {
		return err
	}
	p.Name, p.Dose = name, float64(amount)
	for _, unit := range solution.Doses {
		if strings.EqualFold(unit[:1], m[2][:1]) && (len(unit) == 1) == (len(m[2]) == 1) {
			p.Unit = unit
		}
	}
	if strings.HasSuffix(strings.ToLower(m[3]), "gal") {
		p.Dose /= float64(quantity.Gallon.Size)
	}
	return nil
}

// percent is a flag such as 25%.
type percent quantity.Fraction

func (p *percent) UnmarshalText(text []byte) error {
	f, err := quantity.ParseFraction(string(text))
	*p = percent(f)
	return err
}

type atStrength struct {
	Strength percent     `required:"" placeholder:"%" help:"Share of full strength, such as 25%."`
	Water    solution.EC `required:"" placeholder:"EC" help:"EC of the water at hand."`
	Full     solution.EC `placeholder:"EC" help:"What full strength comes to in pure water, by the label; what trials found best unless given."`
}

func (c atStrength) given() []units { return nil }

func (c atStrength) answer(quantity.Units) (solution.Answer, error) {
	return solution.MixStrength(quantity.Fraction(c.Strength), c.Full, c.Water)
}

type loss struct {
	Litres litres      `required:"" placeholder:"VOLUME" help:"How much solution there was."`
	Lost   litres      `required:"" placeholder:"VOLUME" help:"How much water plants took out of it."`
	EC     solution.EC `required:"" name:"ec" placeholder:"EC" help:"Its EC before."`
}

func (c loss) given() []units { return []units{c.Litres.units, c.Lost.units} }

func (c loss) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixLoss(u, c.Litres.Litres, c.Lost.Litres, c.EC)
}

type oxygen struct {
	Temperature celsius `required:"" placeholder:"TEMPERATURE" help:"That of the water."`
	Altitude    metres  `default:"0" placeholder:"HEIGHT" help:"That of the place above the sea, in metres where no unit is given; ${default} unless given."`
	Salinity    float64 `default:"0" placeholder:"G" help:"Salt in the water, in g/kg; ${default} unless given."`
}

func (c oxygen) given() []units { return []units{c.Temperature.units, c.Altitude.units} }

func (c oxygen) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixOxygen(u, c.Temperature.Celsius, c.Altitude.Metres, c.Salinity)
}

type compensate struct {
	EC          solution.EC          `required:"" name:"ec" placeholder:"EC" help:"What a meter reads that does not compensate."`
	Temperature celsius              `required:"" placeholder:"TEMPERATURE" help:"That of the solution."`
	Coefficient solution.Coefficient `default:"0.0191" placeholder:"K" help:"By what share EC rises with each °C; ${default} unless given."`
}

func (c compensate) given() []units { return []units{c.Temperature.units} }

func (c compensate) answer(u quantity.Units) (solution.Answer, error) {
	return solution.MixCompensate(u, c.EC, c.Temperature.Celsius, c.Coefficient)
}

type ppm struct {
	EC    solution.EC    `name:"ec" xor:"of" required:"" placeholder:"EC" help:"The EC to be put in ppm."`
	PPM   float64        `name:"ppm" xor:"of" required:"" placeholder:"PPM" help:"The ppm to be put in EC."`
	Scale solution.Scale `default:"0" placeholder:"500" help:"The scale of the meter, 500, 640 or 700; all three unless given."`
}

func (ppm) given() []units { return nil }

func (c ppm) answer(quantity.Units) (solution.Answer, error) {
	if c.PPM != 0 {
		return solution.MixEC(c.PPM, c.Scale)
	}
	return solution.MixPPM(c.EC)
}

type recipe struct {
	Name string `arg:"" enum:"hoagland,steiner" help:"hoagland, his solution No. 1, or steiner."`
}

func (recipe) given() []units { return nil }

func (c recipe) answer(quantity.Units) (solution.Answer, error) {
	of := map[string]solution.Recipe{"hoagland": solution.Hoagland1, "steiner": solution.Steiner}[c.Name]
	return solution.MixRecipe(of)
}
