package commission_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/controller/config"
)

const answers = `
yes
yes
yes
yes
yes
yes
yes
yes
yes
yes
[8 min] held
yes
200 L
[4 min] 98 L
40 mm
[9 min] bare
200 L
[4 min] 98 L
40 mm
[9 min] bare
200 L
[4 min] 98 L
40 mm
[9 min] bare
yes
A. Grower
`

func TestIt(t *testing.T) {
	v := newVisit(t, config.Example)
	err := v.commission(answers)
	t.Log(v.said.String())
	require.NoError(t, err)
}
