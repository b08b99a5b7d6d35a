package record

import (
	"bytes"
	"fmt"
	"time"

	"latchproof/harness/feeder"
)

// ServiceFile is the name of the file of service latencies in a run folder. Only
// runs on a board that tells them have it.
const ServiceFile = "service.csv"

const serviceHeader = "index,latency_ns,late"

// ParseService reads service.csv; errors as ParseReads.
func ParseService(file string, src []byte) ([]feeder.Service, error) {
	t := newTable(file, src, serviceHeader)
	var out []feeder.Service
	for t.next() {
		s := feeder.Service{
			Index:   t.integer(0, 0, maxInt),
			Latency: time.Duration(t.integer(1, 0, int64(feeder.MaxServiceLatency))),
			Late:    t.integer(2, 0, 1) == 1,
		}
		if n := len(out); n > 0 && !t.bad && s.Index <= out[n-1].Index {
			t.fail(0, "index %d follows %d: out of order", s.Index, out[n-1].Index)
		}
		if !t.bad {
			out = append(out, s)
		}
	}
	return out, t.err()
}

// FormatService writes service.csv whole.
func FormatService(rows []feeder.Service) []byte {
	out := []byte(serviceHeader + "\n")
	for _, s := range rows {
		late := 0
		if s.Late {
			late = 1
		}
		out = fmt.Appendf(out, "%d,%d,%d\n", s.Index, s.Latency.Nanoseconds(), late)
	}
	return out
}

// SetService writes service.csv, if there is anything to write.
func (w *Writer) SetService(rows []feeder.Service) error {
	if len(rows) == 0 {
		return nil
	}
	return w.put(ServiceFile, FormatService(rows))
}

// Service reads service.csv; nil when the run has none. In an unsealed run a last
// row without its line end was cut off, and is left out.
func (r *Run) Service() ([]feeder.Service, error) {
	if !r.Has(ServiceFile) {
		return nil, nil
	}
	src, err := r.ReadFile(ServiceFile)
	if err != nil {
		return nil, err
	}
	if r.Meta.State != Sealed {
		if src = src[:bytes.LastIndexByte(src, '\n')+1]; len(src) == 0 {
			return nil, nil
		}
	}
	return ParseService(r.Path(ServiceFile), src)
}
