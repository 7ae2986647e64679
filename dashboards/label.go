package dashboards

import (
	"fmt"
	"html/template"
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"rsc.io/qr"

	"heaterd/alerts/fold"
)

// labelPage is a label to print and put on a heater's shell.
type labelPage struct {
	*fold.HeaterView
	Address string
	Code    template.HTML // empty: the address leads nowhere from elsewhere
}

// label shows a heater's label; the code on it opens the heater's page.
func (p *pages) label(w http.ResponseWriter, r *http.Request) error {
	h, err := p.heaterOf(r)
	if err != nil {
		return err
	}
	address := p.base(r) + "/heaters/" + url.PathEscape(h.ID)
	page := Page{Title: "Label of heater " + h.ID, Here: "fleet"}
	if onThisMachineOnly(address) {
		return p.show(w, r, "label", page, labelPage{HeaterView: h, Address: address})
	}
	code, err := qr.Encode(address, qr.M)
	if err != nil {
		return problem(http.StatusUnprocessableEntity, "The address of this heater is too long for a label: give a shorter base address.")
	}
	return p.show(w, r, "label", page, labelPage{h, address, squares(code, "Code that opens "+address)})
}

// onThisMachineOnly reports whether an address leads nowhere from elsewhere: a
// telephone would look for it on itself.
func onThisMachineOnly(address string) bool {
	u, err := url.Parse(address)
	if err != nil {
		return true
	}
	name := strings.TrimSuffix(strings.ToLower(u.Hostname()), ".")
	if ip, err := netip.ParseAddr(name); err == nil {
		ip = ip.Unmap()
		return ip.IsLoopback() || ip.IsUnspecified()
	}
	return name == "" || name == "localhost" || strings.HasSuffix(name, ".localhost")
}

// base is the address of the pages as the visitor, or the configuration,
// knows it.
func (p *pages) base(r *http.Request) string {
	if p.o.BaseURL != "" {
		return strings.TrimRight(p.o.BaseURL, "/")
	}
	scheme := "http"
	if p.gate.Secure(r) {
		scheme = "https"
	}
	return scheme + "://" + r.Host
}

// quietZone is the white border a reader needs, in modules (ISO/IEC 18004,
// from memory).
const quietZone = 4

// squares draws a code; runs of black modules of a line are one rectangle.
func squares(c *qr.Code, title string) template.HTML {
	var b strings.Builder
	size := c.Size + 2*quietZone
	fmt.Fprintf(&b, `<svg class="qr" viewBox="0 0 %d %[1]d" role="img" aria-label="%s" xmlns="http://www.w3.org/2000/svg" shape-rendering="crispEdges">`,
		size, template.HTMLEscapeString(title))
	fmt.Fprintf(&b, `<rect width="%d" height="%[1]d" fill="#fff"/><path fill="#000" d="`, size)
	for y := range c.Size {
		for x := 0; x < c.Size; x++ {
			from := x
			for x < c.Size && c.Black(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%[3]dz", from+quietZone, y+quietZone, x-from)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String()) //nolint:gosec // the title was escaped above
}
