package report

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"wetrule/lint/measure"
	"wetrule/lint/programme"
)

// ProgrammeVersion is the version of the JSON of a programme; a new one breaks readers of the old.
const ProgrammeVersion = 1

type jsonProgramme struct {
	Programme   int                    `json:"programme"`
	Tool        jsonTool               `json:"tool"`
	File        string                 `json:"file"`
	Reference   string                 `json:"reference"`
	Title       string                 `json:"title,omitempty"`
	JudgedOn    string                 `json:"judged_on"`
	Rulebooks   []jsonProgrammeBook    `json:"rulebooks"`
	TimeZone    string                 `json:"time_zone"`
	Start       string                 `json:"start"`
	AsOf        string                 `json:"as_of,omitempty"`
	End         string                 `json:"end"`
	Whole       bool                   `json:"whole"`
	FirstSteam  string                 `json:"first_steam,omitempty"`
	Critical    []string               `json:"critical"`
	Tasks       []jsonProgrammeTask    `json:"tasks"`
	Links       []jsonProgrammeLink    `json:"links"`
	Cures       []jsonProgrammeCured   `json:"cured"`
	Inspections []jsonProgrammePoint   `json:"inspections"`
	Slips       []jsonProgrammeSlip    `json:"slips"`
	Missing     []jsonProgrammeMissing `json:"missing"`
	Stops       []string               `json:"no_date"`
	Assumptions []string               `json:"assumptions"`
	Cautions    []string               `json:"cautions"`
}

type jsonProgrammeBook struct {
	Name    string `json:"name"`
	Edition string `json:"edition"`
}

type jsonProgrammeTimes struct {
	Start  string `json:"start,omitempty"`
	Finish string `json:"finish,omitempty"`
}

type jsonProgrammeTask struct {
	ID         string              `json:"id"`
	Task       string              `json:"task"`
	Label      string              `json:"label"`
	Pointer    string              `json:"pointer,omitempty"`
	Items      []string            `json:"items,omitempty"`
	Faces      []string            `json:"faces,omitempty"`
	By         []string            `json:"by,omitempty"`
	State      string              `json:"state"`
	Basis      string              `json:"basis"`
	WorkMin    float64             `json:"work_min"`
	StandsH    float64             `json:"stands_h,omitempty"`
	Needs      []string            `json:"needs,omitempty"`
	Planned    *jsonProgrammeTimes `json:"planned,omitempty"`
	Actual     *jsonProgrammeTimes `json:"actual,omitempty"`
	Early      *jsonProgrammeTimes `json:"early,omitempty"`
	Late       *jsonProgrammeTimes `json:"late,omitempty"`
	TotalFloat *float64            `json:"total_float_min,omitempty"`
	FreeFloat  *float64            `json:"free_float_min,omitempty"`
	Critical   bool                `json:"critical"`
	Why        string              `json:"why"`
	Driver     *int                `json:"driver,omitempty"`
}

type jsonProgrammeLink struct {
	From     string             `json:"from"`
	To       string             `json:"to"`
	Kind     string             `json:"kind"`
	LagH     float64            `json:"lag_h"`
	Elapsed  bool               `json:"elapsed"`
	Rules    []string           `json:"rules,omitempty"`
	Why      string             `json:"why,omitempty"`
	Resource string             `json:"resource,omitempty"`
	Cure     *jsonProgrammeCure `json:"cure,omitempty"`
}

type jsonProgrammeCure struct {
	Product    string   `json:"product,omitempty"`
	AskedH     float64  `json:"asked_h"`
	DataSheet  bool     `json:"by_data_sheet"`
	ReferenceC float64  `json:"reference_c"`
	NeededH    float64  `json:"needed_h"`
	RuleH      float64  `json:"rule_h"`
	MinC       *float64 `json:"site_min_c,omitempty"`
	MaxC       *float64 `json:"site_max_c,omitempty"`
	Assumed    bool     `json:"site_assumed"`
}

type jsonProgrammeCured struct {
	Task string   `json:"task"`
	What string   `json:"what"`
	At   string   `json:"at"`
	For  []string `json:"for"`
	Text string   `json:"text"`
}

type jsonProgrammePoint struct {
	Sort       string   `json:"sort"`
	Letter     string   `json:"letter"`
	Task       string   `json:"task"`
	At         string   `json:"at,omitempty"`
	Check      string   `json:"check"`
	ReleasedBy string   `json:"released_by,omitempty"`
	Subjects   []string `json:"subjects,omitempty"`
}

type jsonProgrammeSlip struct {
	Task      string  `json:"task"`
	StartMin  float64 `json:"start_min"`
	FinishMin float64 `json:"finish_min"`
	Text      string  `json:"text"`
}

type jsonProgrammeMissing struct {
	Task   string   `json:"task"`
	Fields []string `json:"fields"`
	Text   string   `json:"text"`
}

// programmeJSON writes a programme for programs. Instants carry the offset of the site's zone; working times are in minutes.
func programmeJSON(w io.Writer, p *programme.Programme, o Options) error {
	at := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.In(p.Zone).Format(time.RFC3339)
	}
	times := func(t programme.Times) *jsonProgrammeTimes {
		if t.Start.IsZero() && t.Finish.IsZero() {
			return nil
		}
		return &jsonProgrammeTimes{at(t.Start), at(t.Finish)}
	}
	id := func(i int) string { return p.Tasks[i].ID }
	ids := func(list []int) []string {
		out := make([]string, len(list))
		for k, i := range list {
			out[k] = id(i)
		}
		return out
	}
	j := jsonProgramme{
		Programme: ProgrammeVersion, Tool: jsonTool{"wetrule", o.Version}, File: p.File, Reference: p.Reference, Title: p.Title, JudgedOn: p.On,
		TimeZone: p.Zone.String(), Start: at(p.Start), AsOf: at(p.AsOf), End: at(p.End), Whole: p.Whole, FirstSteam: at(p.FirstSteam),
		Rulebooks: []jsonProgrammeBook{}, Critical: []string{}, Tasks: []jsonProgrammeTask{}, Links: []jsonProgrammeLink{}, Cures: []jsonProgrammeCured{}, Inspections: []jsonProgrammePoint{},
		Slips: []jsonProgrammeSlip{}, Missing: []jsonProgrammeMissing{}, Stops: notNil(p.Stops), Assumptions: notNil(p.Assumptions), Cautions: append(notNil(p.Cautions), programmeCaution),
	}
	for _, b := range p.Books {
		j.Rulebooks = append(j.Rulebooks, jsonProgrammeBook{b.Name, b.Edition})
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		x := jsonProgrammeTask{
			ID: t.ID, Task: t.Name, Label: t.Label, Items: t.Items, Faces: t.Faces, By: t.By, State: string(t.State), Basis: string(t.Basis), WorkMin: rounded(t.Minutes), StandsH: rounded(t.Stands.Hours()),
			Needs: t.Needs, Planned: times(t.Planned), Actual: times(t.Recorded), Critical: t.Critical, Why: t.Why,
		}
		if t.InJob >= 0 {
			x.Pointer = "/tasks/" + measure.FormatNumber(float64(t.InJob))
		}
		if t.Dated {
			x.Early, x.Late = times(programme.Times{Start: t.EarlyStart, Finish: t.EarlyFinish}), times(programme.Times{Start: t.LateStart, Finish: t.LateFinish})
			if t.State != programme.Done {
				total, free := rounded(t.TotalFloat.Minutes()), rounded(t.FreeFloat.Minutes())
				x.TotalFloat, x.FreeFloat = &total, &free
			}
		}
		if t.Driver >= 0 {
			x.Driver = &t.Driver
		}
		if t.Critical {
			j.Critical = append(j.Critical, t.ID)
		}
		j.Tasks = append(j.Tasks, x)
	}
	for i := range p.Links {
		l := &p.Links[i]
		x := jsonProgrammeLink{From: id(l.From), To: id(l.To), Kind: l.Kind.String(), LagH: rounded(l.Lag.Hours()), Elapsed: l.Elapsed, Rules: l.Rules, Why: l.Why, Resource: l.Resource}
		if c := l.Cure; c != nil && (c.SheetH > 0 || c.NeededH > 0) {
			x.Cure = &jsonProgrammeCure{Product: c.Product, AskedH: rounded(c.SheetH), DataSheet: c.Given, ReferenceC: c.ReferenceC, NeededH: rounded(c.NeededH), RuleH: rounded(c.RuleH), Assumed: c.Assumed}
			if c.Product != "" {
				x.Cure.MinC, x.Cure.MaxC = &l.Cure.SiteMinC, &l.Cure.SiteMaxC
			}
		}
		j.Links = append(j.Links, x)
	}
	for _, c := range p.Cures {
		j.Cures = append(j.Cures, jsonProgrammeCured{id(c.Task), c.What, at(c.At), ids(c.For), c.Text})
	}
	for _, x := range p.Points {
		y := jsonProgrammePoint{Sort: x.Sort, Letter: x.Letter, Task: id(x.Task), Check: x.Check, ReleasedBy: x.ReleasedBy, Subjects: x.Subjects}
		if x.Dated {
			y.At = at(x.At)
		}
		j.Inspections = append(j.Inspections, y)
	}
	for _, s := range p.Slips {
		j.Slips = append(j.Slips, jsonProgrammeSlip{id(s.Task), rounded(s.Start.Minutes()), rounded(s.Finish.Minutes()), s.Text})
	}
	for _, m := range p.Missing {
		j.Missing = append(j.Missing, jsonProgrammeMissing{id(m.Task), m.Fields, m.Text})
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(j)
}

func notNil(list []string) []string { return append([]string{}, list...) }

func rounded(v float64) float64 { return math.Round(v*1000) / 1000 }
