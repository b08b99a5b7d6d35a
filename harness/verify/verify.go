package verify

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/bundle"
	"latchproof/harness/recordbook"
)

// Options say how a bundle is checked.
type Options struct {
	Key    ed25519.PublicKey // that it must be signed with; nil: the one that it carries
	Videos string            // folder in which the videos lie under their names; empty: the bundle's
	// NoVideos leaves them alone, as if there were none.
	NoVideos bool
	Book     *recordbook.Book // nil: the standing is not looked at
	// Replay plays the program on the verifier's own bench; nil: it does not. Its
	// output folder is where the runs are left. Repeats is how often; 0: as often
	// as the house asks for on a bench.
	Replay  *harness.Player
	Repeats int
	// Limits of the archive; zero: bundle.DefaultLimits.
	Limits bundle.Limits
	// Progress is told what is looked at. May be nil.
	Progress func(what, run string)
}

// Verify checks the bundle in a file. The error is one of the system about the
// file itself, or that of the context; everything else is in the report.
func Verify(ctx context.Context, path string, o Options) (*Report, error) {
	if o.Limits == (bundle.Limits{}) {
		o.Limits = bundle.DefaultLimits
	}
	if o.Videos == "" {
		o.Videos = filepath.Dir(path)
	}
	r := &Report{Bundle: path, Signer: SignerUnknown, Findings: []Finding{}, RestsOnVideo: []Resting{}, Notes: []string{}}
	b, err := bundle.OpenFile(path, o.Limits)
	if err != nil && !errors.Is(err, bundle.ErrForm) && !errors.Is(err, bundle.ErrLimit) {
		return nil, err
	}
	if b != nil {
		defer b.Close()
	}
	if r.check("archive", "", err, "") {
		v := &verifier{ctx: ctx, o: o, r: r, b: b.Bundle}
		if err := v.all(); err != nil {
			return nil, err
		}
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	r.settle()
	return r, nil
}

// verifier is one check of a bundle.
type verifier struct {
	ctx  context.Context
	o    Options
	r    *Report
	b    *bundle.Bundle
	cert *attest.Certificate

	temp   string // folder for what is unpacked
	sums   map[string]string
	videos map[string]string // path of the video of a run that lies beside
	claim  *claimed
	runs   []*run
}

// isOutside says whether an error is of the verifier's own computer and not of
// the bundle.
func isOutside(err error) bool {
	var path *fs.PathError
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) ||
		errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EIO) || errors.Is(err, syscall.EMFILE) || errors.Is(err, syscall.EACCES) ||
		errors.As(err, &path) && !errors.Is(err, fs.ErrNotExist)
}

func (v *verifier) begin(what, run string) {
	if v.o.Progress != nil {
		v.o.Progress(what, run)
	}
}

// all looks at everything in order. The error is one of the temporary folder.
func (v *verifier) all() (err error) {
	if v.temp, err = os.MkdirTemp("", "latchproof-verify-"); err != nil {
		return err
	}
	v.r.temp = v.temp
	defer func() { err = errors.Join(err, os.RemoveAll(v.temp)) }()

	v.begin("signature", "")
	if !v.r.check("signature", "", v.signature(), v.signed()) {
		v.skip("files", "videos", "claim", "lockstep", "decision", "certificate")
		return nil
	}
	v.begin("files", "")
	if !v.r.check("files", "", v.files(), fmt.Sprintf("%d files", len(v.b.Names())-1)) {
		v.skip("videos", "claim", "lockstep", "decision", "certificate")
		return nil
	}
	v.begin("videos", "")
	there, err := v.beside()
	whole := v.r.check("videos", "", err, there)
	if !v.r.check("claim", "", v.submission(), "") {
		v.skip("lockstep", "decision", "certificate")
		return nil
	}
	ok := true
	for _, run := range v.runs {
		ok = v.look(run, whole) && ok
		if err := v.ctx.Err(); err != nil {
			return err
		}
	}
	if !ok {
		v.skip("lockstep", "decision", "certificate")
		return nil
	}
	return v.together()
}

func (v *verifier) skip(what ...string) {
	if v.o.Book != nil {
		what = append(what, "standing")
	}
	if v.o.Replay != nil {
		what = append(what, "replay")
	}
	for _, w := range what {
		v.r.add(w, "", Skipped, "")
	}
}
