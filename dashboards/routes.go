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
	{"POST", "/heaters/{id}/planned-stop-end", access.Technician, false, (*pages).endStop},
	{"POST", "/heaters/{id}/fit-node", access.Technician, false, (*pages).fitNode},
	{"POST", "/heaters/{id}/out-of-service", access.Technician, false, heaterAct("out-of-service")},
	{"POST", "/heaters/{id}/in-service", access.Technician, false, heaterAct("in-service")},
	{"GET", "/nodes/{id}", access.Viewer, false, (*pages).node},

	{"GET", "/alarms", access.Viewer, false, (*pages).alarms},
	{"GET", "/alarms/quality", access.Viewer, false, (*pages).quality},
	{"GET", backtestPath, access.Technician, false, (*pages).backtestForm},
	{"POST", backtestPath, access.Technician, false, (*pages).runBacktest},
	{"GET", "/alarms/{id}", access.Viewer, false, (*pages).alarm},
	{"POST", "/alarms/{id}/acknowledge", access.Technician, false, alarmAct("acknowledge")},
	{"POST", "/alarms/{id}/shelve", access.Technician, false, alarmAct("shelve")},
	{"POST", "/alarms/{id}/unshelve", access.Technician, false, alarmAct("unshelve")},
	{"POST", "/alarms/{id}/reset", access.Safety, false, alarmAct("reset")},
	{"GET", "/a/{token}", access.Nobody, false, (*pages).link},
	{"POST", "/a/{token}", access.Nobody, false, (*pages).followLink},

	{"GET", "/service", access.Viewer, false, (*pages).service},
	{"GET", "/service/plan", access.Viewer, false, (*pages).howItIsDone},
	{"GET", "/service.ics", access.Viewer, true, (*pages).calendar},
	{"GET", "/log", access.Viewer, false, (*pages).log},
	{"POST", "/log/{id}/withdraw", access.Technician, false, (*pages).withdraw},
	{"GET", "/reports", access.Viewer, false, (*pages).reports},
	{"GET", "/reports/exposure", access.Viewer, false, (*pages).exposureReport},
	{"GET", "/reports/service", access.Viewer, false, (*pages).serviceReport},
	{"GET", "/reports/season", access.Viewer, false, (*pages).seasonReport},
	{"GET", "/reports/alarms", access.Viewer, false, (*pages).alarmsReport},

	{"GET", "/login", access.Nobody, false, (*pages).login},
	{"POST", "/login", access.Nobody, false, (*pages).signIn},
	{"POST", "/logout", access.Nobody, false, (*pages).signOut},
	{"GET", eventsPath, access.Viewer, true, (*pages).events},
	{"GET", "/static/{name}", access.Nobody, true, (*pages).static},
	{"GET", "/{path...}", access.Nobody, false, (*pages).nowhere},
	{"GET", "/livez", access.Nobody, true, (*pages).livez},
	{"GET", "/readyz", access.Nobody, true, (*pages).readyz},
	{"GET", "/metrics", access.Viewer, true, (*pages).metrics},

	{"GET", "/api/v1/fleet", access.Viewer, true, (*pages).apiFleet},
	{"GET", "/api/v1/sites", access.Viewer, true, (*pages).apiSites},
	{"GET", "/api/v1/sites/{id}", access.Viewer, true, (*pages).apiSite},
	{"GET", "/api/v1/spaces", access.Viewer, true, (*pages).apiSpaces},
	{"GET", "/api/v1/heaters", access.Viewer, true, (*pages).apiHeaters},
	{"GET", "/api/v1/heaters/{id}", access.Viewer, true, (*pages).apiHeater},
	{"GET", "/api/v1/heaters/{id}/burns", access.Viewer, true, (*pages).apiBurns},
	{"POST", "/api/v1/heaters/{id}/out-of-service", access.Technician, true, apiHeaterAct("out-of-service")},
	{"POST", "/api/v1/heaters/{id}/in-service", access.Technician, true, apiHeaterAct("in-service")},
	{"GET", "/api/v1/alarms", access.Viewer, true, (*pages).apiAlarms},
	{"GET", "/api/v1/alarms/{id}", access.Viewer, true, (*pages).apiAlarm},
	{"POST", "/api/v1/alarms/{id}/acknowledge", access.Technician, true, apiAlarmAct("acknowledge")},
	{"POST", "/api/v1/alarms/{id}/shelve", access.Technician, true, apiAlarmAct("shelve")},
	{"POST", "/api/v1/alarms/{id}/unshelve", access.Technician, true, apiAlarmAct("unshelve")},
	{"POST", "/api/v1/alarms/{id}/reset", access.Safety, true, apiAlarmAct("reset")},
	{"GET", "/api/v1/on-call", access.Viewer, true, (*pages).apiOnCall},
	{"GET", "/api/v1/service", access.Viewer, true, (*pages).apiService},
	{"GET", "/api/v1/trends", access.Viewer, true, (*pages).apiTrends},
	{"GET", "/api/v1/entries", access.Viewer, true, (*pages).apiEntries},
	{"POST", "/api/v1/entries", access.Technician, true, (*pages).apiEnter},
	{"POST", "/api/v1/entries/{id}/withdraw", access.Technician, true, (*pages).apiWithdraw},
	{"POST", "/api/v1/planned-stops", access.Technician, true, (*pages).apiStop},
	{"GET", "/api/v1/exposure", access.Viewer, true, (*pages).apiExposure},
	{"GET", "/api/v1/refused", access.Viewer, true, (*pages).apiRefused},
}
