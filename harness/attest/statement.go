package attest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	intoto "github.com/in-toto/attestation/go/v1"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/structpb"

	"latchproof/harness/bundle"
)

// Subject is a file that a certificate is about.
type Subject struct {
	Name   string // in the bundle; bundle.CheckName says what it may be
	SHA256 string // of its contents, 64 lower-case hexadecimal digits
}

const algorithm = string(intoto.AlgorithmSHA256)

// MaxSubjects is how many subjects a certificate may have.
const MaxSubjects = 20_000

// encode gives the only text that a statement has: the in-toto Statement v1 as the
// library for it writes it, which spaces it at random on purpose, brought to the
// form of RFC 8785.
func encode(subjects []Subject, p Predicate) ([]byte, error) {
	if err := errors.Join(checkSubjects(subjects), p.check()); err != nil {
		return nil, err
	}
	var text bytes.Buffer
	if err := json.NewEncoder(&text).Encode(p); err != nil {
		return nil, err
	}
	// Numbers that a double cannot hold are found here, before structpb rounds them.
	object, err := canonical(text.Bytes())
	if err != nil {
		return nil, err
	}
	s := &intoto.Statement{Type: intoto.StatementTypeUri, PredicateType: PredicateType, Predicate: &structpb.Struct{}}
	if err := protojson.Unmarshal(object, s.Predicate); err != nil {
		return nil, err
	}
	for _, x := range subjects {
		s.Subject = append(s.Subject, &intoto.ResourceDescriptor{Name: x.Name, Digest: map[string]string{algorithm: x.SHA256}})
	}
	if err := s.Validate(); err != nil {
		return nil, err
	}
	src, err := protojson.Marshal(s)
	if err != nil {
		return nil, err
	}
	return canonical(src)
}

// decode reads what encode gives, and nothing else.
func decode(src []byte) ([]Subject, Predicate, error) {
	var s intoto.Statement
	if err := protojson.Unmarshal(src, &s); err != nil {
		return nil, Predicate{}, err
	}
	if err := s.Validate(); err != nil {
		return nil, Predicate{}, err
	}
	// Validate lets older statements pass.
	if s.GetType() != intoto.StatementTypeUri || s.GetPredicateType() != PredicateType {
		return nil, Predicate{}, fmt.Errorf("a statement of type %q with a predicate of type %q", s.GetType(), s.GetPredicateType())
	}
	var subjects []Subject
	for _, x := range s.GetSubject() {
		subjects = append(subjects, Subject{Name: x.GetName(), SHA256: x.GetDigest()[algorithm]})
	}
	p, err := decodePredicate(s.GetPredicate())
	if err != nil {
		return nil, Predicate{}, err
	}
	again, err := encode(subjects, p)
	if err != nil {
		return nil, Predicate{}, err
	}
	if !bytes.Equal(again, src) {
		return nil, Predicate{}, fmt.Errorf("the statement is not in the one form that it has: it differs at byte %d", differ(again, src))
	}
	return subjects, p, nil
}

func decodePredicate(s *structpb.Struct) (p Predicate, err error) {
	text, err := protojson.Marshal(s)
	if err != nil {
		return p, err
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		return p, fmt.Errorf("predicate: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return p, errors.New("predicate: more than one value")
	}
	return p, nil
}

// checkSubjects wants them sorted, each name once.
func checkSubjects(subjects []Subject) error {
	if len(subjects) > MaxSubjects {
		return fmt.Errorf("%d subjects, at most %d", len(subjects), MaxSubjects)
	}
	for i, x := range subjects {
		if err := bundle.CheckName(x.Name); err != nil {
			return fmt.Errorf("subject: %w", err)
		}
		if !isHash(x.SHA256) {
			return fmt.Errorf("subject %s: %q is not a SHA-256", x.Name, x.SHA256)
		}
		if i > 0 && subjects[i-1].Name >= x.Name {
			return fmt.Errorf("subject %q comes after %q", x.Name, subjects[i-1].Name)
		}
	}
	return nil
}

func sorted(subjects []Subject) []Subject {
	return slices.SortedFunc(slices.Values(subjects), func(a, b Subject) int { return strings.Compare(a.Name, b.Name) })
}

// differ is the first place at which two texts differ.
func differ(a, b []byte) int {
	n := min(len(a), len(b))
	for i := range n {
		if a[i] != b[i] {
			return i
		}
	}
	return n
}
