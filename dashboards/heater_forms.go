package dashboards

import (
	"context"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/fold"
	"heaterd/alerts/service"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
	"heaterd/ingest/topic"
)

// mostLitres is the most that one refuel takes, L; beyond it is a slip of the pen.
const mostLitres = 20_000

// enter takes what every form of the service log has in common and keeps the
// entry. fill reads the rest.
func (p *pages) enter(w http.ResponseWriter, r *http.Request, word string, fill func(*fold.HeaterView, *record.Entry) error) error {
	h, err := p.heaterOf(r)
	if err != nil {
		return err
	}
	e := record.Entry{Heater: h.ID}
	if e.Note, err = whole("The note", r.FormValue("note"), longestNote); err != nil {
		return err
	}
	if e.By, err = p.person(w, r); err != nil {
		return err
	}
	if e.Done, err = doneAt(r.FormValue("when"), p.take().zone(h.Site), reading.InstantOf(p.o.Now())); err != nil {
		return err
	}
	if err := fill(h, &e); err != nil {
		return err
	}
	strange, err := p.strange(r.Context(), &e)
	if err != nil {
		return err
	}
	if err := p.writeOnce(r.Context(), &e); err != nil {
		return err
	}
	switch {
	case word == "look-over" && service.KeepsOff(e.Found):
		word = "look-over-dangerous"
	case strange != "":
		word = "fit-node-unheard"
	}
	return back(w, r, "/heaters/"+url.PathEscape(h.ID), word)
}

// lookOver keeps the list gone through before use: every item must have an
// answer.
func (p *pages) lookOver(w http.ResponseWriter, r *http.Request) error {
	return p.enter(w, r, "look-over", func(_ *fold.HeaterView, e *record.Entry) error {
		e.Task = service.LookOverTask
		var failed []string
		for _, c := range service.LookOver() {
			switch r.FormValue("check-" + c.ID) {
			case "ok":
			case "failed":
				failed = append(failed, c.ID)
			default:
				return problem(http.StatusUnprocessableEntity, "The look-over needs an answer to every item; %q has none.", c.Text)
			}
		}
		e.Found = strings.Join(failed, ", ")
		return nil
	})
}

// meterMiss is how far a reading of the hour meter may lie below the hours
// counted without being asked about, h: meters show tenths or whole hours.
// Common practice, no source.
const meterMiss = 1.0

// serviceDone keeps work that was done, several tasks at once.
func (p *pages) serviceDone(w http.ResponseWriter, r *http.Request) error {
	return p.enter(w, r, "service", func(h *fold.HeaterView, e *record.Entry) (err error) {
		tasks := r.Form["task"]
		if e.MeterH, err = amount(r.FormValue("meter"), "The hour meter", record.MostMeterH); err != nil {
			return err
		}
		if v := e.MeterH; v != nil && *v < h.Hours.Low-p.hoursSince(e)-meterMiss && r.FormValue("sure") == "" {
			return problem(http.StatusUnprocessableEntity,
				"The hour meter of %s was seen to run to %s h at least, and %s h is less: it would set the hours back. If it really reads so, tick that and send it again.",
				h.ID, fixed(h.Hours.Low, 1), fixed(*v, 1))
		}
		if len(tasks) == 0 && e.MeterH != nil {
			tasks = []string{"meter"}
		}
		if len(tasks) == 0 || len(tasks) > service.MaxTasks {
			return problem(http.StatusUnprocessableEntity, "Tick what was done, or give the hour meter.")
		}
		for _, t := range tasks {
			if t == service.LookOverTask {
				return problem(http.StatusUnprocessableEntity, "A look-over is written down by its own form, item by item.")
			}
			if p.o.Plan.Index(t) < 0 && t != "meter" {
				return problem(http.StatusUnprocessableEntity, "The plan has no task %q.", clipped(t, 40))
			}
		}
		e.Task, e.Tasks = tasks[0], slices.Clone(tasks[1:])
		e.Found, err = whole("What was found", r.FormValue("found"), longestNote)
		return err
	})
}

// hoursSince gives how long ago an entry says that it was done, h: so much at
// most the burner ran since.
func (p *pages) hoursSince(e *record.Entry) float64 {
	if e.Done == 0 {
		return 0
	}
	return reading.InstantOf(p.o.Now()).Sub(e.Done).Hours()
}

// refuel keeps a filling of the tank; without litres it was to the brim.
func (p *pages) refuel(w http.ResponseWriter, r *http.Request) error {
	u := p.unitsOf(r)
	return p.enter(w, r, "refuel", func(h *fold.HeaterView, e *record.Entry) error {
		e.Task = "refuel"
		v, err := amount(r.FormValue("amount"), "The amount", mostLitres)
		if err != nil || v == nil {
			return err
		}
		if given := Units(r.FormValue("unit")); given.known() {
			u = given
		}
		if *v == 0 {
			return problem(http.StatusUnprocessableEntity, "Nothing filled in is no refuel: leave the field empty for full to the brim.")
		}
		litres := u.litres(*v)
		if h.TankL > 0 && litres > h.TankL*1.05 {
			return problem(http.StatusUnprocessableEntity, "%s does not go into a tank of %s: leave the field empty for full to the brim.", u.Volume(litres), u.Volume(h.TankL))
		}
		e.Litres = &litres
		return nil
	})
}

// fitNode keeps that another node was strapped to the heater.
func (p *pages) fitNode(w http.ResponseWriter, r *http.Request) error {
	return p.enter(w, r, "fit-node", func(h *fold.HeaterView, e *record.Entry) (err error) {
		e.Task = "fit-node"
		if e.Node, err = whole("The sensor unit", r.FormValue("node"), longestNode); err != nil {
			return err
		}
		if e.Node == "" {
			return problem(http.StatusUnprocessableEntity, "Say which sensor unit was fitted.")
		}
		if err = fitsTopic(e.Node); err != nil {
			return err
		}
		e.Done = 0 // what a node sent before nobody can move to another heater
		if on := p.take().nodes[reading.NodeID(e.Node)]; on != nil && on.ID != h.ID && r.FormValue("sure") == "" {
			return problem(http.StatusUnprocessableEntity,
				"Sensor unit %s is on heater %s, which would be left without one. If it was taken off there, tick that and send it again.", e.Node, on.ID)
		}
		return nil
	})
}

// fitsTopic refuses a name under which no unit can publish: nothing would ever
// be heard of it, and the unit that is there would be taken off.
func fitsTopic(node string) error {
	if topic.ValidNode(node) == nil {
		return nil
	}
	return problem(http.StatusUnprocessableEntity, "No sensor unit can be called %q: its name is one level of a topic, of at most 64 bytes without /, + and #. It stands on the unit's label.", clipped(node, 40))
}

// strange says of an entry that it fits a unit of which nothing ever came: a
// new one that is not switched on yet, or a slip of the pen. Empty: it does not.
func (p *pages) strange(ctx context.Context, e *record.Entry) (string, error) {
	if e.Task != "fit-node" {
		return "", nil
	}
	return p.unheard(ctx, reading.NodeID(e.Node))
}

// amount reads a number from 0 to most; nil for an empty field. A comma is
// read as a decimal point.
func amount(s, what string, most float64) (*float64, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return nil, nil
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || v < 0 || v > most {
		return nil, problem(http.StatusUnprocessableEntity, "%s must be a number from 0 to %s without a unit, such as 412.5, not %q.", what, fixed(most, 0), clipped(s, 20))
	}
	return &v, nil
}
