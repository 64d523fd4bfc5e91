package commission_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

func TestATableThatCannotBeBareYetIsAskedForAgain(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{
		"when the table is bare":   {"[6 s] bare", "[3 min] bare", "[6 min] bare", "[9 min] bare"},
		"The table was bare 3 min": {"no"},
	})
	require.NoError(t, err, "%s", &v.said)
	said := v.said.String()
	assert.Contains(t, said, "That cannot be: FULL still shows water.")
	assert.Contains(t, said, "The table was bare 3 min 6 s after the pump stopped, and by the figures of the file that takes 8 min")
	assert.Equal(t, 9*time.Minute, v.judge().Cycles["north"].Drain.Round(time.Minute), "the early answers count for nothing")
}

func TestAScaleThatIsReadTooEarlyIsReadAgain(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{
		"Tables bare: how much": {"200 L"},
		"When the water stands": {"135 L", "205 L", "[4 min] scale"},
		"So 65 L are out":       {"no"},
	})
	require.NoError(t, err, "%s", &v.said)
	said := v.said.String()
	assert.Contains(t, said, "So 65 L are out, and by the figures of the file a flood takes 1")
	assert.Contains(t, said, "there is less in tank than the 200 L before", "more than there was is no reading")
	assert.InEpsilon(t, 1279, float64(v.judge().Cycles["north"].Flow), 0.07, "the early reading would have put it a third off")
}

func TestAHeightThatCannotBeIsMeasuredAgain(t *testing.T) {
	v := newVisit(t, config.Example)
	_, err := v.run(says{
		"How high does the water":    {"4 mm", "76 mm", "60 mm", "-"},
		"The water stands at 60 mm,": {"no"},
	})
	require.NoError(t, err, "%s", &v.said)
	said := v.said.String()
	assert.Contains(t, said, "That cannot be: FULL is at 26 mm and shows water")
	assert.Contains(t, said, "That cannot be: the rim is at 75 mm")
	assert.Contains(t, said, "The water stands at 60 mm, and by the figures of the file at 41 mm")
}

func TestTimesThatShortenTheRestAreTakenOnlyOnASecondWord(t *testing.T) {
	early := says{"when the table is bare": {"[5 min] bare", "[5 min] bare", "[5 min] bare", "[9 min] bare"}}
	v := newVisit(t, config.Example)
	early["the limits are to follow these times"] = []string{"no"}
	_, err := v.run(early)
	require.NoError(t, err, "%s", &v.said)
	said := v.said.String()
	assert.Contains(t, said, "Hard to believe: the drain took 5 min, and by the figures of the file 8 min")
	assert.Contains(t, said, "The guard's limits would follow: 7 min of rest between floods")
	assert.Equal(t, 1, strings.Count(strings.Join(v.words(), "\n"), "discarded north"))
	assert.Equal(t, 9*time.Minute, v.judge().Cycles["north"].Drain.Round(time.Second), "timed anew")

	v = newVisit(t, config.Example)
	_, err = v.run(says{"when the table is bare": {"[5 min] bare"}})
	require.NoError(t, err, "%s", &v.said)
	assert.Equal(t, 5*time.Minute, v.judge().Cycles["north"].Drain.Round(time.Second), "a person who has said so twice is believed")
}
