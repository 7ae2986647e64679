//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd)

package main

import "os"

// holdStore does nothing here: that one daemon alone opens a store is left to
// whoever starts it.
func holdStore(string) (*os.File, error) { return nil, nil }
