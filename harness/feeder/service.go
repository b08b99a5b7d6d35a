package feeder

import (
	"fmt"
	"time"
)

// MaxServiceLatency is the longest latency that SERVICE can tell; it stands for
// everything beyond it too.
const MaxServiceLatency = serviceMax * time.Microsecond / serviceUnits

const (
	serviceMax   = 0x7fff // the largest latency on the wire
	serviceLate  = 0x8000 // the bit that says late
	serviceUnits = 16     // parts of a microsecond that the wire counts in
)

// Service is how fast the board was at one latch pulse.
type Service struct {
	Index int64 // of the latch pulse, as in Latch
	// Latency is the time from the pulse's leading edge to the moment at which
	// the first bit was out, in steps of 1/16 us cut down to whole nanoseconds;
	// MaxServiceLatency stands for that and more.
	Latency time.Duration
	// Late: the pulse had ended before the first bit was out, so the console may
	// have taken what was on the line before.
	Late bool
}

// WireService is one record as SERVICE carries it.
type WireService struct {
	Sixteenths uint16 // of a microsecond, at most 32767, which stands for more too
	Late       bool
}

// ServiceOf brings a latency, not below zero, to the form that goes over the
// wire: cut down to 1/16 us.
func ServiceOf(latency time.Duration, late bool) WireService {
	return WireService{uint16(min(latency, MaxServiceLatency+1) * serviceUnits / time.Microsecond), late}
}

// Latency is the latency in nanoseconds, cut down.
func (w WireService) Latency() time.Duration {
	return time.Duration(w.Sixteenths) * time.Microsecond / serviceUnits
}

// ServiceLog carries service latencies of latch pulses with consecutive
// indexes. A board need not send any.
type ServiceLog struct {
	First   uint32 // index of the first record
	Records []WireService
}

// Type implements Message.
func (ServiceLog) Type() Type { return TypeService }

// Marshal implements Message.
func (m ServiceLog) Marshal(d []byte) []byte {
	d = append(le.AppendUint32(d, m.First), byte(len(m.Records)))
	for _, r := range m.Records {
		v := min(r.Sixteenths, serviceMax)
		if r.Late {
			v |= serviceLate
		}
		d = le.AppendUint16(d, v)
	}
	return d
}

// Unmarshal implements Message.
func (m *ServiceLog) Unmarshal(p []byte) error {
	if len(p) < 5 {
		return errLength
	}
	n := int(p[4])
	if err := need(p, 5+2*n); err != nil {
		return err
	}
	if n == 0 || n > MaxServiceRecords {
		return fmt.Errorf("%d service records in one frame; 1 to %d are allowed", n, MaxServiceRecords)
	}
	*m = ServiceLog{First: le.Uint32(p), Records: make([]WireService, n)}
	for i := range m.Records {
		v := le.Uint16(p[5+2*i:])
		m.Records[i] = WireService{v &^ serviceLate, v&serviceLate != 0}
	}
	return nil
}

// service takes service records. A gap in them takes no evidence of what was
// served, so it damages nothing.
func (r *run) service(m *ServiceLog) {
	for i, w := range m.Records {
		index := int64(m.First) + int64(i)
		if index < r.served {
			continue // here already
		}
		r.unserved(index)
		r.o.Service = append(r.o.Service, Service{Index: index, Latency: w.Latency(), Late: w.Late})
		r.served = index + 1
	}
}

// unserved notes the service records up to but without index as lost.
func (r *run) unserved(index int64) {
	if index <= r.served {
		return
	}
	g := LostRange{r.served, index - 1}
	r.o.ServiceLost = append(r.o.ServiceLost, g)
	text := fmt.Sprintf("the service latency of latch pulse %d", g.From)
	if g.From != g.To {
		text = fmt.Sprintf("the service latencies of latch pulses %d to %d", g.From, g.To)
	}
	r.problem("%s never arrived; the log itself lacks nothing by it", text)
	r.served = index
}

// endService closes the service records of a run with so many latch pulses. A
// board that sent none is one that does not.
func (r *run) endService(latches int64) {
	if len(r.o.Service) == 0 {
		return
	}
	r.unserved(latches)
	for n := len(r.o.Service); n > 0 && r.o.Service[n-1].Index >= latches; n-- {
		r.o.Service = r.o.Service[:n-1] // of pulses that the board does not count
	}
}
