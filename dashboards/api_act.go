package dashboards

import (
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strings"

	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// formOf makes the members of a JSON object the fields of a form, so that
// both are read in one place. Programs may send forms too.
func formOf(r *http.Request) error {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if kind != "application/json" {
		return noJSON(r)
	}
	var members map[string]any
	if err := decode(r, &members); err != nil {
		return err
	}
	r.Form, r.PostForm = url.Values{}, url.Values{}
	for k, v := range members {
		if s, ok := v.(string); ok {
			r.Form.Set(k, s)
		} else if v == true {
			r.Form.Set(k, "yes")
		}
	}
	return nil
}

// noJSON refuses a JSON object that calls itself a form, as several programs do
// unless told: read as a form it says nothing at all.
func noJSON(r *http.Request) error {
	_ = r.ParseForm() // what cannot be read is missed by whoever asks for it
	for key := range r.PostForm {
		if strings.HasPrefix(strings.TrimSpace(key), "{") {
			return problem(http.StatusUnsupportedMediaType, "The body looks like JSON and is called a form: send it with Content-Type: application/json.")
		}
	}
	return nil
}

// decode reads one JSON value and nothing behind it.
func decode(r *http.Request, v any) error {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	err := d.Decode(v)
	if err == nil && d.Decode(new(any)) != io.EOF {
		err = errors.New("something follows the object")
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return err
	}
	if err != nil {
		return problem(http.StatusBadRequest, "Cannot read the JSON: %v.", err)
	}
	return nil
}

// apiAlarmAct gives the handler of an act on one alarm.
func apiAlarmAct(act record.Act) func(*pages, http.ResponseWriter, *http.Request) error {
	return func(p *pages, w http.ResponseWriter, r *http.Request) error {
		if err := formOf(r); err != nil {
			return err
		}
		a, err := p.answerOf(w, r, act, "api")
		if err != nil {
			return err
		}
		if err := p.answer(r.Context(), a); err != nil {
			return err
		}
		s := p.take()
		after, err := p.findAlarm(r.Context(), s, a.Alarm)
		if err != nil {
			return err
		}
		writeJSON(w, http.StatusOK, s.jsonOfAlarm(&after))
		return nil
	}
}

// apiHeaterAct gives the handler of an act on a whole heater.
func apiHeaterAct(act record.Act) func(*pages, http.ResponseWriter, *http.Request) error {
	return func(p *pages, w http.ResponseWriter, r *http.Request) error {
		if err := formOf(r); err != nil {
			return err
		}
		h, err := p.answerHeater(w, r, act, "api")
		if err != nil {
			return err
		}
		s := p.take()
		if after := s.heaters[h.ID]; after != nil {
			h = after
		}
		writeJSON(w, http.StatusOK, jsonOfHeater(h, s.At, false))
		return nil
	}
}

// apiEnter takes a line of the service log, in the contract's words.
func (p *pages) apiEnter(w http.ResponseWriter, r *http.Request) error {
	var e record.Entry
	if err := decode(r, &e); err != nil {
		return err
	}
	if p.take().heaters[e.Heater] == nil {
		return notFound("heater", e.Heater)
	}
	if err := p.checkEntry(&e); err != nil {
		return err
	}
	var err error
	if e.By, err = actor(r, e.By); err != nil {
		return err
	}
	strange, err := p.strange(r.Context(), &e)
	if err != nil {
		return err
	}
	if err := p.write(r.Context(), record.Line{Entry: &e}); err != nil {
		return err
	}
	writeJSON(w, http.StatusCreated, kept{e, strange})
	return nil
}

// kept is an entry as it was written down.
type kept struct {
	record.Entry
	Warning string `json:"warning,omitempty"` // kept all the same
}

// actor is who acts through the API: whoever the token or session belongs to,
// with the name given beside it where there is one.
func actor(r *http.Request, given string) (string, error) {
	given, err := whole("by", given, longestName)
	switch v := visitor(r); {
	case err != nil:
		return "", err
	case given == "" && v.Name == "":
		return "", problem(http.StatusUnprocessableEntity, "The log keeps a name with every entry: say who it was in by.")
	case v.Name == "":
		return given, nil
	case given == "" || given == v.Name:
		return v.Name, nil
	default:
		return given + " by " + v.Name, nil
	}
}

func (p *pages) checkEntry(e *record.Entry) error {
	for _, t := range tasksOf(*e) {
		if t == record.StopTask || t == record.StopEndTask {
			return problem(http.StatusUnprocessableEntity, "A planned stop is no entry: say it to /api/v1/planned-stops.")
		}
		if p.o.Plan.Index(t) < 0 && entryTitles[t] == "" {
			return problem(http.StatusUnprocessableEntity, "The plan has no task %q.", clipped(t, 40))
		}
	}
	if len(e.Tasks) > service.MaxTasks {
		return problem(http.StatusUnprocessableEntity, "At most %d tasks at once.", service.MaxTasks)
	}
	if e.Task == "fit-node" && e.Node == "" {
		return problem(http.StatusUnprocessableEntity, "Say which sensor unit was fitted: its id, in node.")
	}
	if v := e.MeterH; v != nil && !(*v >= 0 && *v <= record.MostMeterH) {
		return problem(http.StatusUnprocessableEntity, "meter_h must be from 0 to %d.", record.MostMeterH)
	}
	if v := e.Litres; v != nil && !(*v >= 0 && *v <= mostLitres) {
		return problem(http.StatusUnprocessableEntity, "litres must be from 0 to %d.", mostLitres)
	}
	if err := checkTexts(e); err != nil {
		return err
	}
	return p.checkWhen(e)
}

func checkTexts(e *record.Entry) (err error) {
	if e.Note, err = whole("note", e.Note, longestNote); err != nil {
		return err
	}
	if e.Found, err = whole("found", e.Found, longestNote); err != nil {
		return err
	}
	if e.Node, err = whole("node", e.Node, longestNode); err != nil || e.Node == "" {
		return err
	}
	return fitsTopic(e.Node)
}

func (p *pages) checkWhen(e *record.Entry) error {
	switch {
	case e.Done == 0:
		return nil
	case e.Task == "fit-node":
		return problem(http.StatusUnprocessableEntity, "A sensor unit counts from when it is written down that it was fitted: leave done_at out.")
	}
	return checkDone(e.Done, reading.InstantOf(p.o.Now()), p.take().zone(p.take().heaters[e.Heater].Site))
}

// apiStop takes a planned stop, in the contract's words, with when it begins,
// or the word that ends one.
func (p *pages) apiStop(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Heater, For, By, Note string
		From                  reading.Instant
		End                   bool
	}
	if err := decode(r, &in); err != nil {
		return err
	}
	if p.take().heaters[in.Heater] == nil {
		return notFound("heater", in.Heater)
	}
	s := record.PlannedStop{Heater: in.Heater, From: in.From, End: in.End}
	var err error
	if s.By, err = actor(r, in.By); err != nil {
		return err
	}
	if s.Note, err = whole("note", in.Note, longestNote); err != nil {
		return err
	}
	if !s.End {
		s.For, err = p.stopFor(&s, 0, in.For)
	}
	if err != nil {
		return err
	}
	if err := p.write(r.Context(), record.Line{Stop: &s}); err != nil {
		return err
	}
	writeJSON(w, http.StatusCreated, struct {
		Heater string          `json:"heater"`
		For    string          `json:"for,omitempty"`
		From   reading.Instant `json:"from,omitzero"`
		End    bool            `json:"end,omitempty"`
		By     string          `json:"by"`
		Note   string          `json:"note"`
	}{s.Heater, in.For, s.From, s.End, s.By, s.Note})
	return nil
}
