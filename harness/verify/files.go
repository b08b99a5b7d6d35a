package verify

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"latchproof/harness/attest"
	"latchproof/harness/record"
)

// Names in a bundle.
const (
	certificateFile = "certificate.json"
	decisionFile    = "decision.json"
	houseFile       = "house/house.yaml"
)

// errBroken is a finding that is broken.
var errBroken = errors.New("broken")

func broken(format string, a ...any) error {
	return &brokenError{fmt.Sprintf(format, a...)}
}

type brokenError struct{ text string }

func (e *brokenError) Error() string        { return e.text }
func (e *brokenError) Is(target error) bool { return target == errBroken }

func (v *verifier) signature() error {
	if !v.b.Has(certificateFile) {
		return broken("there is no %s", certificateFile)
	}
	src, err := v.b.ReadFile(certificateFile, attest.MaxEnvelope)
	if err != nil {
		return err
	}
	c, err := attest.Open(src, v.o.Key)
	if err != nil {
		return err
	}
	v.cert = c
	r, p := v.r, c.Predicate
	r.KeyID = c.KeyID
	if v.o.Key != nil {
		r.Signer = SignerGiven
	}
	r.Claim, r.By, r.Category, r.House = p.Claim.Name, p.Claim.By, p.Claim.Category, p.House.Name
	r.Frames, r.Seconds, r.Certified = p.Measured.Frames, p.Measured.Seconds, p.Certified
	return nil
}

func (v *verifier) signed() string {
	if v.cert == nil {
		return ""
	}
	if v.r.Signer == SignerUnknown {
		v.r.note("nobody said whose key %s is: anybody can sign evidence that they made; name the maker's with --key", v.cert.KeyID)
		return "by the key that the certificate carries, " + v.cert.KeyID
	}
	return "by the key that was asked for, " + v.cert.KeyID
}

// Where files lie in a bundle. The names of benches are those of folders.
var (
	runFile     = regexp.MustCompile(`^runs/[A-Za-z0-9._-]+/run-[0-9]{3,}/[^/]+$`)
	pictureFile = regexp.MustCompile(`^pictures/[A-Za-z0-9._-]+/run-[0-9]{3,}/[0-9]{6,}\.png$`)
	benchFile   = regexp.MustCompile(`^benches/[A-Za-z0-9._-]+\.json$`)
)

func known(name string) bool {
	return name == certificateFile || name == decisionFile || name == houseFile ||
		strings.HasPrefix(name, "claim/") || strings.HasPrefix(name, "spec/") ||
		runFile.MatchString(name) && path.Base(name) != record.CaptureFile ||
		pictureFile.MatchString(name) || benchFile.MatchString(name)
}

// maxTold is how many files are named at most when many are broken.
const maxTold = 10

// files holds every file against the certificate.
func (v *verifier) files() error {
	v.sums = map[string]string{}
	for _, s := range v.cert.Subjects {
		v.sums[s.Name] = s.SHA256
	}
	var bad []string
	for _, name := range v.b.Names() {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		if name == certificateFile {
			continue
		}
		want, ok := v.sums[name]
		switch {
		case !known(name):
			bad = append(bad, name+" is nothing that a bundle holds")
			continue
		case !ok:
			bad = append(bad, name+" is not in the certificate")
			continue
		}
		got, err := v.b.Sum(name)
		if err != nil {
			return err
		}
		if got != want {
			bad = append(bad, "the hash of "+name+" differs")
		}
	}
	for _, s := range v.cert.Subjects {
		if !v.b.Has(s.Name) && !isVideo(s.Name) {
			bad = append(bad, s.Name+" is missing")
		}
	}
	if v.sums[certificateFile] != "" {
		bad = append(bad, certificateFile+" is said to hold its own hash")
	}
	if len(bad) > maxTold {
		bad = append(bad[:maxTold], fmt.Sprintf("and %d more", len(bad)-maxTold))
	}
	if len(bad) > 0 {
		return broken("%s", strings.Join(bad, "; "))
	}
	return nil
}

// isVideo says whether a subject is the video of a run.
func isVideo(name string) bool {
	return runFile.MatchString(name) && path.Base(name) == record.CaptureFile
}

// beside looks for the videos, and holds those that are there against their hash.
func (v *verifier) beside() (found string, err error) {
	v.videos = map[string]string{}
	var bad []string
	all := 0
	for _, s := range v.cert.Subjects {
		if !isVideo(s.Name) {
			continue
		}
		if all++; v.o.NoVideos {
			continue
		}
		file := filepath.Join(v.o.Videos, filepath.FromSlash(s.Name))
		sum, err := v.hash(file)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return "", err
		case sum != s.SHA256:
			bad = append(bad, "the hash of "+s.Name+" differs")
		default:
			v.videos[path.Dir(s.Name)] = file
		}
	}
	if len(bad) > maxTold {
		bad = append(bad[:maxTold], fmt.Sprintf("and %d more", len(bad)-maxTold))
	}
	if len(bad) > 0 {
		return "", broken("%s", strings.Join(bad, "; "))
	}
	return fmt.Sprintf("%d of %d lie beside the bundle", len(v.videos), all), nil
}

// hash is the SHA-256 of a regular file.
func (v *verifier) hash(file string) (string, error) {
	info, err := os.Stat(file)
	if err != nil {
		return "", err
	}
	if !info.Mode().IsRegular() {
		return "", broken("%s is no regular file", file)
	}
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	buf := make([]byte, 1<<20)
	for {
		if err := v.ctx.Err(); err != nil {
			return "", err
		}
		n, err := f.Read(buf)
		sum.Write(buf[:n])
		if err == io.EOF {
			return hex.EncodeToString(sum.Sum(nil)), nil
		}
		if err != nil {
			return "", err
		}
	}
}

// below are the names in the bundle under a folder, without it, in order.
func (v *verifier) below(folder string) []string {
	var out []string
	for _, name := range v.b.Names() {
		if rest, ok := strings.CutPrefix(name, folder+"/"); ok {
			out = append(out, rest)
		}
	}
	return out
}

// folders are the folders that hold the files that match, in order.
func folders(names []string, match *regexp.Regexp) []string {
	var out []string
	for _, name := range names {
		if match.MatchString(name) && !slices.Contains(out, path.Dir(name)) {
			out = append(out, path.Dir(name))
		}
	}
	return out
}
