// Package publish says over MQTT how spaces are, for a sounder or a sign.
//
//	notify.Message ─▶ retained JSON (notify.SpaceState) on the channel's topic
//
// What is published is the state now, not the change that called for it: a
// sounder that comes back finds the retained message and knows. Nothing a
// heater could obey is ever published.
package publish
