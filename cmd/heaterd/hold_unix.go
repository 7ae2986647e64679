//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package main

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// holdStore keeps every other daemon off a store while the file that it gives
// is open; the system lets go of it however the process ends. Where there can
// be no such file it gives none: opening the store will say what is wrong.
func holdStore(path string) (*os.File, error) {
	f, err := os.OpenFile(path+".lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, nil
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, errors.Join(fmt.Errorf("another heaterd has the store %s open: stop that one, or give this one a store of its own", path), f.Close())
	}
	return f, nil
}
