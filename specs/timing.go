package specs

// Timing asks how long it takes from one event to another.
type Timing struct{ From, To Event }

// Event is when something happens in a run: at a moment, or when a check's
// answer changes.
type Event struct {
	// Key is "at", or the event key of the kind that made Check.
	Key   string
	At    Moment // with the key "at"
	Check any
	Line  int

	pos Pos
}

// Moments are the moments that the timing names, with their places.
func (t *Timing) moments() (all []placed) {
	if t == nil {
		return nil
	}
	for _, e := range []Event{t.From, t.To} {
		if e.Key == "at" {
			all = append(all, placed{e.At, e.pos})
		}
	}
	return all
}

type placed struct {
	Moment
	pos Pos
}

// eventers are the kinds by which a timing can begin or end.
func (r Registry) eventers() (all []Eventer) {
	for _, k := range r {
		if e, ok := k.(Eventer); ok {
			all = append(all, e)
		}
	}
	return all
}

// timingMapping is the value of `timing`.
func timingMapping(kinds Registry) Mapping[Timing] {
	event := eventMapping(kinds.eventers())
	return Mapping[Timing]{
		Fields: []Field[Timing]{
			Key("from", event, "The event that begins the time.", func(t *Timing, x Event, _ Pos) { t.From = x }).Need(),
			Key("to", event, "The event that ends it: the first one at or after `from`.", func(t *Timing, x Event, _ Pos) { t.To = x }).Need(),
		},
	}
}

func eventMapping(kinds []Eventer) Mapping[Event] {
	fields := []Field[Event]{
		Key("at", momentShape{}, "A frame, or a mark of the program with reads from it.",
			func(e *Event, x Moment, at Pos) { e.Key, e.At, e.pos = "at", x, at }),
	}
	one := []any{map[string]any{"required": []string{"at"}}}
	names := []string{"at"}
	for _, k := range kinds {
		names = append(names, k.EventKey())
		one = append(one, map[string]any{"required": []string{k.EventKey()}})
		fields = append(fields, Field[Event]{Name: k.EventKey(), shape: kindShape{k.EventSchema()}, read: func(e *Event, v *Value) {
			if check := k.DecodeEvent(v); check != nil {
				e.Key, e.Check, e.pos = k.EventKey(), check, v.Pos()
			}
		}})
	}
	return Mapping[Event]{
		Start:  func(at Pos) Event { return Event{Line: at.Line, pos: at} },
		Fields: fields,
		Finish: func(_ *Event, v *Value, have func(string) (*Value, bool)) {
			found := ""
			for _, n := range names {
				if c, ok := have(n); ok && found != "" {
					c.Fail("a second event beside %s; one is allowed", found)
				} else if ok {
					found = n
				}
			}
			if found == "" {
				v.Fail("no event; want one of %s", list(names))
			}
		},
		Extra: map[string]any{"oneOf": one},
	}
}
