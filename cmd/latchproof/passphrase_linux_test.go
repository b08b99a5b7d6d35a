package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// TestPassphraseUnseen types a passphrase on a terminal as a user would: after the
// prompt, once the terminal no longer echoes.
func TestPassphraseUnseen(t *testing.T) {
	tty, ended := onTerminal(t, "key", "new", filepath.Join(t.TempDir(), "k"))
	for _, prompt := range []string{"for the new key: ", "again: "} {
		tty.asks(t, prompt)
		tty.typed(t, "correct horse\n")
	}
	if err := ended(); err != nil {
		t.Fatalf("%v\n%s", err, tty.seen(t))
	}
	if text := tty.seen(t); strings.Contains(text, "horse") || !strings.Contains(text, "public key") {
		t.Errorf("the terminal shows %q", text)
	}
}

// TestPassphraseInterrupted asks that the terminal echoes again after ^C.
func TestPassphraseInterrupted(t *testing.T) {
	file := filepath.Join(t.TempDir(), "k")
	tty, ended := onTerminal(t, "key", "new", file)
	tty.asks(t, "for the new key: ")
	tty.typed(t, "half\x03")
	if err := ended(); err == nil || !strings.Contains(err.Error(), "exit status 3") {
		t.Errorf("ended with %v", err)
	}
	if !tty.echoes(t) {
		t.Error("the terminal was left without echo")
	}
	if _, err := os.Stat(file); err == nil {
		t.Error("there is a key")
	}
}

// terminal is a pseudo-terminal with a command on it.
type terminal struct {
	master, slave *os.File
	text          screenText
	done          chan struct{} // text is whole
}

// screenText is a text that grows.
type screenText struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *screenText) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *screenText) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// onTerminal runs a command line on a terminal of its own; ended waits for its end.
func onTerminal(t *testing.T, args ...string) (tty *terminal, ended func() error) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Skip("no pseudo-terminals: ", err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := &exec.Cmd{
		Path: self, Args: append([]string{"latchproof"}, args...), Env: os.Environ(),
		Stdin: slave, Stdout: slave, Stderr: slave,
		SysProcAttr: &unix.SysProcAttr{Setsid: true, Setctty: true},
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	tty = &terminal{master: master, slave: slave, done: make(chan struct{})}
	go func() {
		io.Copy(&tty.text, master) // ends with an error when the slave is closed
		close(tty.done)
	}()
	t.Cleanup(func() { cmd.Process.Kill(); slave.Close(); master.Close() })
	return tty, cmd.Wait
}

func (tty *terminal) echoes(t *testing.T) bool {
	t.Helper()
	s, err := unix.IoctlGetTermios(int(tty.slave.Fd()), unix.TCGETS)
	if err != nil {
		t.Fatal(err)
	}
	return s.Lflag&unix.ECHO != 0
}

// asks waits until the prompt is there and the terminal does not echo.
func (tty *terminal) asks(t *testing.T, prompt string) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !strings.Contains(tty.text.String(), prompt) || tty.echoes(t); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("no hidden question %q in %q", prompt, tty.text.String())
		}
	}
}

func (tty *terminal) typed(t *testing.T, text string) {
	t.Helper()
	if _, err := tty.master.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

// seen is all that the terminal showed; the command has ended.
func (tty *terminal) seen(t *testing.T) string {
	t.Helper()
	tty.slave.Close()
	<-tty.done
	return tty.text.String()
}
