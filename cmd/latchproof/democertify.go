package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"latchproof/fixtures/demo"
	"latchproof/fixtures/sim"
	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/checks"
	"latchproof/harness/claim"
	"latchproof/harness/decision"
	"latchproof/harness/verify"
	"latchproof/reports"
)

// demoCertificate is the demo's last part: the claim of the scenario is played and
// certified, the certificate is checked, and once more with one byte changed. It
// gives what to tell, and what came out otherwise than meant; empty for nothing.
func (a *app) demoCertificate(ctx context.Context, out, house string) (told []string, wrong string, err error) {
	say := func(format string, args ...any) {
		told = append(told, reports.Plain(fmt.Sprintf(format, args...)))
	}
	in := filepath.Join(out, "d-certificate")
	if err := demo.WriteClaim(filepath.Join(in, "claim")); err != nil {
		return nil, "", plain(err)
	}
	h, err := claim.OpenHouse(house, checks.All)
	if err != nil {
		return nil, "", err
	}
	s, err := claim.Open(filepath.Join(in, "claim"), h, checks.All)
	if err != nil {
		return nil, "", err
	}
	file := filepath.Join(in, "demo.key")
	pub, err := attest.NewKey(file, nil)
	if err != nil {
		return nil, "", plain(err)
	}
	key, err := attest.LoadKey(file, nil)
	if err != nil {
		return nil, "", plain(err)
	}
	b, err := simulated(sim.Default(), "simulated bench of the demo")
	if err != nil {
		return nil, "", err
	}
	c, err := harness.NewCertification(s, []harness.Bench{b}, in, harness.Player{Version: version, Progress: a.progress()})
	if err != nil {
		return nil, "", err
	}
	defer c.Release()
	if err := c.Play(ctx, harness.DefaultTimeout); err != nil {
		return nil, "", err
	}
	d := c.Decide()
	if d.Outcome != decision.Certified {
		return nil, "the claim is meant to be certified, and is refused: " + harness.Sentence(d), nil
	}
	made := &certification{Decision: d}
	if err := a.sign(ctx, c, certifying{book: filepath.Join(in, "book")}, key, made); err != nil {
		return nil, "", err
	}
	say("certified: %d frames (%.3f s), as claimed by %s, in %d of %d repeats; %s",
		d.Measured.Frames, d.Measured.Seconds, d.Claim.By, h.Repeats, h.Repeats, made.Bundle)
	sound, err := verify.Verify(ctx, made.Bundle, verify.Options{Key: pub})
	if err != nil {
		return nil, "", err
	}
	if !sound.Holds {
		return told, "the certificate is meant to hold and does not", nil
	}
	say("verified: signature, every hash, and every run judged anew from its evidence: it holds")
	changed := filepath.Join(in, "changed.bundle")
	at, err := changeByte(made.Bundle, changed)
	if err != nil {
		return nil, "", plain(err)
	}
	spoiled, err := verify.Verify(ctx, changed, verify.Options{Key: pub})
	if err != nil {
		return nil, "", err
	}
	broken := spoiled.Broken()
	if spoiled.Holds || len(broken) == 0 {
		return told, fmt.Sprintf("the certificate with byte %d changed is meant to be refused", at), nil
	}
	say("with byte %d of %s changed: refused, %s: %s", at, filepath.Base(changed), broken[0].What, broken[0].Why)
	say("(the key was made for this demo; a house keeps its own, with a passphrase)")
	return told, "", nil
}

// changeByte copies a file with its middle byte changed, and says which that is.
func changeByte(from, to string) (int, error) {
	b, err := os.ReadFile(from)
	if err != nil {
		return 0, err
	}
	at := len(b) / 2
	b[at] ^= 1
	return at, os.WriteFile(to, b, 0o666)
}

// demoTold are the lines of the last part as they are printed.
func demoTold(lines []string) string {
	return "(d) the sound program's time, certified:\n  " + strings.Join(lines, "\n  ")
}
