package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"reflect"
	"strings"

	"benchtide/controller/live"
	"benchtide/controller/texts"
)

// bodyLimit is more than any act takes.
const bodyLimit = 16 << 10

// body reads the JSON object of an act, strictly: an unknown key, a wrong type
// or anything behind the object is an Invalid that says what is right.
func body[T any](w http.ResponseWriter, r *http.Request) (T, error) {
	var v T
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return v, live.Invalid{Reason: "the body of an act is JSON: set Content-Type: application/json"}
	}
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, bodyLimit))
	d.DisallowUnknownFields()
	if err := d.Decode(&v); err != nil {
		return v, misread(err, v)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return v, live.Invalid{Reason: fmt.Sprintf("the body goes on after its object at byte %d: send one object", d.InputOffset())}
	}
	return v, lines(v)
}

// lines refuses a request of which a text is not one line of a bounded length.
func lines(v any) error {
	fields := reflect.ValueOf(v)
	for i := range fields.NumField() {
		if f := fields.Field(i); f.Kind() == reflect.String {
			key := fields.Type().Field(i).Tag.Get("json")
			if err := texts.Line(f.String(), longest(key)); err != nil {
				return live.Invalid{Reason: fmt.Sprintf("%s: %v", key, err)}
			}
		}
	}
	return nil
}

// longest is how many letters the text of a key may have.
func longest(key string) int {
	switch key {
	case "text", "found":
		return texts.Note
	}
	return texts.Name
}

// misread says where a body is wrong, and what keys there are.
func misread(err error, v any) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		return err
	case errors.As(err, &syntax):
		return live.Invalid{Reason: fmt.Sprintf("the body is no JSON at byte %d: %v", syntax.Offset, err)}
	case errors.As(err, &kind) && kind.Field == "":
		return live.Invalid{Reason: "the body has to be an object with " + keysOf(v)}
	case errors.As(err, &kind):
		return live.Invalid{Reason: fmt.Sprintf("%q has to be %s", kind.Field, typed(kind.Type))}
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return live.Invalid{Reason: "the body ends before its object does: send an object, " + keysOf(v)}
	}
	return live.Invalid{Reason: strings.TrimPrefix(err.Error(), "json: ") + ": the object has " + keysOf(v)}
}

// typed is what JSON has for a type of a request.
func typed(t reflect.Type) string {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.String:
		return "a string"
	case reflect.Bool:
		return "true or false"
	}
	return "a number"
}

func keysOf(v any) string {
	t := reflect.TypeOf(v)
	keys := []string{}
	for i := range t.NumField() {
		keys = append(keys, t.Field(i).Tag.Get("json"))
	}
	if len(keys) == 0 {
		return "no keys"
	}
	return "the keys " + strings.Join(keys, ", ")
}
