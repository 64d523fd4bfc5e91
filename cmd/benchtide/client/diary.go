package client

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/ledger"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/solution"
	"benchtide/controller/texts"
	"benchtide/controller/web"
)

// Diary is what a person writes down, and what was.
type Diary struct {
	Commands any `embed:""`
}

func newDiary() Diary {
	return Diary{cli.Grammar([]cli.Command{
		addition.command(),
		{Name: "list", Group: "verb", Help: "List what was written down.", Do: diaryListCommand{}},
	})}
}

// Help is what its --help says beside the flags, with an example.
func (Diary) Help() string {
	return `Top-ups, readings of meters, pots that came and went, how moist they are.

Examples:

    benchtide diary add --top-up "20 L"
    benchtide diary list --last 7d`
}

// diaryFields are an entry of the diary.
type diaryFields struct {
	Place          string   `placeholder:"NAME" help:"The bench, reservoir or batch it is about; where there is only one it goes unnamed."`
	At             string   `placeholder:"TIME" help:"When it was; now unless given."`
	TopUp          string   `xor:"kind" placeholder:"VOLUME" help:"Water filled into a reservoir, such as \"20 L\"."`
	TakenOut       string   `xor:"kind" placeholder:"VOLUME" help:"Water taken out of a reservoir, such as \"20 L\"."`
	EC             *float64 `name:"ec" xor:"kind" placeholder:"N" help:"A measured EC, in mS/cm."`
	PH             *float64 `name:"ph" xor:"kind" placeholder:"N" help:"A measured pH."`
	Temperature    string   `xor:"kind" placeholder:"T" help:"That of the solution, such as \"21 C\"."`
	Cleaning       bool     `xor:"kind" help:"Screen, drain or table were cleaned."`
	SolutionChange bool     `xor:"kind" help:"The solution was changed."`
	Baseline       bool     `xor:"kind" help:"A bench was changed: its fill and fall times are compared with those from here on."`
	Moisture       *float64 `xor:"kind" placeholder:"N" help:"How moist the pots of a batch are: 1, bone dry, to 5, shining wet."`
	Sown           *float64 `xor:"kind" placeholder:"N" help:"Pots of a batch that were sown."`
	Germinated     *float64 `xor:"kind" placeholder:"N" help:"Pots in which it came up."`
	Resown         *float64 `xor:"kind" placeholder:"N" help:"Pots that begin again; they are a younger batch within the batch."`
	Thinned        *float64 `xor:"kind" placeholder:"N" help:"Seedlings taken out; their pots stay."`
	Transplanted   *float64 `xor:"kind" placeholder:"N" help:"Pots that were planted: from here on the diary counts."`
	Lost           *float64 `xor:"kind" placeholder:"N" help:"Pots lost."`
	MovedOut       *float64 `xor:"kind" placeholder:"N" help:"Pots that left the bench."`
	Note           string   `placeholder:"TEXT" help:"In words; alone, or with any of the others."`
	Yes            bool     `short:"y" help:"It is right: ask nothing."`
}

// talk asks a person what the daemon asks about the entry.
func (f diaryFields) talk(s *cli.Session, ask func(request any) error) error {
	request, err := f.entry()
	if err != nil {
		return err
	}
	if v := request.Value; request.Kind == string(ledger.PH) && (*v < lowPH || *v > highPH) {
		defer s.Notice("%s", solution.CautionAcid)
	}
	err = ask(request)
	questions := questionsOf(err)
	if len(questions) == 0 {
		return err
	}
	if !agreed(s, questions) {
		return errors.New("nothing was written down; if it is right, say --yes")
	}
	request.Sure = true
	return ask(request)
}

func (f diaryFields) request() (any, error) { return f.entry() }

// entry is what is to be written down.
func (f diaryFields) entry() (web.DiaryRequest, error) {
	kind, value, err := f.kind()
	return web.DiaryRequest{At: f.At, Place: f.Place, Kind: string(kind), Value: value, Text: f.Note, Sure: f.Yes}, err
}

// questionsOf are what a daemon asks before it writes something down.
func questionsOf(err error) []string {
	refusal, _ := errors.AsType[ask.Refusal](err)
	return refusal.Questions
}

// agreed asks a person, who may say yes.
func agreed(s *cli.Session, questions []string) bool {
	for _, q := range questions {
		s.Notice("%s", q)
	}
	fmt.Fprint(s.Err, "Write it down all the same? [y/N] ")
	answer, _ := bufio.NewReader(s.In).ReadString('\n') // the end of input is no yes
	s.Notice("")
	return slices.Contains([]string{"y", "yes"}, strings.ToLower(strings.TrimSpace(answer)))
}

// Between these the pH of a solution is left alone (common practice, no source).
const lowPH, highPH = 5.5, 6.5

// kind is what kind of entry was asked for, and its value in the unit of its kind.
func (c diaryFields) kind() (kind ledger.DiaryKind, value *float64, err error) {
	switch {
	case c.TopUp != "":
		v, err := quantity.ParseVolume(c.TopUp)
		return ledger.TopUp, plain(v), flagged("--top-up", err)
	case c.TakenOut != "":
		v, err := quantity.ParseVolume(c.TakenOut)
		return ledger.TakenOut, plain(v), flagged("--taken-out", err)
	case c.EC != nil:
		return ledger.EC, c.EC, nil
	case c.PH != nil:
		return ledger.PH, c.PH, nil
	case c.Temperature != "":
		v, err := quantity.ParseTemperature(c.Temperature)
		return ledger.Temperature, plain(v), flagged("--temperature", err)
	case c.Cleaning:
		return ledger.Cleaning, nil, nil
	case c.SolutionChange:
		return ledger.SolutionChange, nil, nil
	case c.Baseline:
		return ledger.Baseline, nil, nil
	}
	for kind, n := range map[ledger.DiaryKind]*float64{
		ledger.Moisture: c.Moisture, ledger.Sown: c.Sown, ledger.Germinated: c.Germinated, ledger.Resown: c.Resown,
		ledger.Thinned: c.Thinned, ledger.Transplanted: c.Transplanted, ledger.Lost: c.Lost, ledger.MovedOut: c.MovedOut,
	} {
		if n != nil { // at most one is given
			return kind, n, nil
		}
	}
	if c.Note != "" {
		return ledger.Note, nil, nil
	}
	return "", nil, cli.Usagef("say what is to be written down, such as --top-up, --ec, --moisture, --lost or --note")
}

func plain[Q ~float64](q Q) *float64 {
	v := float64(q)
	return &v
}

func flagged(flag string, err error) error {
	if err == nil {
		return nil
	}
	return cli.Usagef("%s: %w", flag, err)
}

type diaryListCommand struct {
	ask.Question
	Last  string `placeholder:"TIME" help:"How far back, or since when; all unless given."`
	Place string `placeholder:"NAME" help:"Of one bench or reservoir alone."`
}

func (diaryListCommand) Help() string {
	return `Example:

    benchtide diary list --last 90d`
}

func (c diaryListCommand) Run(ctx context.Context, s *cli.Session) error {
	return ask.Show(ctx, s, c.Question, "diary", ask.Parameters("since", c.Last, "bench", c.Place), writeDiary)
}

func writeDiary(w io.Writer, d *web.Diary) error {
	t := texts.NewTable(w)
	for _, e := range d.Entries {
		what := strings.TrimSpace(e.Kind + " " + amount(e, d.Units))
		fmt.Fprintf(t, "%s\t%s\t%s\n", ask.Clock(e.At, "Mon 2006-01-02 15:04"), strings.TrimSpace(texts.Listed(e.Place, d.Titles.Benches, d.Titles.Reservoirs, d.Titles.Batches)+" "+what), e.Text)
	}
	if len(d.Entries) == 0 {
		fmt.Fprintln(t, "Nothing is written down.")
	}
	return t.Flush()
}

func amount(e live.DiaryEntry, u quantity.Units) string {
	switch {
	case e.Value == nil:
		return ""
	case e.Unit == ledger.DiaryUnits[ledger.TopUp]:
		return u.Volume(quantity.Litres(*e.Value))
	case e.Unit == ledger.DiaryUnits[ledger.Temperature]:
		return u.Temperature(quantity.Celsius(*e.Value))
	}
	return strconv.FormatFloat(*e.Value, 'g', 4, 64) + " " + e.Unit
}
