package boardtest

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestALineHasItsPullUntilItIsAnOutput(t *testing.T) {
	p := NewPins()
	require.True(t, p.High(5, false), "pulled up at power-on")
	require.False(t, p.High(22, true), "pulled down at power-on")
	require.True(t, p.High(28, true), "nothing holds it")
	require.False(t, p.High(28, false))

	p.Write(regSet, 1<<22)
	require.False(t, p.High(22, false), "a level set on an input waits")
	p.Write(regFunction+8, functionOutput<<6)
	require.True(t, p.Driven(22))
	require.True(t, p.High(22, false))
	p.Write(regClear, 1<<22)
	require.False(t, p.High(22, false))
}

func TestPullsFollowTheirTwoRegisters(t *testing.T) {
	p := NewPins()
	p.Write(regPull, uint32(PulledUp))
	require.False(t, p.High(33, false), "not before its clock")
	p.Write(regPullClock+4, 1<<1)
	require.True(t, p.High(33, false))
}

func TestTheSecondWordsReachTheUpperLines(t *testing.T) {
	p := NewPins()
	p.Write(regFunction+16, functionOutput<<0) // line 40
	p.Write(regSet+4, 1<<8)
	require.True(t, p.High(40, false))
	p.Write(regClear+4, 1<<8)
	require.False(t, p.High(40, false))
}

func TestAPulseOfMicrosecondsIsSeen(t *testing.T) {
	writes, err := ReadWrites(strings.NewReader(`
7@100.000000:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f201000 value 0x1 size 4 name 'pl011'
7@100.000001:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f200028 value 0x400000 size 4 name 'bcm2835_gpio'
7@100.000002:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f200008 value 0x40 size 4 name 'bcm2835_gpio'
7@100.000003:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f20001c value 0x400000 size 4 name 'bcm2835_gpio'
7@100.000005:memory_region_ops_write cpu -1 mr 0x1 addr 0x3f200028 value 0x400000 size 4 name 'bcm2835_gpio'
7@101.500000:memory_region_ops_write cpu 0 mr 0x1 addr 0x3f20001c value 0x400000 size 4 name 'bcm2835_gpio'
`))
	require.NoError(t, err)
	require.Len(t, writes, 5)
	require.True(t, writes[3].Outer)

	enable := Relay{"enable", 22, true}
	at := func(us int64) time.Time { return time.Unix(100, us*1000) }
	require.Equal(t, []Span{{at(3), at(5)}, {From: at(1_500_000)}}, enable.Energised(writes))

	pump := Relay{"pump", 5, false}
	require.Empty(t, pump.Energised(writes), "its line is pulled to off")
	require.Empty(t, Circuit{pump, enable}.Energised(writes), "one open contact is enough")
}

func TestARecordWithAHoleIsRefused(t *testing.T) {
	for _, line := range []string{
		`7@100.0:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f200028 value 0x1 size 4 name 'bcm2835_gpio'`,
		`7@100.000001:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f201028 value 0x1 size 4 name 'bcm2835_gpio'`,
	} {
		_, err := ReadWrites(strings.NewReader(line + "\n"))
		require.ErrorContains(t, err, "register record", line)
	}
	writes, err := ReadWrites(strings.NewReader(`7@100.000001:memory_region_ops_write cpu 3 mr 0x1 addr 0x3f200028 value 0x1 size 4 name 'bcm2835_gpio`))
	require.NoError(t, err, "cut with the power")
	require.Empty(t, writes)
}
