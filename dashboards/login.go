package dashboards

import (
	"context"
	"errors"
	"net/http"
	"net/url"

	"heaterd/dashboards/access"
)

// loginPage is the form to sign in.
type loginPage struct {
	Next  string
	Name  string
	Wrong string
	To    string // address of the form that waits for the sign-in; empty: none does
	Typed string // what it held, encoded
}

func (p *pages) login(w http.ResponseWriter, r *http.Request) error {
	return p.show(w, r, "login", Page{Title: "Sign in"}, loginPage{Next: localPath(r.URL.Query().Get("next"), "/")})
}

func (p *pages) signIn(w http.ResponseWriter, r *http.Request) error {
	body := loginPage{
		Name: line(r.FormValue("name"), 60), Next: localPath(r.FormValue("next"), "/"), To: r.FormValue("to"), Typed: r.FormValue("typed"),
	}
	c, err := p.gate.SignIn(r, r.FormValue("name"), r.FormValue("password"))
	if err != nil {
		status := http.StatusUnauthorized
		if errors.Is(err, access.ErrTooMany) {
			status = http.StatusTooManyRequests
			w.Header().Set("Retry-After", "60")
		}
		body.Wrong = sentence(err.Error())
		p.render(w, r, status, "login", Page{Title: "Sign in"}, body)
		return nil
	}
	http.SetCookie(w, c)
	r = p.signedIn(r, c)
	if form := p.sentAgain(body.To); form != nil && visitor(r).Role.Covers(access.Technician) {
		return p.goOn(w, r, form, body.Typed)
	}
	http.Redirect(w, r, body.Next, http.StatusSeeOther)
	return nil
}

// signedIn gives a request as its browser will send the next ones.
func (p *pages) signedIn(r *http.Request, session *http.Cookie) *http.Request {
	next := r.Clone(r.Context())
	next.Header.Del("Cookie")
	next.AddCookie(session)
	for _, c := range r.Cookies() {
		if c.Name != session.Name {
			next.AddCookie(c)
		}
	}
	return next.WithContext(context.WithValue(next.Context(), visitorKey{}, p.gate.Who(next)))
}

// goOn shows the form that waited for a sign-in, as it was filled in.
func (p *pages) goOn(w http.ResponseWriter, r *http.Request, form *again, typed string) error {
	held, err := url.ParseQuery(typed)
	if err != nil {
		return problem(http.StatusBadRequest, "What the form held was lost on its way. Nothing was written down.")
	}
	return p.show(w, r, "problem", Page{Title: "Not written down yet", Typed: held},
		problemPage{Text: "You are signed in again. Look over what you wrote, and send it.", Again: form})
}

// signInFirst answers a form whose sender is not signed in, or no longer is:
// with the sign-in, and with the form after it.
func (p *pages) signInFirst(w http.ResponseWriter, r *http.Request) {
	body := loginPage{Next: localPath(formPage(r), "/"), Wrong: "You are not signed in, or no longer: nothing was written down. Sign in, and do it again."}
	if form := p.sentAgain(r.URL.EscapedPath()); form != nil && r.ParseForm() == nil {
		body.Next, body.To, body.Typed = form.Page, r.URL.EscapedPath(), r.PostForm.Encode()
		body.Wrong = "You are not signed in, or no longer: nothing was written down yet. Sign in, and what you wrote is shown again to be sent."
	}
	p.render(w, r, http.StatusUnauthorized, "login", Page{Title: "Sign in"}, body)
}

func (p *pages) signOut(w http.ResponseWriter, r *http.Request) error {
	http.SetCookie(w, p.gate.SignOut(r))
	http.Redirect(w, r, "/login", http.StatusSeeOther)
	return nil
}
