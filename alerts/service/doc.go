// Package service is the work a heater needs and when: tasks with their
// triggers, how far each heater is towards them, and the date each will
// probably fall due. It is pure.
//
//	Plan ──────────────┐
//	log entries → Book ┼─ Status → []Standing → MakeVisit → Visit
//	burner hours → Use ┤
//	Facts (now, hours) ┘
//
// What counts:
//
//   - A task's earliest trigger wins, and its worst state.
//   - Hours have bounds. HoursSince, HoursLeft and the expected date go by the
//     best estimate; the state goes by the most that may have run. Doubt from
//     before the work was done does not count after it.
//   - A task never logged is taken as done, by hours, at the last full interval
//     of the hour meter at the first sight (412.5 h leave 87.5 h of 500; exactly
//     500 h count as just done), and by the calendar on the day of the first
//     sight. The first sight is no deployment. All this is common practice, no
//     source.
//   - Due: the interval is reached. Due soon and overdue: within, or beyond, a
//     tenth of it, for calendar intervals never more than seven days.
//   - Work that is wanted so many times a season is due when that part of the
//     season's days has passed since it was last done; days out of season do
//     not count.
//   - Days are days of the site's calendar, whatever the clocks do.
//   - A task past its hours bears the day on which they ran out, as far back as
//     single days of use are kept.
//
// The forecast takes the hours to come as a lognormal sum around the heater's
// own level, week and scatter; the due day is the first passage of the hours
// left. What the level is, nobody knows: every height of the season, every
// persistence of a day's deviation and every day on which the level may have
// changed is weighed by how well it explains the six weeks kept singly (fit.go),
// and the doubt that is left makes the range. A heater that runs alike every
// day so gets a narrow range, one that follows the weather a wide one, and one
// that was moved goes by its new place within days. Idle days that are odd
// for a heater say nothing of its level: it may stand still. One that was never
// lit may be tomorrow, or in as long again as it has been watched. Stops come at the rate
// seen, one that goes on may last several times as long again, and most heaters
// are put away when the season ends. The ends are
// rounded to whole days so that each leaves out its tenth on average; a range
// is at least a day, which holds more than 80 % where days hardly differ.
//
// The figures are fitted to invented seasons. Tests hold the range to 80 ± 5
// of 100 on others of the same making, and to what each world bears on kinds
// of season that were made up apart (worlds_test.go). No range knows of a move
// or a stop before there was one: those are the misses.
//
// Book and Use are values; nothing here is shared or locked.
package service
