package controller

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/safety"
)

func TestEveryKindOfEventHasItsName(t *testing.T) {
	require.Len(t, eventNames, int(WaterBooked)+1)
	require.Len(t, guardActs, int(safety.Dropped)+1)
	seen := map[string]bool{}
	for k := range eventNames {
		name := EventKind(k).Key()
		assert.NotEmpty(t, name)
		assert.False(t, seen[name], name)
		assert.NotContains(t, name, " ")
		assert.Equal(t, name, strings.ReplaceAll(EventKind(k).String(), " ", "-"))
		seen[name] = true
	}
	acts := map[string]bool{}
	for k := range guardActs {
		name := GuardAct(safety.EventKind(k))
		assert.NotEmpty(t, name)
		assert.False(t, acts[name], name)
		acts[name] = true
	}
}

func TestANameAndItsDetailAreJoinedWhereThereAreBoth(t *testing.T) {
	assert.Equal(t, "leak: the floor is wet", Because("leak", "the floor is wet"))
	assert.Equal(t, "leak", Because("leak", ""))
	assert.Equal(t, "the floor is wet", Because("", "the floor is wet"))
}
