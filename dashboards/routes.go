package dashboards

import (
	"net/http"

	"heaterd/dashboards/access"
)

// route is one route with the least role that may use it.
type route struct {
	Method, Pattern string
	Role            access.Role
	Program         bool // asked by programs: a refusal is a status, not the sign-in page
	serve           func(*pages, http.ResponseWriter, *http.Request) error
}

// routes is every route there is.
var routes = []route{
	{"GET", "/{$}", access.Viewer, false, (*pages).fleet},
	{"GET", "/sites/{id}", access.Viewer, false, (*pages).site},
	{"GET", "/heaters/{id}", access.Viewer, false, (*pages).heater},
	{"GET", "/heaters/{id}/label", access.Viewer, false, (*pages).label},
	{"POST", "/heaters/{id}/look-over", access.Technician, false, (*pages).lookOver},
	{"POST", "/heaters/{id}/service", access.Technician, false, (*pages).serviceDone},
	{"POST", "/heaters/{id}/refuel", access.Technician, false, (*pages).refuel},
	{"POST", "/heaters/{id}/planned-stop", access.Technician, false, (*pages).plannedStop},
	{"POST", "/heaters/{id}/fit-node", access.Technician, false, (*pages).fitNode},
	{"POST", "/heaters/{id}/out-of-service", access.Technician, false, heaterAct("out-of-service")},
	{"POST", "/heaters/{id}/in-service", access.Technician, false, heaterAct("in-service")},
	{"GET", "/nodes/{id}", access.Viewer, false, (*pages).node},

	{"GET", "/alarms", access.Viewer, false, (*pages).alarms},
	{"GET", "/alarms/quality", access.Viewer, false, (*pages).quality},
	{"GET", "/alarms/{id}", access.Viewer, false, (*pages).alarm},
	{"POST", "/alarms/{id}/acknowledge", access.Technician, false, alarmAct("acknowledge")},
	{"POST", "/alarms/{id}/shelve", access.Technician, false, alarmAct("shelve")},
	{"POST", "/alarms/{id}/unshelve", access.Technician, false, alarmAct("unshelve")},
	{"POST", "/alarms/{id}/reset", access.Safety, false, alarmAct("reset")},
	{"GET", "/a/{token}", access.Nobody, false, (*pages).link},
	{"POST", "/a/{token}", access.Nobody, false, (*pages).followLink},

	{"GET", "/login", access.Nobody, false, (*pages).login},
	{"POST", "/login", access.Nobody, false, (*pages).signIn},
	{"POST", "/logout", access.Nobody, false, (*pages).signOut},
	{"GET", "/events", access.Viewer, true, (*pages).events},
	{"GET", "/static/{name}", access.Nobody, true, (*pages).static},
	{"GET", "/livez", access.Nobody, true, (*pages).livez},
	{"GET", "/readyz", access.Nobody, true, (*pages).readyz},
	{"GET", "/metrics", access.Viewer, true, (*pages).metrics},
}
