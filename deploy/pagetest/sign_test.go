//go:build pagetest

package pagetest

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	token  = "a-watering-can-for-thursday"
	closed = `document.querySelector('form.door').hidden`
)

// guarded is a demo that asks for the token, also on this machine.
func guarded(t *testing.T, more ...string) *program {
	t.Helper()
	file := filepath.Join(t.TempDir(), "token")
	require.NoError(t, os.WriteFile(file, []byte(token+"\n"), 0o600))
	return start(t, "1", "127.0.0.1:0", append([]string{"--token-file", file}, more...)...)
}

func (b *tab) shows(token string) {
	b.t.Helper()
	asks[bool](b, fmt.Sprintf(`(document.getElementById('key').value = %q, true)`, token))
	b.presses("Log in")
}

func TestWhoHasNoTokenSeesTheDoorAndWhatIsLeftOpen(t *testing.T) {
	t.Parallel()
	source := axe(t)
	for name, c := range map[string]struct {
		left []string
		seen string // when the page is ready
	}{
		"nothing left open": {nil, `!` + closed},
		"status left open":  {[]string{"--open", "status"}, `!` + closed + ` && !!document.querySelector('svg.section')`},
	} {
		t.Run(name, func(t *testing.T) {
			p := guarded(t, c.left...)
			for _, s := range []screen{small, night} {
				b := newTab(t, s)
				b.open(p.url)
				b.until(c.seen)
				asks[any](b, source+`;0`)
				b.accessible(s.name + ", " + name)

				b.shows("not the token at all")
				b.until(`document.querySelector('form.door .wrong').textContent !== ''`)
				assert.False(t, asks[bool](b, closed))
				b.accessible(s.name + ", " + name + ", a wrong token")

				b.shows(token)
				b.until(closed)
				b.live()
				b.until(`!!document.querySelector('svg.section')`)
				b.accessible(s.name + ", signed in")
			}
		})
	}
}

func TestAnActNeedsTheTokenFirst(t *testing.T) {
	t.Parallel()
	p := guarded(t, "--open", "status")
	b := newTab(t, phone)
	b.open(p.url)
	b.until(`!!document.querySelector('svg.section')`)
	b.presses("Hands in")
	b.presses("Hands in: stop everything")
	b.until(`/Not logged in/.test(document.body.textContent)`)
	b.shows(token)
	b.until(closed)
	b.presses("Hands in")
	b.presses("Hands in: stop everything")
	p.says(t, "hands-in")
}
