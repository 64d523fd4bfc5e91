package commission_test

import (
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"benchtide/controller/commission"
)

// obliging is a person who says yes and reads what there is to read, but for
// what the test has them answer otherwise: answers to the questions that
// contain a text, in turn; the last of them stays.
type obliging struct {
	*commission.Script // of the question at hand
	v                  *visit
	otherwise          map[string][]string
	asked              []string
}

var readings = map[string]string{
	"Hold Enter":              "[20 min] held",
	"Tables bare: how much":   "scale",
	"When the water stands":   "[4 min] scale",
	"How high does the water": "-",
	"when the table is bare":  "[9 min] bare",
	"Who has commissioned":    "A. Grower",
	"What was found?":         "nothing",
}

func (o *obliging) Ask(question string) {
	o.asked = append(o.asked, question)
	script, err := commission.NewScript("", strings.NewReader(o.answer(question)), &o.v.said)
	require.NoError(o.v.t, err)
	o.Script = script
	script.Ask(question)
}

func (o *obliging) answer(question string) string {
	for part, answers := range o.otherwise {
		if strings.Contains(question, part) {
			if len(answers) > 1 {
				o.otherwise[part] = answers[1:]
			}
			return answers[0]
		}
	}
	for part, answer := range readings {
		if strings.Contains(question, part) {
			return answer
		}
	}
	return "yes"
}

func (o *obliging) Say(text string) { o.v.said.WriteString(text + "\n") }

func (o *obliging) Answer(now time.Duration) (string, bool, error) {
	require.Less(o.v.t, len(o.asked), 200, "the questions never end: %s", &o.v.said)
	return o.Script.Answer(now)
}

// says replaces what the obliging person of a visit answers.
type says map[string][]string

func (v *visit) run(otherwise says) (*obliging, error) {
	o := v.options("")
	person := &obliging{v: v, otherwise: otherwise}
	o.Person = person
	err := commission.Run(v.t.Context(), o)
	return person, err
}

func (v *visit) prove(otherwise says, benches ...string) error {
	o := v.options("")
	o.Person = &obliging{v: v, otherwise: otherwise}
	return commission.Prove(v.t.Context(), o, benches)
}

// words are what is on record, in order.
func (v *visit) words() (all []string) {
	entries, err := v.record.Entries()
	require.NoError(v.t, err)
	for _, e := range entries {
		all = append(all, strings.TrimSpace(e.What+" "+e.Place))
	}
	return all
}

// starts is how often the load of an output really ran.
func (v *visit) starts(output string) int {
	for _, o := range v.world.Truth().Outputs {
		if o.Name == output {
			return o.Starts
		}
	}
	v.t.Fatalf("no output %q", output)
	return 0
}

// allOff asserts that no relay is energised.
func (v *visit) allOff() {
	v.t.Helper()
	for _, o := range v.world.Outputs {
		require.False(v.t, o.Coil)
	}
}

func (v *visit) leftOut(otherwise says) (*obliging, error) {
	o := v.options("")
	person := &obliging{v: v, otherwise: otherwise}
	o.Person = person
	o.Checkpoint = v.ledger.Checkpoint
	return person, commission.RunLeftOut(v.t.Context(), o)
}
