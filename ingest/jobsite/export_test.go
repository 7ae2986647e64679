package jobsite

import (
	"strings"
	"time"

	"heaterd/ingest/reading"
)

// LabelledSpec is the world behind a labelled set.
func LabelledSpec(seed uint64, l LabelSpec) Spec { return labelledWorld(seed, l.filled()) }

const LabelStart reading.Instant = labelStart

func clock(h, m int) time.Duration {
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute
}

func weekday(d int) time.Weekday { return time.Weekday(d) }

func days(words string) (ds []time.Weekday) {
	for w := range strings.FieldsSeq(words) {
		for d := range time.Weekday(7) {
			if strings.EqualFold(d.String()[:3], w) {
				ds = append(ds, d)
			}
		}
	}
	return ds
}
