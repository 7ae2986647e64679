package access

// Role is what a visitor may do; each includes those before it.
type Role string

// The roles.
const (
	Nobody     Role = ""           // what needs no signing in
	Viewer     Role = "viewer"     // reads
	Technician Role = "technician" // acknowledges, shelves, writes to the service log
	Safety     Role = "safety"     // resets latched alarms after the site cleared the space
)

// Roles lists the roles, least first.
func Roles() []Role { return []Role{Nobody, Viewer, Technician, Safety} }

// Covers reports whether r may do what asks for needed. A role that is not
// known covers nothing but what is open to all.
func (r Role) Covers(needed Role) bool { return r.rank() >= needed.rank() && needed.known() }

func (r Role) rank() int {
	for i, known := range Roles() {
		if r == known {
			return i
		}
	}
	return 0
}

func (r Role) known() bool { return r == Nobody || r.rank() > 0 }
