// Package outcome holds what the engine concludes, with the field names of
// the contract: the same values are printed by replay, kept by the ledger and
// served under /api/v1. It is pure.
package outcome
