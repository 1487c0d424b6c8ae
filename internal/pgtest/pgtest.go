// Package pgtest starts a PostgreSQL server for a test, in a folder of its own and on
// a port that the system gives, and stops it by its process id.
package pgtest

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"syscall"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver
)

// A Server is a PostgreSQL server.
type Server struct {
	port    int
	command func(name string, args ...string) (*exec.Cmd, *bytes.Buffer)
	running *exec.Cmd
	ended   chan struct{}

	mu sync.Mutex
	n  int
}

// Start starts a server that ends with the test. Without PostgreSQL on the machine the
// test is skipped, but not in CI.
func Start(t testing.TB) *Server {
	t.Helper()
	bin := programs()
	if bin == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("PostgreSQL is not installed, and nothing may be skipped in CI")
		}
		t.Skip("PostgreSQL is not installed (Debian: apt-get install postgresql)")
	}
	// Not t.TempDir: the server will not run as root, and its user must reach the folder.
	folder, err := os.MkdirTemp("", "underlamp-pg")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	as, err := asUser(folder)
	if err != nil {
		t.Fatal(err)
	}
	command := func(name string, args ...string) (*exec.Cmd, *bytes.Buffer) {
		var out bytes.Buffer
		c := exec.Command(filepath.Join(bin, name), args...)
		c.Dir, c.SysProcAttr, c.Stdout, c.Stderr = folder, as, &out, &out
		c.Env = append(os.Environ(), "LC_ALL=C", "TZ=UTC")
		return c, &out
	}
	c, out := command("initdb", "-D", "data", "-U", "underlamp", "--auth=trust", "-E", "UTF8", "--no-sync")
	if err := c.Run(); err != nil {
		t.Fatalf("initdb: %v\n%s", err, out)
	}
	s := &Server{port: freePort(t), command: command}
	t.Cleanup(func() { s.stop(syscall.SIGINT) }) // ends its sessions and stops
	s.Resume(t)
	return s
}

// Crash stops the server at once, as a crash would: it does not write what it has in
// memory, and comes back by its log.
func (s *Server) Crash() { s.stop(syscall.SIGQUIT) }

func (s *Server) stop(how syscall.Signal) {
	if s.running == nil {
		return
	}
	s.running.Process.Signal(how)
	select {
	case <-s.ended:
	case <-time.After(10 * time.Second):
		s.running.Process.Kill()
		<-s.ended
	}
	s.running = nil
}

// Resume starts a server that was stopped, at the address it had.
func (s *Server) Resume(t testing.TB) {
	t.Helper()
	c, out := s.command("postgres", "-D", "data", "-p", strconv.Itoa(s.port), "-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories=.")
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	s.running, s.ended = c, make(chan struct{})
	go func() {
		c.Wait()
		close(s.ended)
	}()
	db, err := sql.Open("pgx", s.address("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for until := time.Now().Add(30 * time.Second); ; {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		err := db.PingContext(ctx)
		cancel()
		if err == nil {
			return
		}
		select {
		case <-s.ended:
			t.Fatalf("PostgreSQL ended at once:\n%s", out)
		case <-time.After(50 * time.Millisecond):
		}
		if time.Now().After(until) {
			t.Fatalf("PostgreSQL does not answer: %v", err)
		}
	}
}

// Database makes an empty database and returns its address.
func (s *Server) Database(t testing.TB) string {
	t.Helper()
	s.mu.Lock()
	s.n++
	name := fmt.Sprintf("test%d", s.n)
	s.mu.Unlock()
	db, err := sql.Open("pgx", s.address("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("create database " + name); err != nil {
		t.Fatal(err)
	}
	return s.address(name)
}

func (s *Server) address(database string) string {
	return fmt.Sprintf("postgres://underlamp@127.0.0.1:%d/%s?sslmode=disable", s.port, database)
}

// Installed says whether PostgreSQL is on the machine.
func Installed() bool { return programs() != "" }

// programs is the folder of the newest PostgreSQL, or empty.
func programs() string {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	best, most := "", 0
	for _, f := range found {
		if v, err := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(f)))); err == nil && v > most {
			best, most = filepath.Dir(f), v
		}
	}
	if best == "" {
		if p, err := exec.LookPath("initdb"); err == nil {
			best = filepath.Dir(p)
		}
	}
	return best
}

func freePort(t testing.TB) int {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}
