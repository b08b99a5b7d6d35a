package feeder

import "fmt"

// AppendFrame appends a whole message to dst as it goes over the wire: type,
// sequence number, payload and CRC-16 (little endian), COBS-stuffed, and the
// delimiting zero. The body must not be longer than MaxBody bytes, which holds
// for every message with no more than MaxLoadRuns runs, MaxLogRecords
// log records or MaxServiceRecords service records.
func AppendFrame(dst []byte, seq uint8, m Message) []byte {
	var room [MaxBody + 2]byte
	body := m.Marshal(append(room[:0], byte(m.Type()), seq))
	if len(body) > MaxBody {
		panic(fmt.Sprintf("feeder: a %v message of %d bytes; the limit is %d", m.Type(), len(body), MaxBody))
	}
	body = le.AppendUint16(body, CRC16(body))
	return append(AppendCOBS(dst, body), 0)
}

// Packet is one frame taken off the wire, its CRC checked.
type Packet struct {
	Type    Type
	Seq     uint8
	Payload []byte
}

// Message parses the payload. Unknown types and payloads that do not fit the
// type are errors.
func (p Packet) Message() (Message, error) {
	var m Message
	switch p.Type {
	case TypeHello:
		m = new(Hello)
	case TypeArm:
		m = new(Arm)
	case TypeLoad:
		m = new(Load)
	case TypeStart:
		m = new(Start)
	case TypeAbort:
		m = new(Abort)
	case TypeSync:
		m = new(SyncAsk)
	case TypeIdentity:
		m = new(IdentityMsg)
	case TypeAck:
		m = new(Ack)
	case TypeSynced:
		m = new(Synced)
	case TypeCredit:
		m = new(Credit)
	case TypeLatch:
		m = new(LatchLog)
	case TypeUnderrun:
		m = new(Underrun)
	case TypeFault:
		m = new(Fault)
	case TypeDone:
		m = new(Done)
	case TypeService:
		m = new(ServiceLog)
	default:
		return nil, fmt.Errorf("unknown message %v", p.Type)
	}
	if err := m.Unmarshal(p.Payload); err != nil {
		return nil, fmt.Errorf("%v message: %w", p.Type, err)
	}
	return m, nil
}
