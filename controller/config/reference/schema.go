package reference

import (
	"encoding/json"
	"strconv"
	"strings"

	"benchtide/controller/config"
	"benchtide/controller/quantity"
	"benchtide/controller/texts"
)

type object = map[string]any

// Schema is the JSON Schema (draft 7, which editors know best) of a site's file.
func Schema() ([]byte, error) {
	top := section(config.KeyAt(""))
	top["$schema"] = "http://json-schema.org/draft-07/schema#"
	top["title"] = "a site's file of benchtide"
	top["definitions"] = definitions()
	data, err := json.MarshalIndent(top, "", " ")
	return append(data, '\n'), err
}

// schema is what belongs at a key, with what an editor shows of it.
func schema(k *config.Key) object {
	s := shape(k)
	if k.Many {
		list := object{"type": "array", "items": shape(k)}
		if k.Kind.Plain() {
			list["minItems"] = 1
		}
		s = object{"anyOf": []any{s, list}}
	} else if s["$ref"] != nil { // beside which draft 7 reads nothing else
		s = object{"allOf": []any{s}}
	}
	s["description"] = strings.Join(about(k, quantity.Metric), "\n")
	if k.Kind.Plain() && k.Example != "" && !k.Many {
		s["examples"] = []any{plainExample(k)}
	}
	return s
}

func plainExample(k *config.Key) any {
	text := strings.Trim(k.Example, `"`)
	switch k.Kind {
	case config.Whole, config.Degrees:
		return json.Number(text)
	case config.Truth:
		return text == "true"
	}
	return text
}

func shape(k *config.Key) object {
	switch k.Kind {
	case config.Section:
		if k.Alone != "" {
			return object{"anyOf": []any{section(k), object{"$ref": "#/definitions/stages"}}}
		}
		return section(k)
	case config.Named:
		each := k.Below()[0]
		names := object{"pattern": "^" + ownName + "$"}
		if len(each.Words) > 0 {
			names = object{"pattern": "^(?:" + strings.Join(anyCases(each.Words), "|") + ")$"}
		}
		return object{"type": "object", "minProperties": 1, "propertyNames": names, "additionalProperties": schema(each)}
	case config.List:
		if k.Path == stages {
			return object{"$ref": "#/definitions/stages"}
		}
		return list(k)
	}
	return plain(k)
}

// stages stand in a plan, and in place of it.
const stages = "plans.NAME.stages"

func list(k *config.Key) object {
	list := object{"type": "array", "items": schema(k.Below()[0])}
	if k.Path != "batches" {
		list["minItems"] = 1
	}
	if k.Name() == "curve" {
		list["minItems"], list["maxItems"] = 2, 24
	}
	return list
}

func anyCases(words []string) (all []string) {
	for _, w := range words {
		all = append(all, strings.TrimSuffix(anyCase(w), `\.?`))
	}
	return all
}

// section is a mapping of known keys, with the rules about them.
func section(k *config.Key) object {
	properties, required := object{}, []string{}
	for _, c := range k.Below() {
		properties[c.Name()] = schema(c)
		if c.Needed {
			required = append(required, c.Name())
		}
	}
	s := object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		s["required"] = required
	}
	if rules := rules(k); len(rules) > 0 {
		s["allOf"] = rules
	}
	return s
}

func rules(k *config.Key) (all []any) {
	if len(k.One) > 0 {
		all = append(all, object{"oneOf": each(k.One)})
	}
	if len(k.Any) > 0 {
		all = append(all, object{"anyOf": each(k.Any)})
	}
	for _, pair := range k.Both {
		all = append(all, object{"dependencies": object{pair[0]: pair[1:], pair[1]: pair[:1]}})
	}
	if len(k.Apart) == 2 {
		all = append(all, object{"not": object{"allOf": []any{object{"anyOf": each(k.Apart[0])}, object{"anyOf": each(k.Apart[1])}}}})
	}
	if k.Path == "aeration" {
		all = append(all, object{"oneOf": []any{
			object{"required": []string{"always"}, "properties": object{"always": truth("true")}, "not": object{"anyOf": each([]string{"from", "to"})}},
			object{"required": []string{"from", "to"}, "properties": object{"always": truth("false")}},
		}})
	}
	return all
}

func each(keys []string) (all []any) {
	for _, k := range keys {
		all = append(all, object{"required": []string{k}})
	}
	return all
}

const ownName = `[A-Za-z][A-Za-z0-9_\-]{0,39}`

// oneLine is a text that is not blank and has no control characters.
const oneLine = `^[^\x00-\x1f\x7f-\x9f` + "\u2028\u2029" + `]*[^\x00-\x20\x7f-\xa0` + "\u2028\u2029" + `][^\x00-\x1f\x7f-\x9f` + "\u2028\u2029" + `]*$`

func truth(word string) object {
	return object{"anyOf": []any{object{"type": "boolean", "const": word == "true"}, object{"type": "string", "pattern": "^" + strings.TrimSuffix(anyCase(word), `\.?`) + "$"}}}
}

func pattern(p string) object { return object{"type": "string", "pattern": p} }

// definitions are what stands at many keys.
func definitions() object {
	return object{
		"stages": list(config.KeyAt(stages)),
		"length": pattern(whole(quantities(quantity.Lengths, true))), "length or nothing": pattern(whole(quantities(quantity.Lengths, false))),
		"volume": pattern(whole(quantities(quantity.Volumes, true))), "flow": pattern(whole(quantities(quantity.Flows, true))),
		"flow or nothing": pattern(whole(quantities(quantity.Flows, false))),
		"time":            pattern(whole(quantities(quantity.Times, true))), "share": pattern(whole(quantities(quantity.Fractions, false))),
		"days":         pattern(`^ *0*(?:[1-9]|[12][0-9]|30) *[Dd](?:[Aa][Yy][Ss]?)? *$`),
		"temperatures": pattern(whole(spans(quantities(quantity.Temperatures, false), true))),
		"shares":       pattern(whole(spans(quantities(quantity.Fractions, false), false))),
		"sunlight":     pattern(whole(spans(within(`MJ/m[2²]`, `kWh/m[2²]`, `mol/m[2²]`), false))),
		"photon flux":  pattern(whole(within(`[uµ]mol/m[2²]s`, `[uµ]mol/m[2²]/s`))),
		"time of day":  pattern(`^(?:[01]?[0-9]|2[0-3]):[0-5][0-9](?::[0-5][0-9])?$`),
		"date":         pattern(`^[0-9]{4}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12][0-9]|3[01])|(?:0[469]|11)-(?:0[1-9]|[12][0-9]|30)|02-(?:0[1-9]|[12][0-9]))$`),
		"cron":         pattern(`^ *(?:@(?:hourly|daily|midnight|weekly|monthly|yearly|annually)|[0-9A-Za-z*?,/\-]+(?: +[0-9A-Za-z*?,/\-]+){4}) *$`),
		"line":         pattern(`^(?:[^ \t]*[^0-9. \t][^ \t]*|[Pp][Ii][Nn][ _]* [ _]*0*[1-9][0-9]*)$`),
		"zone":         pattern(`^[A-Za-z][A-Za-z0-9_+\-/]*$`),
		"own name":     object{"type": []string{"string", "boolean"}, "pattern": "^" + ownName + "$"},
		"text":         object{"type": []string{"string", "number", "boolean"}, "pattern": oneLine, "maxLength": texts.Value},
		"whole path":   object{"type": "string", "pattern": `^/`, "maxLength": texts.Value},
		"mailbox":      object{"type": "string", "pattern": `^.*[^@ ]@[^@ ].*$`, "maxLength": texts.Value},
		"server":       object{"type": "string", "pattern": `^(?:[^:\[\]]+|\[[^\[\]]+\]):0*(?:[1-9][0-9]{0,3}|[1-5][0-9]{4}|6[0-4][0-9]{3}|65[0-4][0-9]{2}|655[0-2][0-9]|6553[0-5])$`},
		"web address":  object{"type": "string", "pattern": `^ *[Hh][Tt][Tt][Pp][Ss]?://[^/?#]`, "maxLength": texts.Value},
		"broker":       object{"type": "string", "pattern": `^ *[Mm][Qq][Tt][Tt][Ss]?://[^/?#@]+:[0-9]+/? *$`},
		"topic":        object{"type": "string", "pattern": `^ *[^ /$+#][^+#]*[^ /+#] *$|^ *[^ /$+#] *$`, "maxLength": texts.Value},
	}
}

var defined = map[config.Kind]string{
	config.Length: "length", config.Volume: "volume", config.Flow: "flow", config.Time: "time", config.Days: "days", config.Share: "share",
	config.Warmths: "temperatures", config.Shares: "shares", config.Sunlights: "sunlight", config.PhotonFlux: "photon flux",
	config.TimeOfDay: "time of day", config.Date: "date", config.CronTimes: "cron", config.GPIOLine: "line", config.Zone: "zone",
	config.OwnName: "own name", config.Reference: "own name", config.Words: "text", config.WholePath: "whole path", config.Mailbox: "mailbox",
	config.Server: "server", config.WebAddress: "web address", config.BrokerPlace: "broker", config.Topic: "topic",
}

// plain is the shape of one plain value.
func plain(k *config.Key) object {
	switch k.Kind {
	case config.Choice:
		return object{"enum": k.Words}
	case config.Truth:
		return object{"anyOf": []any{truth("true"), truth("false")}}
	case config.Whole:
		return numbers(k, "integer", `^[+\-]?[0-9]+$`)
	case config.Degrees:
		return numbers(k, "number", `^[+\-]?`+decimal+`$`)
	case config.GPIOLine:
		return object{"anyOf": []any{object{"$ref": "#/definitions/line"}, section(k)}}
	case config.ChipLabel:
		return object{"type": "string", "minLength": 1, "not": object{"pattern": `^(?:/dev/)?(?:gpiochip)?[0-9]+$`}}
	case config.Words:
		if most, err := strconv.Atoi(k.Most); err == nil {
			return object{"type": []string{"string", "number", "boolean"}, "pattern": oneLine, "maxLength": most}
		}
	case config.Length:
		if k.Zero {
			return object{"$ref": "#/definitions/length%20or%20nothing"}
		}
	case config.Flow:
		if k.Zero {
			return object{"$ref": "#/definitions/flow%20or%20nothing"}
		}
	}
	return object{"$ref": "#/definitions/" + strings.ReplaceAll(defined[k.Kind], " ", "%20")}
}

// numbers is a number between the ends of a key, which may stand in quotes.
func numbers(k *config.Key, kind, quoted string) object {
	plain := object{"type": kind}
	if k.Least != "" {
		plain["minimum"] = json.Number(k.Least)
	}
	if k.Most != "" {
		plain["maximum"] = json.Number(k.Most)
	}
	return object{"anyOf": []any{plain, pattern(quoted)}}
}
