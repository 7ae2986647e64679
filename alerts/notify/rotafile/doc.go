// Package rotafile fetches the calendar of a rota, from a file or by HTTP, and
// again from time to time. What cannot be fetched or read leaves the rota as it
// was.
package rotafile
