package service

// useDays is how many days of use are kept singly: six weeks, so that every
// weekday is seen six times.
const useDays = 42

// unknownDay marks a day of which nothing is known.
const unknownDay = -1

// Use is how many hours a day a heater's burner ran: the last useDays days
// singly and those before them in a fading sum. It is a value of under 256
// bytes. Days are the site's calendar days.
type Use struct {
	Last    Date             // newest day; 0 nothing yet
	Lit     Date             // newest day with hours
	Part    Date             // a day seen only in part, which is no measure of a day; 0 none
	Known   int32            // days since the first, the newest included, at most useDays
	Day     [useDays]float32 // h; Day[d mod useDays] is day d; unknownDay where nobody saw
	OldDays float32          // known days that have left Day, fading
	OldSum  float32          // their hours, fading alike, h
}

// oldKeep is how much of the older days' weight is left after another day:
// a season ago counts a tenth of a month ago (common practice, no source).
const oldKeep = 0.99

// longestDay is the most burner hours a calendar day can hold, h.
const longestDay = 25

// longestIdle is how many skipped days are counted one by one; after them
// nothing is left of what was before.
const longestIdle = 1000

// Add counts burner hours towards a day. Days skipped since the newest count
// as idle. Hours of a day that is no longer kept singly are dropped.
func (u *Use) Add(day Date, hours float64) {
	if !(hours >= 0) {
		return
	}
	u.reach(day)
	if u.keeps(day) {
		p := &u.Day[slot(day)]
		*p = min(max(*p, 0)+float32(hours), longestDay)
		if hours > 0 {
			u.Lit = max(u.Lit, day)
		}
	}
}

// Unknown says that nobody saw the heater on a day, so that the day does not
// pass for an idle one. Hours already counted stand.
func (u *Use) Unknown(day Date) {
	u.reach(day)
	if p := &u.Day[slot(day)]; u.keeps(day) && *p == 0 {
		*p = unknownDay
	}
}

// Partly says that much of a day had passed before anybody looked: its hours
// count, but it does not stand for a day of the heater's use.
func (u *Use) Partly(day Date) {
	u.reach(day)
	u.Part = day
}

// advance makes day the newest; the days passed over were idle. An empty Use
// stays empty.
func (u *Use) advance(day Date) {
	if u.Known == 0 {
		return
	}
	for d := max(u.Last, day-longestIdle) + 1; d <= day; d++ {
		u.push(d)
	}
}

// in sums the burner hours of the n days up to and including day, h; n at
// most useDays. Days nobody saw count nothing.
func (u *Use) in(n int, day Date) float64 {
	sum := 0.0
	for d := day; d > day-Date(n); d-- {
		sum += max(u.on(d), 0)
	}
	return sum
}

// on gives the hours of a day, h; unknownDay where nobody saw or where it is
// before the first day or no longer kept; 0 after the newest.
func (u *Use) on(d Date) float64 {
	switch {
	case u.Known > 0 && d > u.Last:
		return 0
	case !u.keeps(d):
		return unknownDay
	}
	return float64(u.Day[slot(d)])
}

func (u *Use) keeps(d Date) bool { return d <= u.Last && u.Last-d < Date(u.Known) }

// reach makes room for a day: forward, or back before the first one.
func (u *Use) reach(day Date) {
	switch back := u.Last - day; {
	case u.Known == 0:
		*u = Use{Last: day, Known: 1}
	case back < 0:
		u.advance(day)
	case back < useDays && u.OldDays == 0:
		u.Known = max(u.Known, int32(back)+1)
	}
}

// push begins a day. The one that makes room joins the sum, unless it was
// idle within six weeks of standing: a summer in store says nothing of the
// next winter.
func (u *Use) push(d Date) {
	p := &u.Day[slot(d)]
	laidUp := *p == 0 && u.Last-u.Lit >= useDays-1
	if u.Known == useDays && *p >= 0 && !laidUp {
		u.OldSum = u.OldSum*oldKeep + *p
		u.OldDays = u.OldDays*oldKeep + 1
	}
	*p = 0
	u.Last, u.Known = d, min(u.Known+1, useDays)
}

func slot(d Date) int { return ((int(d) % useDays) + useDays) % useDays }
