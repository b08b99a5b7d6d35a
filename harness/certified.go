package harness

import (
	"context"
	"crypto"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/decision"
	"latchproof/harness/durable"
	pictures "latchproof/harness/evidence"
	"latchproof/harness/record"
)

// BundleEnding is that of bundles.
const BundleEnding = ".bundle"

// CertificateFile is the certificate in a bundle.
const CertificateFile = "certificate.json"

// BundlePath is where the bundle of a claim is written to.
func (c *Certification) BundlePath() string {
	return filepath.Join(c.out, folderName(c.Submission.Name)+BundleEnding)
}

// CertifyOptions say how a certificate is made.
type CertifyOptions struct {
	Key crypto.Signer // Ed25519
	// Book says that the time was compared with a record book, and Before is its best
	// of the category, if there is one.
	Book   bool
	Before *attest.PredicateBefore
	Now    time.Time
}

// Certified is a certificate that was made.
type Certified struct {
	Envelope []byte // what a record book takes
	Path     string // of the bundle
	ID       string // SHA-256 of the envelope, lower-case hex
	Standing string
	Rests    []string // what only the videos can tell wholly
}

// Evidence is what a bundle holds besides its certificate.
type Evidence struct {
	files    []bundle.File
	subjects []attest.Subject
	rests    []string
}

// Collect gathers the evidence of a claim that was certified: every file of every run
// but its video, and the pictures from the videos on which the verdicts rest.
//
// Errors: ErrDamaged when a run is no longer what it was, or when the pictures do not
// give the verdicts.
func (c *Certification) Collect(ctx context.Context, d decision.Decision) (*Evidence, error) {
	if d.Outcome != decision.Certified {
		return nil, errors.New("evidence is packed of what is certified alone")
	}
	e := &Evidence{}
	s := c.Submission
	for _, name := range s.Files {
		e.bytes("claim/"+name, s.Contents[name])
	}
	e.bytes("house/house.yaml", s.House.Source)
	for _, name := range slices.Sorted(maps.Keys(s.SpecFiles)) {
		e.bytes("spec/"+name, s.SpecFiles[name])
	}
	src, err := d.JSON()
	if err != nil {
		return nil, err
	}
	e.bytes("decision.json", src)
	told := map[string]bool{}
	for i, f := range c.facts {
		if !told[f.Bench] {
			told[f.Bench] = true
			src, err := benchJSON(c.metas[i])
			if err != nil {
				return nil, err
			}
			e.bytes("benches/"+f.Bench+".json", src)
		}
		if err := e.run(ctx, f.Name, c.runs.runs[i+1].run); err != nil {
			return nil, err
		}
	}
	slices.Sort(e.rests)
	e.rests = slices.Compact(e.rests)
	return e, nil
}

// benchJSON is what a run's record says of its bench.
func benchJSON(m record.Meta) ([]byte, error) {
	src, err := json.MarshalIndent(struct {
		Bench json.RawMessage `json:"bench"`
		Board *record.Board   `json:"board"`
	}{m.Bench, m.Board}, "", "  ")
	return append(src, '\n'), err
}

// run takes a run's files and its pictures.
func (e *Evidence) run(ctx context.Context, name string, run *Run) error {
	rec, err := record.Open(run.Dir)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	src, err := os.ReadFile(rec.Path(record.RunFile))
	if err != nil {
		return err
	}
	e.bytes(name+"/"+record.RunFile, src)
	for _, file := range slices.Sorted(maps.Keys(rec.Meta.Files)) {
		sum := rec.Meta.Files[file].SHA256
		if file == record.CaptureFile { // beside the bundle
			e.subjects = append(e.subjects, attest.Subject{Name: name + "/" + file, SHA256: sum})
			continue
		}
		f, err := bundle.OnDisk(name+"/"+file, rec.Path(file))
		if err != nil {
			return err
		}
		e.files, e.subjects = append(e.files, f), append(e.subjects, attest.Subject{Name: f.Name, SHA256: sum})
	}
	kept, err := run.KeyPictures(ctx)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	for _, p := range kept.Pictures {
		e.bytes("pictures/"+strings.TrimPrefix(name, RunsFolder+"/")+"/"+pictures.Name(p.Index), p.PNG)
	}
	for _, r := range kept.Rests {
		e.rests = append(e.rests, r.What)
	}
	return nil
}

func (e *Evidence) bytes(name string, src []byte) {
	e.files = append(e.files, bundle.Bytes(name, src))
	e.subjects = append(e.subjects, attest.Subject{Name: name, SHA256: durable.Sum(src)})
}

// Certify signs what was decided and writes the bundle: whole, or not at all.
func (c *Certification) Certify(d decision.Decision, e *Evidence, o CertifyOptions) (*Certified, error) {
	p := decision.Predicate(d, decision.Stated{
		Versions: decision.Versions(c.metas...), Rests: e.rests, Book: o.Book, Before: o.Before, Certified: o.Now,
	})
	envelope, err := attest.Sign(o.Key, e.subjects, p)
	if err != nil {
		return nil, err
	}
	out := &Certified{Envelope: envelope, Path: c.BundlePath(), Standing: p.Standing, Rests: e.rests}
	out.ID = durable.Sum(envelope)
	files := append([]bundle.File{bundle.Bytes(CertificateFile, envelope)}, e.files...)
	return out, writeBundle(out.Path, files, e.subjects)
}

// writeBundle packs into a file beside, reads it back, holds every file against its
// hash, and only then gives it its name.
func writeBundle(path string, files []bundle.File, subjects []attest.Subject) (err error) {
	part := path + ".part"
	f, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(part)
			err = fmt.Errorf("%s: %w", path, durable.Plain(err))
		}
	}()
	if err := errors.Join(bundle.Write(f, files), f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := checkBundle(part, subjects); err != nil {
		return err
	}
	// Link and not rename: a bundle that is there is never replaced.
	if err := os.Link(part, path); err != nil {
		return err
	}
	return errors.Join(os.Remove(part), durable.SyncDir(filepath.Dir(path)))
}

func checkBundle(path string, subjects []attest.Subject) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return err
	}
	b, err := bundle.Read(f, st.Size(), bundle.DefaultLimits)
	if err != nil {
		return err
	}
	for _, s := range subjects {
		r, err := b.Open(s.Name)
		if err != nil {
			continue // a video
		}
		sum := sha256.New()
		if _, err := io.Copy(sum, r); err != nil {
			return err
		}
		if hex.EncodeToString(sum.Sum(nil)) != s.SHA256 {
			return fmt.Errorf("%w: %s changed while it was packed", ErrDamaged, s.Name)
		}
	}
	return nil
}
