// Command heaterd keeps watch over portable oil-fired heaters on jobsites for
// the technician on call: it reads what add-on sensors publish over MQTT, adds
// up burner hours towards service, tells an ordinary stop from one that needs
// a visit, watches carbon monoxide against the site's limits and brings the
// right alarm to a person. It never commands a heater.
//
//	heaterd demo                     everything in one process, nothing to set up
//	heaterd run --config FILE        the daemon
//	heaterd check --config FILE      is this configuration right?
//	heaterd replay --config FILE --capture FILE
//	heaterd capture --config FILE --out FILE
//	heaterd decode --config FILE --topic T --payload FILE
//	heaterd report | backup | version
//
// Each command is one file here. main does nothing but call run, which tests
// call too. Exit status: 0 done, 1 it ran and failed, 2 the command line or
// the configuration is wrong.
package main
