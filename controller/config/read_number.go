package config

import (
	"fmt"
	"reflect"
	"strings"

	"benchtide/controller/quantity"
)

// number is one that the file gives, in the base unit of its quantity.
type number struct {
	path string
	key  *Key
	v    float64
}

// plain reads the plain value of a key. Without it a key that is needed is
// noted, and any other is what its description says holds then.
func plain[T any](f fields, key string, parse func(string) (T, error)) (read T) {
	k := f.section.child(key)
	if v, ok := f.get(key); ok {
		read, _ = scalar(v, parse)
		f.r.count(v.path, k, reflect.ValueOf(&read).Elem())
		return read
	}
	if k.Needed {
		f.need(key)
		return read
	}
	return byDefault(k, parse)
}

// count notes a number for checkBounds, where its key says what is usual.
func (r *reader) count(path string, k *Key, v reflect.Value) {
	switch {
	case k.Usual.what == "":
	case v.CanFloat():
		r.numbers = append(r.numbers, number{path, k, v.Float()})
	case v.CanInt():
		r.numbers = append(r.numbers, number{path, k, float64(v.Int())})
	}
}

// byDefault is what holds without a key.
func byDefault[T any](k *Key, parse func(string) (T, error)) (read T) {
	if k.Default == "" {
		return read
	}
	read, err := parse(strings.Trim(k.Default, `"`))
	if err != nil {
		panic("config: the default of " + k.Path + ": " + err.Error())
	}
	return read
}

// ranged reads a number that lies between the ends that its key is described
// with.
func ranged[T ~float64 | ~int | ~int64](f fields, key string, parse func(string) (T, error)) T {
	return plain(f, key, within(f.section.child(key), parse))
}

// within refuses what is below the least or above the most of a key.
func within[T ~float64 | ~int | ~int64](k *Key, parse func(string) (T, error)) func(string) (T, error) {
	end := func(text string, otherwise T) T {
		if text == "" {
			return otherwise
		}
		v, err := parse(text)
		if err != nil {
			panic("config: an end of " + k.Path + ": " + err.Error())
		}
		return v
	}
	return func(text string) (T, error) {
		v, err := parse(text)
		if err != nil && k.Kind != Whole { // which says itself how it is written
			return v, err
		}
		if err != nil || !(v >= end(k.Least, v) && v <= end(k.Most, v)) {
			err = quantity.Mistaken(func(u quantity.Units) string { return fmt.Sprintf("%q: write %s%s", text, k.Kind, k.ends(u)) })
		}
		return v, err
	}
}

// ends says between which numbers a value lies.
func (k *Key) ends(u quantity.Units) string {
	most := k.Most
	if l, err := quantity.ParseLength(most); err == nil {
		most = u.Within(l)
	}
	switch {
	case k.Least == "" && k.Most == "":
		return ""
	case k.Least == "":
		return " up to " + most
	}
	return " from " + k.Least + " to " + most
}
