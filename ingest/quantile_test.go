package ingest_test

import (
	"slices"
	"time"
)

func quantile(all []time.Duration, q float64) time.Duration {
	s := slices.Sorted(slices.Values(all))
	return s[int(q*float64(len(s)-1))]
}
