package live

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchtide/controller/grow"
	"benchtide/controller/ledger"
)

func TestEveryKindOfTheDiaryThatIsWorkedWithIsKeptUnderTheSameName(t *testing.T) {
	for _, k := range []grow.EntryKind{
		grow.TopUp, grow.SolutionChange, grow.EC, grow.PH, grow.Temperature, grow.Moisture, grow.Cleaning,
		grow.Sown, grow.Germinated, grow.Resown, grow.Thinned, grow.Transplanted, grow.Lost, grow.MovedOut,
	} {
		assert.Contains(t, ledger.DiaryUnits, ledger.DiaryKind(k))
	}
}

func TestABenchThatWasCleanedOrWhosePotsCameOrWentHasANewBaseline(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage)
	for _, c := range []struct {
		note Note
		want []int
	}{
		{Note{Kind: "cleaning"}, []int{0}},
		{Note{Kind: "cleaning", Place: "north"}, []int{0}},
		{Note{Kind: "cleaning", Place: "tank"}, []int{0}},
		{Note{Kind: "baseline", Place: "north"}, []int{0}},
		{Note{Kind: "baseline"}, []int{0}},
		{Note{Kind: "moved-out", Place: "basil_spring"}, []int{0}},
		{Note{Kind: "transplanted", Place: "basil_spring"}, []int{0}},
		{Note{Kind: "lost", Place: "basil_spring"}, nil},
	} {
		assert.Equal(t, c.want, Changes(site, c.note), "%+v", c.note)
	}
}

func TestANoteIsAboutTheOnlyPlaceThatItCanBeAbout(t *testing.T) {
	site := planted(t, "2026-03-02", firstStage)
	for kind, want := range map[string]string{"ec": "tank", "top-up": "tank", "moisture": "basil_spring", "lost": "basil_spring", "note": "", "cleaning": ""} {
		n, err := placed(site, Note{Kind: kind})
		require.NoError(t, err)
		assert.Equal(t, want, n.Place, kind)
	}
	_, err := placed(site, Note{Kind: "lost", Place: "north"})
	assert.ErrorContains(t, err, "name one of basil_spring")
}
