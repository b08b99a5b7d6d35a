package feeder

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// Version is the protocol version that this package speaks.
const Version = 1

// Limits of the wire format; PROTOCOL.md gives them to the firmware's author.
const (
	MaxBody           = 240    // bytes of a frame before CRC and stuffing: type, sequence, payload
	MaxWire           = 244    // bytes of a frame on the wire with its delimiter: body, CRC, COBS overhead of 1, zero
	MaxLoadRuns       = 32     // runs in one LOAD
	MaxLogRecords     = 20     // records in one LATCH
	MaxServiceRecords = 100    // records in one SERVICE
	MaxName           = 32     // bytes of each name in IDENTITY
	MaxText           = 64     // bytes of the text in FAULT
	MaxRunCount       = 0xffff // reads in one run on the wire
	Baud              = 115200 // line speed, 8 data bits, no parity, 1 stop bit
)

// Type is the first byte of every message: below 0x80 from the host, from
// 0x80 on from the board.
type Type uint8

// The message types.
const (
	TypeHello Type = 0x01
	TypeArm   Type = 0x02
	TypeLoad  Type = 0x03
	TypeStart Type = 0x04
	TypeAbort Type = 0x05
	TypeSync  Type = 0x06

	TypeIdentity Type = 0x81
	TypeAck      Type = 0x82
	TypeSynced   Type = 0x83
	TypeCredit   Type = 0x84
	TypeLatch    Type = 0x85
	TypeUnderrun Type = 0x86
	TypeFault    Type = 0x87
	TypeDone     Type = 0x88
	TypeService  Type = 0x89 // optional
)

var typeNames = map[Type]string{
	TypeHello: "HELLO", TypeArm: "ARM", TypeLoad: "LOAD", TypeStart: "START", TypeAbort: "ABORT", TypeSync: "SYNC",
	TypeIdentity: "IDENTITY", TypeAck: "ACK", TypeSynced: "SYNCED", TypeCredit: "CREDIT", TypeLatch: "LATCH",
	TypeUnderrun: "UNDERRUN", TypeFault: "FAULT", TypeDone: "DONE", TypeService: "SERVICE",
}

// String is the name that PROTOCOL.md uses.
func (t Type) String() string {
	if s, ok := typeNames[t]; ok {
		return s
	}
	return fmt.Sprintf("type 0x%02x", uint8(t))
}

// Status is the board's answer to a command.
type Status uint8

// The statuses of an ACK.
const (
	StatusOK      Status = 0 // accepted
	StatusUnknown Status = 1 // no such command
	StatusLength  Status = 2 // the payload has the wrong length
	StatusOrder   Status = 3 // not the next sequence number, or not the next run
	StatusState   Status = 4 // not allowed in the board's present state
	StatusValue   Status = 5 // a value is out of range
	StatusFull    Status = 6 // runs beyond the credit
)

var statusNames = [...]string{
	"accepted", "unknown command", "wrong payload length", "out of order", "not allowed in this state",
	"value out of range", "beyond the credit",
}

// String says it in words.
func (s Status) String() string {
	if int(s) < len(statusNames) {
		return statusNames[s]
	}
	return fmt.Sprintf("status %d", uint8(s))
}

// BoardState is what the board is doing after a command.
type BoardState uint8

// The states of a board.
const (
	StateIdle    BoardState = 0 // no program
	StateArmed   BoardState = 1 // a program is being loaded, the console not yet started
	StateRunning BoardState = 2 // serving and logging reads
	StateDone    BoardState = 3 // the run ended; DONE is repeated
)

// FaultCode is what is wrong with the board.
type FaultCode uint8

// The fault codes.
const (
	FaultReset    FaultCode = 1 // the reset line does not follow
	FaultPower    FaultCode = 2 // the console's power is not seen
	FaultLog      FaultCode = 3 // log records were dropped for want of memory
	FaultInternal FaultCode = 4 // anything else; see the text
)

// Message is one message of the protocol, in either direction.
type Message interface {
	// Type is the message's first byte.
	Type() Type
	// Marshal appends the payload, without type, sequence and CRC, to dst.
	Marshal(dst []byte) []byte
	// Unmarshal takes the fields from a payload. It reports a payload of the
	// wrong length and values that no sender may use.
	Unmarshal(p []byte) error
}

// WireRun is one run as LOAD carries it.
type WireRun struct {
	Count  uint16 // reads, at least 1
	P1, P2 uint16 // buttons held; bit i is button i
}

// WireLatch is one log record as LATCH carries it.
type WireLatch struct {
	Micros          uint32
	Clocks, Clocks2 uint8
	P1, P2          uint16
}

// The messages from the host.
type (
	// Hello opens a session. Its first byte never changes meaning.
	Hello struct {
		Proto   uint8
		Session uint32 // differs from the session before
	}
	// Arm announces a program and clears the buffer.
	Arm struct {
		Runs        uint32 // runs in the whole program
		Reads       uint32 // the sum of their counts
		Tail        uint32 // reads logged after them
		BurstMicros uint32
		LimitMillis uint32
		LatchHigh   bool
	}
	// Load carries the next runs of the program.
	Load struct {
		Offset uint32 // number of the first run
		Runs   []WireRun
	}
	// Start starts the console and the run.
	Start struct {
		Kind       StartKind
		HoldMillis uint16
	}
	// Abort ends the run.
	Abort struct{}
	// SyncAsk asks for the board's clock. It is filled up so that on the line,
	// with the zero before it, it takes as long as the answer: a difference
	// between the two directions would shift the board's clock against the
	// host's by half of it.
	SyncAsk struct{ Token uint32 }
)

// The messages from the board.
type (
	// IdentityMsg answers Hello. Its first byte never changes meaning.
	IdentityMsg struct {
		Proto                   uint8
		Ports                   uint8
		Capacity                uint16
		Serial, Board, Firmware string
	}
	// Ack answers every other command but SyncAsk.
	Ack struct {
		Status Status
		State  BoardState
		Credit uint32 // the host may send runs with numbers below this
	}
	// Synced answers SyncAsk.
	Synced struct{ Token, Micros uint32 }
	// Credit tells how far the host may load; also the sign of life in a run.
	Credit struct{ Credit uint32 }
	// LatchLog carries log records with consecutive indexes.
	LatchLog struct {
		First   uint32 // index of the first record
		Records []WireLatch
	}
	// Underrun reports that the board had no program data.
	Underrun struct {
		Latch uint32 // index of the latch pulse
		Read  uint32 // the board's read
	}
	// Fault reports trouble in the board.
	Fault struct {
		Code FaultCode
		Text string
	}
	// Done reports the end of a run.
	Done struct {
		Reason    DoneReason
		Reads     uint32
		Latches   uint32
		Underruns uint16 // UNDERRUN messages sent, 65535 meaning that or more
		Faults    uint16 // FAULT messages sent, likewise
	}
)

var errLength = errors.New("wrong payload length")

func need(p []byte, n int) error {
	if len(p) != n {
		return errLength
	}
	return nil
}

func bool8(b bool) byte {
	if b {
		return 1
	}
	return 0
}

var le = binary.LittleEndian

// Type implements Message.
func (Hello) Type() Type { return TypeHello }

// Marshal implements Message.
func (m Hello) Marshal(d []byte) []byte { return le.AppendUint32(append(d, m.Proto), m.Session) }

// Unmarshal implements Message. Of another version only Proto is read.
func (m *Hello) Unmarshal(p []byte) error {
	if len(p) < 1 {
		return errLength
	}
	*m = Hello{Proto: p[0]}
	if m.Proto != Version {
		return nil
	}
	if err := need(p, 5); err != nil {
		return err
	}
	m.Session = le.Uint32(p[1:])
	return nil
}

// Type implements Message.
func (Arm) Type() Type { return TypeArm }

// Marshal implements Message.
func (m Arm) Marshal(d []byte) []byte {
	for _, v := range [...]uint32{m.Runs, m.Reads, m.Tail, m.BurstMicros, m.LimitMillis} {
		d = le.AppendUint32(d, v)
	}
	return append(d, bool8(m.LatchHigh))
}

// Unmarshal implements Message.
func (m *Arm) Unmarshal(p []byte) error {
	if err := need(p, 21); err != nil {
		return err
	}
	if p[20] > 1 {
		return errors.New("latch polarity is neither 0 nor 1")
	}
	*m = Arm{le.Uint32(p), le.Uint32(p[4:]), le.Uint32(p[8:]), le.Uint32(p[12:]), le.Uint32(p[16:]), p[20] == 1}
	return nil
}

// Type implements Message.
func (Load) Type() Type { return TypeLoad }

// Marshal implements Message.
func (m Load) Marshal(d []byte) []byte {
	d = append(le.AppendUint32(d, m.Offset), byte(len(m.Runs)))
	for _, r := range m.Runs {
		d = le.AppendUint16(le.AppendUint16(le.AppendUint16(d, r.Count), r.P1), r.P2)
	}
	return d
}

// Unmarshal implements Message.
func (m *Load) Unmarshal(p []byte) error {
	if len(p) < 5 {
		return errLength
	}
	n := int(p[4])
	if err := need(p, 5+6*n); err != nil {
		return err
	}
	if n == 0 || n > MaxLoadRuns {
		return fmt.Errorf("%d runs in one chunk; 1 to %d are allowed", n, MaxLoadRuns)
	}
	*m = Load{Offset: le.Uint32(p), Runs: make([]WireRun, n)}
	for i := range m.Runs {
		q := p[5+6*i:]
		m.Runs[i] = WireRun{le.Uint16(q), le.Uint16(q[2:]), le.Uint16(q[4:])}
		if m.Runs[i].Count == 0 {
			return errors.New("a run of no reads")
		}
	}
	return nil
}

// Type implements Message.
func (Start) Type() Type { return TypeStart }

// Marshal implements Message.
func (m Start) Marshal(d []byte) []byte {
	return le.AppendUint16(append(d, byte(m.Kind)), m.HoldMillis)
}

// Unmarshal implements Message.
func (m *Start) Unmarshal(p []byte) error {
	if err := need(p, 3); err != nil {
		return err
	}
	if StartKind(p[0]) > StartPower {
		return errors.New("unknown kind of start")
	}
	*m = Start{StartKind(p[0]), le.Uint16(p[1:])}
	return nil
}

// Type implements Message.
func (Abort) Type() Type { return TypeAbort }

// Marshal implements Message.
func (Abort) Marshal(d []byte) []byte { return d }

// Unmarshal implements Message.
func (*Abort) Unmarshal(p []byte) error { return need(p, 0) }

// Type implements Message.
func (SyncAsk) Type() Type { return TypeSync }

// Marshal implements Message.
func (m SyncAsk) Marshal(d []byte) []byte { return append(le.AppendUint32(d, m.Token), 0, 0, 0) }

// Unmarshal implements Message.
func (m *SyncAsk) Unmarshal(p []byte) error {
	if err := need(p, 7); err != nil {
		return err
	}
	m.Token = le.Uint32(p)
	return nil
}

// Type implements Message.
func (IdentityMsg) Type() Type { return TypeIdentity }

// Marshal implements Message. Names longer than MaxName bytes are cut.
func (m IdentityMsg) Marshal(d []byte) []byte {
	d = le.AppendUint16(append(d, m.Proto, m.Ports), m.Capacity)
	for _, s := range [...]string{m.Serial, m.Board, m.Firmware} {
		s = s[:min(len(s), MaxName)]
		d = append(append(d, byte(len(s))), s...)
	}
	return d
}

// Unmarshal implements Message. Of another version only Proto is read.
func (m *IdentityMsg) Unmarshal(p []byte) error {
	if len(p) < 1 {
		return errLength
	}
	*m = IdentityMsg{Proto: p[0]}
	if m.Proto != Version {
		return nil
	}
	if len(p) < 4 {
		return errLength
	}
	m.Ports, m.Capacity = p[1], le.Uint16(p[2:])
	if m.Ports < 1 || m.Ports > 2 {
		return fmt.Errorf("%d ports; 1 or 2 are allowed", m.Ports)
	}
	if m.Capacity == 0 {
		return errors.New("a buffer of no runs")
	}
	p = p[4:]
	for _, s := range [...]*string{&m.Serial, &m.Board, &m.Firmware} {
		if len(p) < 1 || len(p) < 1+int(p[0]) || p[0] > MaxName {
			return errLength
		}
		*s = string(p[1 : 1+p[0]])
		p = p[1+p[0]:]
	}
	return need(p, 0)
}

// Type implements Message.
func (Ack) Type() Type { return TypeAck }

// Marshal implements Message.
func (m Ack) Marshal(d []byte) []byte {
	return le.AppendUint32(append(d, byte(m.Status), byte(m.State)), m.Credit)
}

// Unmarshal implements Message.
func (m *Ack) Unmarshal(p []byte) error {
	if err := need(p, 6); err != nil {
		return err
	}
	if BoardState(p[1]) > StateDone {
		return errors.New("unknown board state")
	}
	*m = Ack{Status(p[0]), BoardState(p[1]), le.Uint32(p[2:])}
	return nil
}

// Type implements Message.
func (Synced) Type() Type { return TypeSynced }

// Marshal implements Message.
func (m Synced) Marshal(d []byte) []byte {
	return le.AppendUint32(le.AppendUint32(d, m.Token), m.Micros)
}

// Unmarshal implements Message.
func (m *Synced) Unmarshal(p []byte) error {
	if err := need(p, 8); err != nil {
		return err
	}
	*m = Synced{le.Uint32(p), le.Uint32(p[4:])}
	return nil
}

// Type implements Message.
func (Credit) Type() Type { return TypeCredit }

// Marshal implements Message.
func (m Credit) Marshal(d []byte) []byte { return le.AppendUint32(d, m.Credit) }

// Unmarshal implements Message.
func (m *Credit) Unmarshal(p []byte) error {
	if err := need(p, 4); err != nil {
		return err
	}
	m.Credit = le.Uint32(p)
	return nil
}

// Type implements Message.
func (LatchLog) Type() Type { return TypeLatch }

// Marshal implements Message.
func (m LatchLog) Marshal(d []byte) []byte {
	d = append(le.AppendUint32(d, m.First), byte(len(m.Records)))
	for _, r := range m.Records {
		d = append(le.AppendUint32(d, r.Micros), r.Clocks, r.Clocks2)
		d = le.AppendUint16(le.AppendUint16(d, r.P1), r.P2)
	}
	return d
}

// Unmarshal implements Message. The slice of records is used again when it is
// long enough.
func (m *LatchLog) Unmarshal(p []byte) error {
	if len(p) < 5 {
		return errLength
	}
	n := int(p[4])
	if err := need(p, 5+10*n); err != nil {
		return err
	}
	if n == 0 || n > MaxLogRecords {
		return fmt.Errorf("%d records in one frame; 1 to %d are allowed", n, MaxLogRecords)
	}
	m.First = le.Uint32(p)
	m.Records = m.Records[:0]
	for q := p[5:]; len(q) > 0; q = q[10:] {
		m.Records = append(m.Records, WireLatch{le.Uint32(q), q[4], q[5], le.Uint16(q[6:]), le.Uint16(q[8:])})
	}
	return nil
}

// Type implements Message.
func (Underrun) Type() Type { return TypeUnderrun }

// Marshal implements Message.
func (m Underrun) Marshal(d []byte) []byte {
	return le.AppendUint32(le.AppendUint32(d, m.Latch), m.Read)
}

// Unmarshal implements Message.
func (m *Underrun) Unmarshal(p []byte) error {
	if err := need(p, 8); err != nil {
		return err
	}
	*m = Underrun{le.Uint32(p), le.Uint32(p[4:])}
	return nil
}

// Type implements Message.
func (Fault) Type() Type { return TypeFault }

// Marshal implements Message. A text longer than MaxText bytes is cut.
func (m Fault) Marshal(d []byte) []byte {
	s := m.Text[:min(len(m.Text), MaxText)]
	return append(append(d, byte(m.Code), byte(len(s))), s...)
}

// Unmarshal implements Message.
func (m *Fault) Unmarshal(p []byte) error {
	if len(p) < 2 || p[1] > MaxText {
		return errLength
	}
	if err := need(p, 2+int(p[1])); err != nil {
		return err
	}
	*m = Fault{FaultCode(p[0]), string(p[2:])}
	return nil
}

// Type implements Message.
func (Done) Type() Type { return TypeDone }

// Marshal implements Message.
func (m Done) Marshal(d []byte) []byte {
	d = le.AppendUint32(le.AppendUint32(append(d, byte(m.Reason)), m.Reads), m.Latches)
	return le.AppendUint16(le.AppendUint16(d, m.Underruns), m.Faults)
}

// Unmarshal implements Message.
func (m *Done) Unmarshal(p []byte) error {
	if err := need(p, 13); err != nil {
		return err
	}
	if r := DoneReason(p[0]); r == DoneNone || r > DoneFault {
		return errors.New("unknown reason")
	}
	*m = Done{DoneReason(p[0]), le.Uint32(p[1:]), le.Uint32(p[5:]), le.Uint16(p[9:]), le.Uint16(p[11:])}
	return nil
}

// StatusOf is the status with which a board refuses a payload that Unmarshal
// reported as err.
func StatusOf(err error) Status {
	switch {
	case err == nil:
		return StatusOK
	case errors.Is(err, errLength):
		return StatusLength
	}
	return StatusValue
}
