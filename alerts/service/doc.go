// Package service is the work a heater needs and when: tasks with their
// triggers, how far each heater is towards them, and the date each will
// probably fall due. It is pure.
package service
