// Package channels makes the sender of every channel in the settings.
package channels
