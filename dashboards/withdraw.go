package dashboards

import (
	"cmp"
	"net/http"
	"net/url"
	"strconv"

	"heaterd/alerts/ledger"
	"heaterd/ingest/reading"
	"heaterd/ingest/record"
)

// withdrawalOf reads which entry a request withdraws, why, and who says so.
func (p *pages) withdrawalOf(w http.ResponseWriter, r *http.Request, id string) (record.Withdrawal, error) {
	e, err := p.entryOf(r, id)
	if err != nil {
		return record.Withdrawal{}, err
	}
	d := record.Withdrawal{Heater: e.Entry.Heater, Task: e.Entry.Task, At: e.At}
	if d.Why, err = whole("The reason", r.FormValue("why"), record.LongestWhy); err != nil {
		return d, err
	}
	if d.Why == "" {
		return d, problem(http.StatusUnprocessableEntity, "Say why the entry is withdrawn: the log keeps it.")
	}
	d.By, err = p.person(w, r)
	return d, err
}

// entryOf finds an entry that can be withdrawn, by its line of the log.
func (p *pages) entryOf(r *http.Request, id string) (ledger.EntryRow, error) {
	number, _ := strconv.ParseInt(id, 10, 64) // there is no line 0
	e, ok, err := p.o.Ledger.Entry(r.Context(), number)
	if err != nil {
		return e, err
	}
	if !ok {
		return e, notFound("entry", clipped(id, 40))
	}
	s := p.take()
	h := s.heaters[e.Entry.Heater]
	if h == nil {
		return e, notFound("heater", e.Entry.Heater)
	}
	if d := e.Withdrawn; d != nil {
		return e, problem(http.StatusConflict, "This entry was withdrawn by %s at %s.", cmp.Or(d.By, "somebody"), clock(d.At, s.zone(h.Site)))
	}
	if why := p.stays(e); why != "" {
		return e, problem(http.StatusConflict, "This entry stays: %s.", why)
	}
	return e, nil
}

// stays says why an entry cannot be withdrawn; empty where it can.
func (p *pages) stays(e ledger.EntryRow) string {
	return record.Refusal(e.Entry.Task, e.Entry.Tasks, e.At, reading.InstantOf(p.o.Now()))
}

// withdraw takes back a wrong entry of the service log.
func (p *pages) withdraw(w http.ResponseWriter, r *http.Request) error {
	d, err := p.keepWithdrawal(w, r)
	if err != nil {
		return err
	}
	return back(w, r, "/heaters/"+url.PathEscape(d.Heater), "withdraw")
}

// apiWithdraw is withdraw for programs.
func (p *pages) apiWithdraw(w http.ResponseWriter, r *http.Request) error {
	if err := formOf(r); err != nil {
		return err
	}
	d, err := p.keepWithdrawal(w, r)
	if err != nil {
		return err
	}
	writeJSON(w, http.StatusCreated, d)
	return nil
}

func (p *pages) keepWithdrawal(w http.ResponseWriter, r *http.Request) (record.Withdrawal, error) {
	d, err := p.withdrawalOf(w, r, r.PathValue("id"))
	if err != nil {
		return d, err
	}
	p.forgetPress(d.Heater)
	return d, p.write(r.Context(), record.Line{Withdraw: &d})
}
