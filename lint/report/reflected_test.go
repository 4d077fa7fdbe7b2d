package report

import (
	"encoding/json"
	"io"

	"wetrule/lint/verdict"
)

// ReflectedJSON is the JSON report written plainly, by encoding/json from structs. The fast writer is held against it.
func ReflectedJSON(w io.Writer, reviews []*verdict.Review, o Options) error {
	out := newRows(w)
	out.raw("{")
	out.members(jsonReport{ReportVersion, jsonTool{"wetrule", o.Version}, o.FailAt.String(), o.Status(reviews)})
	rules := rulesOf(reviews)
	out.raw(",\n  \"rules\": ")
	out.list(len(rules), func(i int) any { return describe(rules[i]) })
	out.raw(",\n  \"reviews\": [")
	for i, r := range reviews {
		if i > 0 {
			out.raw(",")
		}
		out.raw("\n{")
		out.members(jsonReviewOf(r))
		out.raw(",\n  \"verdicts\": ")
		n := len(r.Verdicts)
		if r.Root == nil {
			n = 0
		}
		var j jsonVerdict
		out.list(n, func(i int) any {
			j = jsonVerdictOf(r, &r.Verdicts[i], o)
			return &j
		})
		out.raw("}")
	}
	out.raw("]}\n")
	return out.flush()
}

// ReflectedText is a text as encoding/json and the escaper write it.
func ReflectedText(s string) string {
	var b writerTo
	escaper{&b}.Write(reflected.value(s))
	return string(b)
}

var reflected = newRows(io.Discard)

type writerTo []byte

func (w *writerTo) Write(p []byte) (int, error) {
	*w = append(*w, p...)
	return len(p), nil
}

// ReflectedNumber is a number as encoding/json writes it.
func ReflectedNumber(v float64) string {
	b, err := json.Marshal(v)
	if err != nil {
		return "null"
	}
	return string(b)
}

// JSONText and JSONNumber are what the fast writer makes of them.
func JSONText(s string) string    { return string(appendText(nil, s)) }
func JSONNumber(v float64) string { return string(appendFloat(nil, v)) }

type (
	// jsonReport goes on with rules and reviews.
	jsonReport struct {
		Report int      `json:"report"`
		Tool   jsonTool `json:"tool"`
		FailAt string   `json:"fail_at"`
		Status int      `json:"status"`
	}
	// jsonReview goes on with verdicts.
	jsonReview struct {
		File      string        `json:"file"`
		Line      int           `json:"line,omitempty"`
		Reference string        `json:"reference,omitempty"`
		Title     string        `json:"title,omitempty"`
		Country   string        `json:"country,omitempty"`
		Stage     string        `json:"stage,omitempty"`
		JudgedOn  string        `json:"judged_on,omitempty"`
		Rulebooks []jsonBook    `json:"rulebooks"`
		Problems  []jsonProblem `json:"problems"`
		Counts    jsonCounts    `json:"counts"`
		Faults    []jsonFault   `json:"leave_faults"`
		Notices   []string      `json:"notices"`
		Cautions  []string      `json:"cautions"`
	}
	jsonBook struct {
		Name    string `json:"name"`
		Edition string `json:"edition"`
	}
	jsonVerdict struct {
		Rule        string     `json:"rule"`
		Severity    string     `json:"severity"`
		Kind        string     `json:"kind"`
		Subject     string     `json:"subject"`
		Outcome     string     `json:"outcome"`
		Fails       bool       `json:"fails"`
		Measured    any        `json:"measured"`
		Unit        string     `json:"unit,omitempty"`
		Note        string     `json:"note,omitempty"`
		Steps       []string   `json:"steps,omitempty"`
		Lower       *float64   `json:"lower,omitempty"`
		Upper       *float64   `json:"upper,omitempty"`
		Margin      *float64   `json:"margin,omitempty"`
		Missing     []string   `json:"missing,omitempty"`
		Reason      string     `json:"reason,omitempty"`
		Conceded    *jsonLeave `json:"conceded,omitempty"`
		Known       *jsonKnown `json:"known,omitempty"`
		Place       jsonPlace  `json:"place"`
		Fingerprint string     `json:"fingerprint,omitempty"`
	}
	jsonLeave struct {
		Leave  string   `json:"leave"`
		Reason string   `json:"reason"`
		By     []string `json:"by"`
		Issued string   `json:"issued"`
		Until  string   `json:"until"`
	}
	jsonKnown struct {
		Measured string   `json:"measured"`
		Margin   *float64 `json:"margin,omitempty"`
	}
	jsonFault struct {
		Severity string    `json:"severity"`
		File     string    `json:"file"`
		Text     string    `json:"text"`
		Place    jsonPlace `json:"place"`
	}
)

func jsonReviewOf(r *verdict.Review) jsonReview {
	out := jsonReview{File: r.File, Line: r.Line, Reference: r.Reference, Title: r.Title, Country: r.Country, JudgedOn: r.On, Rulebooks: []jsonBook{}, Problems: []jsonProblem{},
		Counts: countsOf(r), Faults: []jsonFault{}, Notices: append([]string{}, r.Notices...), Cautions: Cautions(r)}
	for _, b := range r.Books {
		out.Rulebooks = append(out.Rulebooks, jsonBook{b.Name, b.Edition})
	}
	for _, p := range r.Problems {
		out.Problems = append(out.Problems, jsonProblem{p.Line, p.Col, p.Pointer, p.Message})
	}
	for _, f := range r.Faults {
		out.Faults = append(out.Faults, jsonFault{f.Severity.String(), f.File, f.Text, jsonPlace{f.Place.Pointer, f.Place.Line, f.Place.Col, f.Place.EndCol}})
	}
	if r.Root != nil {
		out.Stage = r.Stage.String()
	}
	return out
}

func jsonVerdictOf(r *verdict.Review, v *verdict.Verdict, o Options) jsonVerdict {
	p := v.Place(r.Root)
	lo, hi := v.Limits()
	j := jsonVerdict{Rule: v.Rule.ID, Severity: v.Rule.Severity.String(), Kind: v.Subject.Kind, Subject: v.Subject.ID, Outcome: v.Outcome.String(), Fails: o.Fails(v),
		Measured: exact(v.Rule.Def.Type, *v.Value), Unit: v.Rule.Def.Unit, Note: v.Value.Note(), Steps: v.Value.Steps(), Lower: finite(lo), Upper: finite(hi), Reason: v.Reason(),
		Place: jsonPlace{p.Pointer, p.Line, p.Col, p.EndCol}}
	if v.Finding() || v.Leave() != nil || v.Known() != nil {
		j.Fingerprint = v.Fingerprint(r.Name())
	}
	if l := v.Leave(); l != nil {
		j.Conceded = &jsonLeave{l.Leave, l.Reason, l.By, l.Issued, l.Until}
	}
	if k := v.Known(); k != nil {
		j.Known = &jsonKnown{k.Measured, k.Margin}
	}
	if v.Outcome == verdict.Undetermined {
		j.Missing, _ = r.Missing(v)
	} else if m := v.Margin(); v.HasMargin() { // an undetermined verdict lacks a limit or a condition, so its margin says nothing
		j.Margin = &m
	}
	return j
}
