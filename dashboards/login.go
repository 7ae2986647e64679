package dashboards

import (
	"errors"
	"net/http"

	"heaterd/dashboards/access"
)

// loginPage is the form to sign in.
type loginPage struct {
	Next  string
	Name  string
	Wrong string
}

func (p *pages) login(w http.ResponseWriter, r *http.Request) error {
	return p.show(w, r, "login", Page{Title: "Sign in"}, loginPage{Next: localPath(r.URL.Query().Get("next"), "/")})
}

func (p *pages) signIn(w http.ResponseWriter, r *http.Request) error {
	name, next := r.FormValue("name"), localPath(r.FormValue("next"), "/")
	c, err := p.gate.SignIn(r, name, r.FormValue("password"))
	if err != nil {
		status := http.StatusUnauthorized
		if errors.Is(err, access.ErrTooMany) {
			status = http.StatusTooManyRequests
			w.Header().Set("Retry-After", "60")
		}
		p.render(w, r, status, "login", Page{Title: "Sign in"}, loginPage{Next: next, Name: line(name, 60), Wrong: sentence(err.Error())})
		return nil
	}
	http.SetCookie(w, c)
	http.Redirect(w, r, next, http.StatusSeeOther)
	return nil
}

func (p *pages) signOut(w http.ResponseWriter, r *http.Request) error {
	http.SetCookie(w, p.gate.SignOut(r))
	http.Redirect(w, r, "/login", http.StatusSeeOther)
	return nil
}
