package chart

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// aChart has everything that a picture can have.
func aChart() *Chart {
	c := &Chart{Title: "Water <and> salt", Unit: "mm", X: Axis{Low: 0, High: 10, Ticks: []Tick{{0, "one"}, {5, "two"}, {11, "out of sight"}}}}
	c.Line("depth", []Point{{0, 0}, {5, 30}, {6, math.NaN()}, {7, 10}, {10, 20}}, Blue)
	c.Dashed("limit", []Point{{0, 25}, {10, 25}}, Rust)
	c.Above("rim", 40)
	c.Below("floor", 5)
	c.Dots("fill", []Point{{2, 3}}, Orange, Triangle)
	c.Dots("trip", []Point{{3, 3}}, Rust, Ring)
	c.Dots("flood", []Point{{4, 3}}, Violet, Disc)
	c.Dots("none of them", nil, Violet, Disc)
	c.Mark(8)
	return c
}

func TestAPictureStandsByItselfAndSaysAllThatWasDrawn(t *testing.T) {
	t.Parallel()
	picture := aChart().SVG()
	require.NoError(t, wellFormed(picture))
	for _, word := range []string{"Water &lt;and&gt; salt", ">mm<", ">one<", ">two<", ">depth<", ">limit<", ">rim<", ">floor<", ">fill<", ">trip<", ">flood<"} {
		assert.Contains(t, picture, word)
	}
	assert.NotContains(t, picture, "none of them")
	assert.NotContains(t, picture, "out of sight")
	assert.NotContains(t, picture, "NaN")
	assert.NotRegexp(t, `href|url\(|@import|<script|<style`, picture)
	assert.Equal(t, picture, aChart().SVG())
}

func TestALineIsPartedWhereANumberIsMissing(t *testing.T) {
	t.Parallel()
	assert.Regexp(t, `d="M[\d. ]+L[\d. ]+M[\d. ]+L[\d. ]+" fill="none" stroke="#1f77a4"`, aChart().SVG())
}

func wellFormed(document string) error {
	for d := xml.NewDecoder(strings.NewReader(document)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

var disc = regexp.MustCompile(`<circle cx="([\d.]+)" cy="([\d.]+)" r="2.4" fill="#`)

// place is where the first disc of a picture stands.
func place(t require.TestingT, picture string) (x, y float64) {
	m := disc.FindStringSubmatch(picture)
	require.NotNil(t, m)
	x, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	y, err = strconv.ParseFloat(m[2], 64)
	require.NoError(t, err)
	return x, y
}

func TestAPointStandsWhereItsNumbersSay(t *testing.T) {
	t.Parallel()
	at := func(x, y float64) (float64, float64) {
		c := &Chart{X: Axis{Low: 100, High: 200}, Y: Axis{Low: -10, High: 10, Ticks: []Tick{{0, "0"}}}}
		c.Dots("", []Point{{x, y}}, Blue, Disc)
		return place(t, c.SVG())
	}
	left, bottom := at(100, -10)
	right, top := at(200, 10)
	assert.Less(t, left, 40.0)
	assert.InDelta(t, width-rightOf, right, 0.1)
	assert.InDelta(t, height-under, bottom, 0.1)
	assert.Less(t, top, 20.0)
	x, y := at(125, 5)
	assert.InDelta(t, left+(right-left)/4, x, 0.1)
	assert.InDelta(t, bottom-(bottom-top)*3/4, y, 0.1)
}

func TestBarsOfAColumnStandOnOneAnother(t *testing.T) {
	t.Parallel()
	c := &Chart{X: Axis{Low: -0.5, High: 1.5}}
	c.Bars("proven", []float64{2, 0}, Blue)
	c.Bars("missed", []float64{1, 3}, Grey)
	assert.InDelta(t, 3, c.Y.High, 0)
	bars := regexp.MustCompile(`<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)" fill="#(?:1f77a4|8c9698)"`).FindAllStringSubmatch(c.SVG(), -1)
	require.Len(t, bars, 5, "three bars and two signs of the legend")
	n := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return v
	}
	proven, missed, second := bars[0], bars[1], bars[2]
	assert.Equal(t, proven[1], missed[1], "one column")
	assert.InDelta(t, n(proven[2]), n(missed[2])+n(missed[4]), 0.2, "the second begins where the first ends")
	assert.InDelta(t, n(proven[4]), 2*n(missed[4]), 0.3)
	assert.InDelta(t, n(proven[4])+n(missed[4]), n(second[4]), 0.3)
	assert.Greater(t, n(second[1]), n(proven[1])+n(proven[3]))
}

func TestTheUprightAxisHoldsAllThatIsDrawn(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		y := rapid.Float64Range(-1e6, 1e6).Draw(r, "y")
		c := &Chart{X: Axis{High: 1}}
		c.Line("", []Point{{0, y}, {1, math.NaN()}}, Blue)
		c.Above("a", y/2)
		assert.LessOrEqual(r, c.Y.Low, y)
		assert.GreaterOrEqual(r, c.Y.High, y)
		require.NoError(r, wellFormed(c.SVG()))
	})
}

func TestTicksAreRoundAndFew(t *testing.T) {
	t.Parallel()
	labels := func(ticks []Tick) (all []string) {
		for _, k := range ticks {
			all = append(all, k.Label)
		}
		return all
	}
	assert.Equal(t, []string{"0", "20", "40", "60", "80"}, labels(Round(0, 82.5)))
	assert.Equal(t, []string{"0.0", "0.1", "0.2", "0.3"}, labels(Round(0, 0.34)))
	assert.Equal(t, []string{"-10", "-5", "0", "5", "10"}, labels(Round(-12, 11)))
	assert.Equal(t, []string{"3"}, labels(Round(3, 3)))
	assert.Equal(t, []string{"0", "1", "2"}, labels(Whole(2.4)))
	assert.Len(t, Every(120, func(n int) float64 { return float64(n) }, strconv.Itoa), 12)
	rapid.Check(t, func(r *rapid.T) {
		low := rapid.Float64Range(-1e5, 1e5).Draw(r, "low")
		high := low + rapid.Float64Range(1e-2, 1e5).Draw(r, "span")
		ticks := Round(low, high)
		assert.GreaterOrEqual(r, len(ticks), 2)
		assert.LessOrEqual(r, len(ticks), marks+2)
		for _, k := range ticks {
			v, err := strconv.ParseFloat(k.Label, 64)
			require.NoError(r, err)
			assert.InDelta(r, k.At, v, 1e-6*(high-low)+1e-9)
			assert.GreaterOrEqual(r, k.At, low-1e-6*(high-low))
			assert.LessOrEqual(r, k.At, high+1e-6*(high-low))
		}
		assert.LessOrEqual(r, len(Whole(high-low)), 13)
	})
}
