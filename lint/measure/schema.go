package measure

import "encoding/json"

// Schema is the JSON Schema of what policies see: for each kind the column id and
// a column a measure, unknown, stage and doubts (see policies/engine/engine.rego). It is closed, so that a misspelt
// measure in Rego is found when the Rego is compiled.
func Schema() map[string]any {
	object := func(title string, properties map[string]any) map[string]any {
		return map[string]any{"title": title, "type": "object", "additionalProperties": false, "properties": properties}
	}
	list := func(title string, item map[string]any) map[string]any {
		return map[string]any{"title": title, "type": "array", "items": item}
	}
	orNull := func(t string) map[string]any { return map[string]any{"type": []any{t, "null"}} }
	text := map[string]any{"type": "string"}
	wait := "^(planned|actual)_[a-z_]+_after_[a-z_]+_h$"
	root, unknown := map[string]any{}, map[string]any{}
	for _, name := range Names() {
		k := kinds[name]
		columns := map[string]any{"id": list("Ids of the subjects", text)}
		missing := map[string]any{}
		for _, d := range k.Defs {
			title := WithUnit(d.Meaning, "")
			if d.Unit != "" {
				title += ", in " + d.Unit
			}
			var item map[string]any
			switch d.Type {
			case Number:
				item = orNull("number")
			case Text:
				item = orNull("string")
			case Flag:
				item = orNull("boolean")
			case Texts:
				item = map[string]any{"type": []any{"array", "null"}, "items": text}
			}
			columns[d.Name] = list(title, item)
			missing[d.Name] = list("Indices of the subjects for which it is not known", map[string]any{"type": "integer"})
		}
		kind := object(k.Meaning, columns)
		if k.waits() {
			kind["patternProperties"] = map[string]any{wait: list("A wait between tasks, in h", orNull("number"))}
		}
		root[name] = kind
		unknown[name] = loose(object("Missing values", missing), wait, map[string]any{"type": "array"})
	}
	root["unknown"] = object("What the job does not say", unknown)
	root["stage"] = map[string]any{"title": "Stage of the job: 0 design, 1 site, 2 as built", "type": "integer"}
	root["doubts"] = map[string]any{"title": "Rows and subjects that the values leave in doubt; all of them when it is missing", "type": "object"}
	s := object("Measures", root)
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["$id"] = "wetrule:measures.schema.json"
	s["description"] = "What policies see of one job. Generated from the measures that wetrule knows."
	return s
}

// loose lets the waits between tasks stand beside listed properties.
func loose(object map[string]any, pattern string, value map[string]any) map[string]any {
	object["patternProperties"] = map[string]any{pattern: value}
	return object
}

// SchemaJSON is Schema as a file.
func SchemaJSON() []byte {
	b, err := json.MarshalIndent(Schema(), "", " ")
	if err != nil {
		panic(err) // maps of texts and numbers, which always encode
	}
	return append(b, '\n')
}
