// Package fleet describes what the daemon looks after: sites, their spaces,
// and the heaters in them, as the configuration gave them. It is pure data;
// every value carries its unit in its name.
package fleet
