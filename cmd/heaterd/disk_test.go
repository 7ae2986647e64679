//go:build linux

package main

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"heaterd/ingest/mqtt/mqtttest"
)

// disk is a file system of its own that can be filled.
type disk struct {
	t   *testing.T
	dir string
}

// newDisk needs the right to mount, which not everyone who runs tests has.
func newDisk(t *testing.T, size string) *disk {
	t.Helper()
	d := &disk{t, t.TempDir()}
	if err := syscall.Mount("tmpfs", d.dir, "tmpfs", 0, "size="+size); errors.Is(err, syscall.EPERM) {
		t.Skip("this user may not mount a file system that can be filled")
	} else if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(d.dir, syscall.MNT_DETACH) })
	return d
}

// remount changes the file system while it is in use.
func (d *disk) remount(flags uintptr, options string) {
	d.t.Helper()
	if err := syscall.Mount("tmpfs", d.dir, "tmpfs", flags|syscall.MS_REMOUNT, options); err != nil {
		d.t.Fatal(err)
	}
}

const roomEnough = "size=512m"

// diskGround has its store on a disk of that size.
func diskGround(t *testing.T, size string) (*ground, *disk) {
	t.Helper()
	d := newDisk(t, size)
	g := &ground{t: t, mosquitto: mqtttest.StartMosquitto(t)}
	g.configure(d.dir, g.mosquitto.URL(), 4, 12)
	return g, d
}

// The disk fills while messages pour in, and is given room again. Nothing
// that the broker took is lost, and what is believed is the same.
func TestDiskFull(t *testing.T) {
	for _, size := range []string{"1m", "1500k", "2m"} { // it fills at another statement
		t.Run(size, func(t *testing.T) {
			t.Parallel()
			g, d := diskGround(t, size)
			p := g.start()
			p.connected(1)
			wait := g.publish()
			g.allowed.Store(int64(len(g.messages)))
			p.says("cannot keep readings", 1)
			p.ready("store", false)
			d.remount(0, roomEnough)
			p.ready("store", true)
			wait()
			g.check(g.drained(p))
		})
	}
}

// A disk that is full does not keep the daemon from stopping, nor one that
// has room again from going on.
func TestStoppedWhileTheDiskIsFull(t *testing.T) {
	t.Parallel()
	g, d := diskGround(t, "1500k")
	p := g.start()
	p.connected(1)
	wait := g.publish()
	g.allowed.Store(int64(len(g.messages)))
	p.says("cannot keep readings", 1)
	begun := time.Now()
	_ = p.cmd.Process.Signal(syscall.SIGTERM)
	<-p.ended // with an error: its memory could not be kept
	if took := time.Since(begun); took > stopLimit {
		t.Errorf("stopping took %v", took)
	}
	d.remount(0, roomEnough)
	p = g.start()
	p.connected(1)
	wait()
	g.check(g.drained(p))
}

// A store that can only be read is refused at the start, with what to do.
func TestDiskReadOnly(t *testing.T) {
	g, d := diskGround(t, roomEnough[len("size="):])
	d.remount(syscall.MS_RDONLY, roomEnough)
	out, err := exec.Command(asShipped.path(t), "run", "--config", g.config).CombinedOutput()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != 1 {
		t.Errorf("it ended with %v", err)
	}
	for _, want := range []string{"heaterd.db", "read-only file system", "may write there"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("it does not say %q:\n%s", want, out)
		}
	}
	if _, err := os.Stat(g.cfg.Store.Path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a store is there: %v", err)
	}
}

// Another program holds the store for longer than is waited for it.
func TestStoreLocked(t *testing.T) {
	t.Parallel()
	g := newGround(t, 4, 12)
	p := g.start()
	p.connected(1)
	wait := g.publish()
	g.let(1, 4, p)
	free := g.hold()
	g.allowed.Store(int64(len(g.messages)))
	p.says("cannot keep readings", 1)
	p.ready("store", false)
	free()
	p.ready("store", true)
	wait()
	g.check(g.drained(p))
}

// hold takes the store for itself.
func (g *ground) hold() (free func()) {
	g.t.Helper()
	db, err := sql.Open("sqlite", "file:"+g.cfg.Store.Path+"?_busy_timeout=60000")
	if err != nil {
		g.t.Fatal(err)
	}
	conn, err := db.Conn(context.Background())
	if err != nil {
		g.t.Fatal(err)
	}
	if _, err := conn.ExecContext(context.Background(), "BEGIN IMMEDIATE"); err != nil {
		g.t.Fatal(err)
	}
	return func() {
		if _, err := conn.ExecContext(context.Background(), "ROLLBACK"); err != nil {
			g.t.Error(err)
		}
		_ = conn.Close()
		_ = db.Close()
	}
}
