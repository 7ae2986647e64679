package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// section is that of programs people start (man-pages(7)).
const section = "1"

// undated is what the pages would say of a day that is not known.
const undated = `"Jan 0001"`

// writeManual writes the pages of c and of every command below it that is not
// hidden into dir: the same program and day give the same bytes. The zero day
// leaves the date out.
func writeManual(c *cobra.Command, dir string, day time.Time) error {
	if err := os.MkdirAll(dir, 0o755); err != nil { // #nosec G301 G306 -- a manual is for everyone
		return fmt.Errorf("cannot make the folder of the manual: %w", err)
	}
	for _, one := range append(described(c), c) {
		page, err := manualPage(one, day)
		if err != nil {
			return fmt.Errorf("cannot write the manual of %s: %w", one.CommandPath(), err)
		}
		name := strings.ReplaceAll(one.CommandPath(), " ", "-") + "." + section
		if err := os.WriteFile(filepath.Join(dir, name), page, 0o644); err != nil { // #nosec G301 G306 -- a manual is for everyone
			return fmt.Errorf("cannot write the manual: %w", err)
		}
	}
	return nil
}

// described lists the commands below c that help speaks of.
func described(c *cobra.Command) []*cobra.Command {
	var all []*cobra.Command
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() && !sub.IsAdditionalHelpTopicCommand() {
			all = append(append(all, sub), described(sub)...)
		}
	}
	return all
}

func manualPage(c *cobra.Command, day time.Time) ([]byte, error) {
	var b bytes.Buffer
	c.DisableAutoGenTag = true // its line carries a date of its own
	err := doc.GenMan(c, &doc.GenManHeader{
		Section: section, Date: &day, Source: "heaterd " + version(), Manual: "heaterd",
	}, &b)
	return bytes.Replace(b.Bytes(), []byte(undated), []byte(`""`), 1), err
}
