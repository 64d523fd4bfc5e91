package config_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchtide/controller/config"
)

// talkative is the example with every kind of free text.
const talkative = `
messages:
  mail: {server: "smtp.example.org:465", from: bench@example.org, to: [grower@example.org], user: bench, password_file: mail.password, ca_file: /etc/ca.pem}
  webhook: {url: "https://example.org/hook", secret_file: hook.key}
  mqtt: {broker: "mqtts://example.org:8883", topic: greenhouse/bench, user: bench, password_file: mqtt.password}
  second_person: {mail: other@example.org, webhook: {url_file: other.url, secret_file: other.key}}
  heartbeat: {url: "https://example.org/alive"}
`

func TestTheNameOfASiteIsOneShortLine(t *testing.T) {
	for name, want := range map[string]string{
		`"Quarry Lane\nlevel=ERROR"`: `site.name: "Quarry Lane\nlevel=ERROR": it has a line break after letter 11: write one line`,
		`"a\u001b[2Jb"`:              `the control character U+001B at letter 2`,
		strings.Repeat("x", 5000):    `it has 5000 letters: write at most 80`,
		strings.Repeat("x", 81):      `it has 81 letters: write at most 80`,
		"\"two\n\n  lines\"":         `a line break`,
	} {
		text := strings.Replace(string(config.Example), "name: Quarry Lane school greenhouse", "name: "+name, 1)
		_, problems := config.Parse("bench.yaml", []byte(text))
		require.Len(t, problems, 1)
		said := problems[0].String()
		assert.True(t, strings.HasPrefix(said, "bench.yaml:3:14: site.name: "), said)
		assert.Contains(t, said, want)
		assert.Less(t, len(said), 250)
	}
	site, _ := config.Parse("bench.yaml", []byte(strings.Replace(string(config.Example), "site: {name: Quarry Lane school greenhouse", "site: {name: Gärtnerei Müller 🌱", 1)))
	assert.Equal(t, "Gärtnerei Müller 🌱", site.Name)
}

func TestNoValueOfTheFileHasALineBreakOrIsEndless(t *testing.T) {
	var doc yaml.Node
	require.NoError(t, yaml.Unmarshal([]byte(string(config.Example)+talkative), &doc))
	_, problems := config.Parse("bench.yaml", []byte(string(config.Example)+talkative))
	require.NoError(t, problems.Err())
	tried := 0
	var walk func(n *yaml.Node)
	walk = func(n *yaml.Node) {
		for i, below := range n.Content {
			walk(below)
			if below.Kind != yaml.ScalarNode || n.Kind == yaml.MappingNode && i%2 == 0 {
				continue
			}
			was := *below
			bad := was.Value + []string{"\nx", "\x1b[2J", "\u202e", strings.Repeat("x", 5000)}[tried%4]
			*below = yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Style: yaml.DoubleQuotedStyle, Value: bad}
			text, err := yaml.Marshal(&doc)
			require.NoError(t, err)
			_, problems := config.Parse("bench.yaml", text)
			if assert.Error(t, problems.Err(), "%s", text) {
				for _, p := range problems {
					assert.NotContains(t, p.String(), "\n")
					assert.Less(t, len(p.String()), 600)
				}
			}
			tried++
			*below = was
		}
	}
	walk(&doc)
	assert.Greater(t, tried, 80)
}
