package config

import (
	"strings"

	"gopkg.in/yaml.v3"

	"heaterd/alerts/exposure"
)

// defaultLimits are watched where a site names none.
const defaultLimits = "us-niosh"

// What a site's own figures can be. The upper end of ppm is NIOSH's figure
// for danger to life (1,200 ppm, from memory): a limit above it protects
// nobody.
var (
	ppmRange  = span{1, 1200, "ppm"}
	doseRange = span{1, 20, "% carboxyhaemoglobin"}
)

// The weakest published figures, ppm: a site's own above these deserve a
// second look.
const (
	weakestCeiling   = 200 // NIOSH REL and Cal/OSHA PEL (8 CCR 5155) ceiling
	weakestShortTerm = 100 // EH40/2005 and Directive (EU) 2017/164, 15 min
	weakestShift     = 50  // OSHA PEL, 29 CFR 1926.55 App. A, 8 h
)

func limitsAllowed() string {
	return strings.Join(exposure.Names(), ", ") + ", or a table of own figures"
}

func readLimits(v value) exposure.Limits {
	switch {
	case !v.given():
		if v.at != nil {
			v.warn("the set that applies here: "+limitsAllowed(),
				"left out: %s is watched", defaultLimits)
		}
		return namedLimits(defaultLimits)
	case v.node.Kind == yaml.MappingNode:
		return readOwnLimits(v.table())
	case v.node.Kind == yaml.ScalarNode:
		return namedLimits(v.pick(limitsAllowed(), defaultLimits, exposure.Names()))
	}
	v.wrongType(limitsAllowed())
	return exposure.Limits{}
}

func readOwnLimits(t *table) exposure.Limits {
	before := len(t.r.problems)
	l := exposure.Limits{
		Name:         "own",
		CeilingPPM:   t.get("ceiling_ppm").number(0, ppmRange),
		ShortTermPPM: t.get("short_term_ppm").number(0, ppmRange),
		ShiftPPM:     t.get("shift_ppm").number(0, ppmRange),
		DosePercent:  t.get("dose_percent").number(exposure.DefaultDosePercent, doseRange),
		Source:       t.get("source").line("the site's own figures"),
	}
	t.close()
	if len(t.r.problems) == before {
		checkOwnLimits(t, l)
	}
	return l
}

func checkOwnLimits(t *table, l exposure.Limits) {
	if l.CeilingPPM == 0 && l.ShortTermPPM == 0 && l.ShiftPPM == 0 {
		t.fail("at least one of ceiling_ppm, short_term_ppm, shift_ppm", "no limit in the table: carbon monoxide would go unwatched")
	}
	order(t, "short_term_ppm", l.ShortTermPPM, "ceiling_ppm", l.CeilingPPM)
	order(t, "shift_ppm", l.ShiftPPM, "short_term_ppm", l.ShortTermPPM)
	order(t, "shift_ppm", l.ShiftPPM, "ceiling_ppm", l.CeilingPPM)
	weak(t, "ceiling_ppm", l.CeilingPPM, weakestCeiling)
	weak(t, "short_term_ppm", l.ShortTermPPM, weakestShortTerm)
	weak(t, "shift_ppm", l.ShiftPPM, weakestShift)
	if !t.has("source") {
		t.get("source").warn("the document the figures come from", "left out: nobody can look the figures up")
	}
}

func order(t *table, lower string, low float64, upper string, high float64) {
	if low > 0 && high > 0 && low > high {
		t.get(lower).warn("at most "+upper, "%s ppm is above %s, %s ppm", plainNumber(low), upper, plainNumber(high))
	}
}

func weak(t *table, key string, own, published float64) {
	if own > published {
		t.get(key).warn("", "%s ppm is weaker than every published limit of its kind known here, %s ppm",
			plainNumber(own), plainNumber(published))
	}
}

// namedLimits gives a published set by name; none of an unknown name, which
// was complained about.
func namedLimits(name string) exposure.Limits {
	l, _ := exposure.Named(name)
	return l
}
