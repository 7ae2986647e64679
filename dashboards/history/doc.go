// Package history copies the readings to an InfluxDB v2 server, for those who
// want them beside their other series.
//
//	log ─Lines─▶ records ─batches─▶ POST /api/v2/write
//	              cursor ◀── 204
//
// The log in the store is the truth and this is a copy of it. A cursor by line
// of the log says how far the copy has come; it moves when the server has
// taken the lines and is kept every few seconds. After a crash some lines are
// written twice, which changes nothing: the same series at the same time is
// one point. So nothing is lost however long the server is away, and memory
// does not grow meanwhile. Ingest never waits for any of it: the log is read
// through the store's readers, and the cursor is one small row.
//
// # What is written
//
// One measurement, reading, with the tags heater, node, site, space and a
// field for every quantity sent, each of one type for ever: co_ppm,
// temp_celsius, runtime_s, fuel_ratio, battery_ratio, battery_v are floats,
// flame, supply and call are booleans. Times are whole milliseconds of the
// node's clock. The tags are where the node was at that time, as far as people
// and the configuration had said when it is copied: a fitting that is written
// down later changes no record. What a broker had retained is not fresh and is
// passed over.
//
// The log gives its older lines up, to readings by node and hour, and waits a
// day for the copy at most. What is given up before it was copied is copied by
// the hour, from the first hour that the missing lines can hold readings of.
//
// # What the server says
//
//	204                      taken
//	0, 408, 429, 5xx         tried again for ever, later and later, no sooner than Retry-After
//	413                      tried again in smaller pieces
//	400, 422                 halved until the poisoned record is alone; that one is set aside with the reason
//	everything else          a fault of the set-up (token, bucket, address): Healthy tells it, and it is tried again slowly
//
// Redirects are not followed, and no other success than 204 counts: a portal's
// greeting page must not swallow readings.
package history
