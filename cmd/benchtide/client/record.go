package client

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"benchtide/cmd/benchtide/ask"
	"benchtide/cmd/benchtide/cli"
	"benchtide/controller/ledger"
	"benchtide/controller/live"
	"benchtide/controller/quantity"
	"benchtide/controller/solution"
	"benchtide/controller/web"
)

type Export struct {
	ask.Daemon
	Format string `enum:"csv,jsonl" default:"csv" help:"csv, or jsonl: one JSON object a line."`
	Table  string `default:"floods" help:"floods, trips, diary, pauses, proof-tests, commissioning, stages, settings, events or outputs."`
	Last   string `placeholder:"TIME" help:"How far back, or since when; all unless given."`
	Bench  string `placeholder:"NAME" help:"Of one bench or other place alone."`
}

func (Export) Help() string {
	return `One table of it, oldest first. Times are local with their offset, quantities in the
unit that their name says.

Examples:

    benchtide export --last 365d > floods.csv
    benchtide export --table diary --format jsonl`
}

func (c Export) Run(ctx context.Context, s *cli.Session) error {
	rows, err := c.Client().Open(ctx, "export", ask.Parameters("table", c.Table, "format", c.Format, "since", c.Last, "bench", c.Bench))
	if err != nil {
		return err
	}
	defer rows.Close()
	if _, err := io.Copy(s.Out, rows); err != nil {
		return fmt.Errorf("export: broken off: %w", err)
	}
	return nil
}

type Backup struct {
	ask.Daemon
	File string `arg:"" help:"Where the copy goes; a file that is not there yet."`
	JSON bool   `help:"Print one JSON object."`
}

func (Backup) Help() string {
	return `To go on from a copy, put it as ledger.db into an empty state directory.

Example:

    benchtide backup ledger-2026-03-08.db`
}

func (c Backup) Run(ctx context.Context, s *cli.Session) error {
	f, err := os.OpenFile(c.File, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o640)
	if err != nil {
		return cli.Usagef("write the backup: %w; name a file that is not there yet", err)
	}
	n, err := c.copy(ctx, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(c.File)) // half a copy is none
	}
	if c.JSON {
		return s.PrintJSON(struct {
			File  string `json:"file"`
			Bytes int64  `json:"bytes"`
		}{c.File, n})
	}
	_, err = fmt.Fprintf(s.Out, "%s: %d KiB\n", c.File, (n+1023)/1024)
	return err
}

func (c Backup) copy(ctx context.Context, f *os.File) (int64, error) {
	data, err := c.Client().Open(ctx, "backup", nil)
	if err != nil {
		return 0, err
	}
	defer data.Close()
	n, err := io.Copy(f, data)
	if err != nil {
		return n, fmt.Errorf("back up: broken off: %w", err)
	}
	return n, f.Sync()
}

type Diary struct {
	Add  diaryAddCommand  `cmd:"" group:"verb" help:"Write something down."`
	List diaryListCommand `cmd:"" group:"verb" help:"List what was written down."`
}

func (Diary) Help() string {
	return `Top-ups, readings of meters, pots that came and went, how moist they are.

Examples:

    benchtide diary add --top-up "20 L"
    benchtide diary list --last 7d`
}

type diaryAddCommand struct {
	act
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

func (diaryAddCommand) Help() string {
	return `What cannot be right is refused with its range; what is hard to believe is asked
about.

Examples:

    benchtide diary add --top-up "20 L" --place tank
    benchtide diary add --ec 1.6 --note "before the top-up"
    benchtide diary add --moisture 2 --place basil_spring
    benchtide diary add --lost 3 --place basil_spring
    benchtide diary add --baseline --place north --note "a wider hose"`
}

func (c diaryAddCommand) Run(ctx context.Context, s *cli.Session) error {
	kind, value, err := c.entry()
	if err != nil {
		return err
	}
	if kind == ledger.PH && (*value < lowPH || *value > highPH) {
		defer s.Notice("%s", solution.CautionAcid)
	}
	request := web.DiaryRequest{At: c.At, Place: c.Place, Kind: string(kind), Value: value, Text: c.Note, Sure: c.Yes}
	err = c.do(ctx, s, "diary", request)
	asked, refused := errors.AsType[ask.Refusal](err)
	if !refused || len(asked.Questions) == 0 {
		return err
	}
	if !agreed(s, asked.Questions) {
		return errors.New("nothing was written down; if it is right, say --yes")
	}
	request.Sure = true
	return c.do(ctx, s, "diary", request)
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

// entry is what kind of entry was asked for, and its value.
func (c diaryAddCommand) entry() (kind ledger.DiaryKind, value *float64, err error) {
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
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, e := range d.Entries {
		what := strings.TrimSpace(e.Kind + " " + amount(e))
		fmt.Fprintf(t, "%s\t%s\t%s\n", ask.Clock(e.At, "Mon 2006-01-02 15:04"), strings.TrimSpace(e.Place+" "+what), e.Text)
	}
	if len(d.Entries) == 0 {
		fmt.Fprintln(t, "Nothing is written down.")
	}
	return t.Flush()
}

func amount(e live.DiaryEntry) string {
	if e.Value == nil {
		return ""
	}
	return strconv.FormatFloat(*e.Value, 'g', 4, 64) + " " + e.Unit
}
