package boardtest

import (
	"testing"

	"github.com/stretchr/testify/require"

	"benchtide/deploy/boardtest/console"
)

func TestTheUnitFileIsReadAsFarAsTheBoardCarriesItOut(t *testing.T) {
	got, err := parseUnit(`[Service]
# ExecStart=/no
ExecStart=/bin/x run -c /etc/x.yaml
ExecStopPost=/bin/x off
RestartSec=5s
WatchdogSec=1500ms
`)
	require.NoError(t, err)
	require.Equal(t, console.Service{
		Start: []string{"/bin/x", "run", "-c", "/etc/x.yaml"}, StopPost: []string{"/bin/x", "off"},
		RestartMS: 5000, WatchdogMS: 1500,
	}, got)

	_, err = parseUnit("[Service]\n")
	require.ErrorContains(t, err, "ExecStart")
	_, err = parseUnit("ExecStart=/x\nRestartSec=soon\n")
	require.ErrorContains(t, err, `RestartSec`)
}
