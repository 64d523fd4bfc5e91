package bench

import (
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAQuestionThatWaitsStandsBelowWhatIsSaid(t *testing.T) {
	var out strings.Builder
	typed, keyboard := io.Pipe()
	defer keyboard.Close()
	p := newTerminal(typed, &out)
	p.Say("Plug the pumps in.")
	p.Ask("Do all pumps stand still?")
	p.Say("  FULL after 3 min.")
	assert.Equal(t, "Plug the pumps in.\nDo all pumps stand still?: \n  FULL after 3 min.\nDo all pumps stand still?: ", out.String())
	p.lines <- "yes"
	_, answered, err := p.Answer(0)
	assert.True(t, answered)
	assert.NoError(t, err)
	p.Say("All off.")
	assert.True(t, strings.HasSuffix(out.String(), "?: All off.\n"), "after its answer a question is over")
}
