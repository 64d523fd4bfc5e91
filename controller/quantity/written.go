package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// part is one number with what follows it, as in the "6 in" of "7 ft 6 in".
type part struct {
	n       float64
	text    string // the number as it is written
	symbol  string
	signed  bool // written with a sign
	negated bool // with a minus, which 0 may have too
}

// parts takes a text apart. A number is decimal, a fraction or both: 1.25, 1/4,
// 1 1/4, 1-1/4 or 1¼; no exponents, which would swallow the start of a unit.
func parts(text string) ([]part, error) {
	rest := strings.TrimSpace(plain.Replace(text))
	if rest == "" {
		return nil, errors.New("no number at the start")
	}
	var all []part
	for rest != "" {
		p, after, err := leading(rest)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
		rest = after
	}
	return all, nil
}

// plain writes out what keyboards and telephones make of fractions, spaces and
// the marks of feet and inches.
var plain = strings.NewReplacer(
	"\u00a0", " ", "\u202f", " ", "\u2009", " ", "\u2212", "-", "\u2044", "/",
	"\u2019", "'", "\u2032", "'", "\u201d", `"`, "\u2033", `"`,
	"¼", " 1/4", "½", " 1/2", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8", "⅓", " 1/3", "⅔", " 2/3",
)

// leading takes one number with its unit off the front of a text.
func leading(text string) (p part, rest string, err error) {
	body := text
	if strings.HasPrefix(body, "+") || strings.HasPrefix(body, "-") {
		p.signed, p.negated = true, body[0] == '-'
		body = body[1:]
	}
	number, after := span(body, "0123456789.")
	switch {
	case number == "":
		return p, "", errors.New("no number at the start")
	case strings.HasPrefix(after, ","):
		return p, "", commaError(number, after[1:])
	}
	alone := strings.HasPrefix(after, "/") // 3/4
	top, bottom, after := fraction(number, after)
	whole := number
	if alone && bottom != "" {
		whole = "0"
	}
	if p.n, err = strconv.ParseFloat(whole, 64); err != nil {
		return p, "", fmt.Errorf("%q is not a number", number)
	}
	p.text = text[:len(text)-len(after)]
	if bottom != "" {
		share, err := divided(top, bottom)
		if err != nil || strings.Contains(number, ".") {
			return p, "", fmt.Errorf("%q is not a number", p.text)
		}
		p.n += share
	}
	if p.negated {
		p.n = -p.n
	}
	p.symbol, rest = symbol(after)
	return p, rest, nil
}

// span takes what consists of these letters off the front of a text.
func span(text, letters string) (front, rest string) {
	end := len(text) - len(strings.TrimLeft(text, letters))
	return text[:end], text[end:]
}

// fraction looks for the fraction that a number is, or that follows it; bottom
// is empty where there is none.
func fraction(number, after string) (top, bottom, rest string) {
	if strings.HasPrefix(after, "/") {
		if bottom, rest = span(after[1:], "0123456789"); bottom != "" {
			return number, bottom, rest
		}
	}
	gap := strings.TrimLeft(after, " ")
	if gap == after {
		gap = strings.TrimPrefix(after, "-")
	}
	if top, rest = span(gap, "0123456789"); gap != after && top != "" && strings.HasPrefix(rest, "/") {
		if bottom, rest = span(rest[1:], "0123456789"); bottom != "" {
			return top, bottom, rest
		}
	}
	return "", "", after
}

func divided(top, bottom string) (float64, error) {
	a, err := strconv.ParseFloat(top, 64)
	b, otherErr := strconv.ParseFloat(bottom, 64)
	if err := errors.Join(err, otherErr); err != nil {
		return 0, err
	}
	if b == 0 {
		return 0, errors.New("nothing is divided by 0")
	}
	return a / b, nil
}

// symbol takes a unit off the front of a text, up to the next number. Points
// that abbreviate, as in "fl. oz.", are left out.
func symbol(text string) (unit, rest string) {
	end := 0
	for ; end < len(text); end++ {
		c, begins := text[end], end == 0 || text[end-1] == ' '
		if isDigit(c) || c == '+' || c == '-' || c == '.' && begins {
			break
		}
	}
	words := strings.Fields(text[:end])
	for i := range words {
		words[i] = strings.TrimSuffix(words[i], ".")
	}
	return strings.Join(words, " "), text[end:]
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// A commaMistake says itself what to write.
type commaMistake struct{ error }

// commaError names a decimal comma and writes the number with a point. Three
// digits after the comma may be meant as thousands.
func commaError(before, after string) error {
	digits, unit := span(after, "0123456789")
	if digits == "" {
		return commaMistake{errors.New("decimals take a point, not a comma")}
	}
	pointed := before + "." + digits + unit
	if len(digits) == 3 && strings.TrimLeft(before, "0") != "" {
		return commaMistake{fmt.Errorf("decimals take a point, and thousands take nothing: write %s or %s", pointed, before+digits+unit)}
	}
	return commaMistake{fmt.Errorf("decimals take a point: write %s", pointed)}
}

// sum adds the parts of a quantity up. Where there are several each has a
// smaller unit than the one before it.
func (k kind[Q]) sum(text string, bare *Unit[Q]) (Q, error) {
	all, err := parts(text)
	if _, says := errors.AsType[commaMistake](err); err != nil && !says {
		return 0, k.lacking("%v: %s is written like ", err, k.noun)
	} else if err != nil {
		return 0, err
	}
	total, err := k.total(all, bare)
	if err != nil {
		return 0, k.lacking("%v: ", err)
	}
	return total, nil
}

func (k kind[Q]) total(all []part, bare *Unit[Q]) (Q, error) {
	var total Q
	var before Unit[Q]
	for i, p := range all {
		u, err := k.unit(p, bare, len(all))
		switch {
		case err != nil:
			return 0, err
		case p.negated && !k.signed:
			return 0, fmt.Errorf("%s cannot be below zero", k.noun)
		case i > 0 && (!k.adds || p.signed):
			return 0, errors.New("write one number and its unit")
		case i > 0 && u.Size >= before.Size:
			return 0, errors.New("the larger unit comes first")
		case i > 0 && u.US != before.US:
			return 0, errors.New("metric and US units stand together: keep to one of the two")
		}
		total, before = total+u.Zero+Q(p.n)*u.Size, u
	}
	if math.IsInf(float64(total), 0) {
		return 0, fmt.Errorf("%s as large as that cannot be right", k.noun)
	}
	return total, nil
}

// unit is that of one part. A number alone has the bare unit, where there is
// one.
func (k kind[Q]) unit(p part, bare *Unit[Q], of int) (u Unit[Q], err error) {
	if p.symbol == "" && bare != nil && of == 1 {
		return *bare, nil
	}
	for _, u := range k.units {
		if u.called(p.symbol) {
			return u, nil
		}
	}
	switch {
	case strings.EqualFold(p.symbol, "e"):
		return u, errors.New("a number has no exponent: write it out")
	case p.symbol == "" && of == 1:
		return u, fmt.Errorf("%s needs a unit", k.noun)
	case p.symbol == "":
		return u, fmt.Errorf("%s has no unit", p.text)
	}
	return u, fmt.Errorf("%q is no unit of %s", p.symbol, k.noun)
}
