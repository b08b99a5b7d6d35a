package feeder

import (
	"fmt"
	"strings"
)

// run is what the client knows of the run that is on.
type run struct {
	clock   *unwrapper
	onLatch func(Latch)
	open    bool  // START was sent: what comes belongs to this run
	ended   bool  // the board said that it is over
	credit  int64 // runs with numbers below this may be sent
	next    int64 // index of the next log record
	got     int64 // log records received
	served  int64 // index of the next service record
	faults  int64
	done    *Done
	o       Outcome
}

func (r *run) problem(format string, args ...any) {
	r.o.Problems = append(r.o.Problems, fmt.Sprintf(format, args...))
}

// event takes one message from the board.
func (r *run) event(m Message) {
	if c, ok := m.(*Credit); ok {
		r.credit = max(r.credit, int64(c.Credit))
	}
	if !r.open || r.done != nil {
		return
	}
	switch m := m.(type) {
	case *LatchLog:
		r.latches(m)
	case *ServiceLog:
		r.service(m)
	case *Underrun:
		r.o.Underruns = append(r.o.Underruns, int64(m.Latch))
		r.problem("underrun at latch pulse %d (read %d): the board had no program data and served released buttons", m.Latch, m.Read)
	case *Fault:
		r.faults++
		r.problem("the board reports fault %d: %s", m.Code, m.Text)
	case *Done:
		r.finish(m)
	}
}

func (r *run) latches(m *LatchLog) {
	for i, w := range m.Records {
		index := int64(m.First) + int64(i)
		if index < r.next {
			continue // here already
		}
		r.lost(index)
		r.next++
		r.got++
		l := Latch{Index: index, Micros: r.clock.next(w.Micros), Clocks: w.Clocks, Clocks2: w.Clocks2, P1: w.P1, P2: w.P2}
		if r.onLatch != nil {
			r.onLatch(l)
		}
	}
}

// lost notes the records up to but without index as lost.
func (r *run) lost(index int64) {
	if index <= r.next {
		return
	}
	g := LostRange{r.next, index - 1}
	r.o.Lost = append(r.o.Lost, g)
	r.o.Damaged = true
	r.problem("%s never arrived", g)
	r.next = index
}

// String says it in words: "log records 3 to 5 (3)".
func (g LostRange) String() string {
	if g.From == g.To {
		return fmt.Sprintf("log record %d", g.From)
	}
	return fmt.Sprintf("log records %d to %d (%d)", g.From, g.To, g.To-g.From+1)
}

func (r *run) finish(d *Done) {
	r.done, r.ended = d, true
	r.lost(int64(d.Latches))
	if r.next > int64(d.Latches) {
		r.o.Damaged = true
		r.problem("%d log records arrived but the board counts only %d", r.next, d.Latches)
	}
	missing := func(what string, said uint16, got int64) {
		if want := int64(said); want != min(got, 0xffff) {
			r.o.Damaged = true
			r.problem("the board sent %d %s reports and %d arrived", want, what, got)
		}
	}
	missing("underrun", d.Underruns, int64(len(r.o.Underruns)))
	missing("fault", d.Faults, r.faults)
	r.endService(int64(d.Latches))
}

// verdict is the error that a run which came to its end deserves.
func (r *run) verdict() error {
	text := strings.Join(r.o.Problems, "; ")
	switch {
	case r.done.Reason == DoneFault:
		e := &linkError{kind: ErrFault, text: "the board gave up: " + text}
		if r.o.Damaged {
			e.cause = ErrDamaged
		}
		return e
	case r.o.Damaged:
		return &linkError{kind: ErrDamaged, text: "the log is damaged, the rest of it is kept: " + text}
	}
	return nil
}

// out is the outcome so far.
func (r *run) out() Outcome {
	o := r.o
	o.Latches = r.got
	if r.done != nil {
		o.Reason, o.Reads, o.Latches = r.done.Reason, int64(r.done.Reads), int64(r.done.Latches)
	}
	return o
}
