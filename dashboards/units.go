package dashboards

import (
	"math"
	"net/http"
	"strconv"
	"time"
)

// Units are the units people see. The log and the API always use °C, litres
// and kW.
type Units string

// The systems of units.
const (
	Metric Units = "metric"
	US     Units = "us"
)

// Exact by definition (NIST SP 811 Appendix B).
const (
	litresPerGallon = 3.785411784
	btuPerHPerKW    = 3412.141633 // International Table Btu
	feet3PerM3      = 35.31466672
)

// nbsp keeps a figure and its unit on one line.
const nbsp = "\u00a0"

func (u Units) other() Units {
	if u == US {
		return Metric
	}
	return US
}

func (u Units) known() bool { return u == Metric || u == US }

func (u Units) degrees(c float64) float64 {
	if u == US {
		return c*9/5 + 32
	}
	return c
}

func (u Units) degreeSign() string {
	if u == US {
		return "°F"
	}
	return "°C"
}

// Temp writes a temperature given in °C.
func (u Units) Temp(c float64) string { return fixed(u.degrees(c), 1) + nbsp + u.degreeSign() }

// Volume writes a volume of fuel given in litres.
func (u Units) Volume(l float64) string {
	if u == US {
		return fixed(l/litresPerGallon, 1) + nbsp + "gal"
	}
	return fixed(l, 1) + nbsp + "L"
}

// VolumeUnit names the unit of fuel.
func (u Units) VolumeUnit() string {
	if u == US {
		return "gal"
	}
	return "L"
}

func (u Units) litres(v float64) float64 {
	if u == US {
		return v * litresPerGallon
	}
	return v
}

// Power writes a heat input given in kW.
func (u Units) Power(kw float64) string {
	if u == US {
		return fixed(math.Round(kw*btuPerHPerKW/1000), 0) + ",000" + nbsp + "Btu/h"
	}
	return fixed(kw, 1) + nbsp + "kW"
}

// Room writes the volume of a space given in m³.
func (u Units) Room(m3 float64) string {
	if u == US {
		return fixed(m3*feet3PerM3, 0) + nbsp + "ft³"
	}
	return fixed(m3, 0) + nbsp + "m³"
}

func (u Units) figure(v float64, unit string) string {
	switch unit {
	case "Cel":
		return u.Temp(v)
	case "/":
		return fixed(v*100, 0) + nbsp + "%"
	case "s":
		return span(time.Duration(v * float64(time.Second)))
	case "":
		return fixed(v, 1)
	default:
		return fixed(v, 1) + nbsp + clipped(unit, 12)
	}
}

// fixed writes v with at most so many decimals.
func fixed(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	scale := math.Pow(10, float64(decimals))
	v = math.Round(v*scale) / scale
	if v == 0 {
		v = 0 // no negative zero
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// unitsOf gives the units a visitor has chosen.
func (p *pages) unitsOf(r *http.Request) Units {
	if u := Units(r.URL.Query().Get("units")); u.known() {
		return u
	}
	if c, err := r.Cookie("units"); err == nil && Units(c.Value).known() {
		return Units(c.Value)
	}
	return Metric
}

const rememberFor = 365 * 24 * time.Hour

// remember keeps a choice of the visitor in their browser.
func (p *pages) remember(w http.ResponseWriter, r *http.Request, name, value string) {
	http.SetCookie(w, &http.Cookie{
		Name: name, Value: value, Path: "/", MaxAge: int(rememberFor.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: p.gate.Secure(r),
	})
}
