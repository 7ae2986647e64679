package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	dir := "."
	if len(os.Args) > 1 {
		dir = os.Args[1]
	}
	if err := write(dir); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// boards are all of them, in the order of the menu.
func boards() []board { return []board{fleet, heater, daemon} }

func write(dir string) error {
	for _, b := range boards() {
		body, err := b.file()
		if err != nil {
			return fmt.Errorf("cannot build dashboard %s: %w", b.uid, err)
		}
		if err := os.WriteFile(filepath.Join(dir, b.name), body, 0o644); err != nil {
			return fmt.Errorf("cannot write dashboard: %w", err)
		}
	}
	return nil
}

// file gives the board as Grafana's import takes it.
func (b board) file() ([]byte, error) {
	d, err := b.build()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	err = enc.Encode(d)
	return out.Bytes(), err
}
