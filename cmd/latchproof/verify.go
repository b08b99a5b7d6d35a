package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"latchproof/harness"
	"latchproof/harness/attest"
	"latchproof/harness/recordbook"
	"latchproof/harness/verify"
	"latchproof/reports"
)

func (a *app) verifyCommand() *cobra.Command {
	var key, book, bench, out string
	var o verify.Options
	var replay bool
	c := &cobra.Command{
		Use:   "verify BUNDLE",
		Short: "Check a certificate from its evidence, without the maker's word",
		Long: strings.TrimSpace(`
Checks an evidence bundle: the signature, the hash of every file, and that what
is certified follows from the evidence. Every run is judged anew: that the board
served this program, which frame every picture is of, every checkpoint and the
time from the key pictures. The runs are compared anew by their traces and read
logs, and it is decided anew by the house's policy.

Where the videos lie beside the bundle, as certify leaves them, or in --videos,
each run is judged wholly anew from its video. Otherwise what only a video can
tell is listed: that no event came sooner, that pictures in between hold, too.

Without --key the signature is checked with the key that the certificate carries.
That says that nothing was changed since it was signed, and not who signed it.

With --replay the program is also played on your own bench, and must stay in
lockstep with the bundle's first run and take the same time.

Exit status: 0 it holds; 1 it does not, and what broke is said; 2 bad usage; 3 it
cannot be said.`),
		Example: "  latchproof verify fast.bundle --key house.key.pub\n  latchproof verify fast.bundle --key house.key.pub --book book\n  latchproof verify fast.bundle --replay --bench mine.yaml",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if key != "" {
				if o.Key, err = attest.LoadPublic(key); err != nil {
					return usageError{err}
				}
			}
			if book != "" {
				if o.Book, err = recordbook.Open(book); err != nil {
					return err
				}
				defer o.Book.Close()
			}
			switch {
			case !replay && (bench != "" || out != "" || cmd.Flags().Changed("repeats")):
				return usageError{fmt.Errorf("latchproof verify: --bench, --out and --repeats are for --replay")}
			case cmd.Flags().Changed("repeats") && o.Repeats < 1:
				return usageError{fmt.Errorf("--repeats: %d is fewer than 1", o.Repeats)}
			case replay:
				b, err := a.openBench(bench)
				if err != nil {
					return err
				}
				if out, err = sessionFolder(out); err != nil {
					return err
				}
				o.Replay = &harness.Player{Bench: b, Out: out, Version: version, Progress: a.progress()}
			}
			p := a.progress()
			o.Progress = func(what, run string) { p.Stage(strings.TrimSpace("verify "+run), 1, 1, what, 0) }
			r, err := verify.Verify(cmd.Context(), args[0], o)
			p.clear()
			if err != nil {
				return err
			}
			if a.json {
				if err := a.printJSON(r); err != nil {
					return err
				}
			} else {
				a.verified(r)
			}
			return verdict(r.Code)
		},
	}
	c.Flags().StringVar(&key, "key", "", "public key `FILE` that it must be signed with")
	c.Flags().StringVar(&o.Videos, "videos", "", "folder in which the videos lie under their names; default: the bundle's")
	c.Flags().BoolVar(&o.NoVideos, "no-videos", false, "do not look for videos: quick, and more rests on them")
	c.Flags().StringVar(&book, "book", "", "record book in which the certificate must be, with the standing that it states")
	c.Flags().BoolVar(&replay, "replay", false, "play it on your own bench, too")
	c.Flags().StringVar(&bench, "bench", "", "bench file for --replay; the built-in simulated bench when not given")
	c.Flags().IntVar(&o.Repeats, "repeats", 0, "how often --replay plays; as often as the house asks when not given")
	c.Flags().StringVar(&out, "out", "", "folder for the runs of --replay; default runs/ and the time")
	c.MarkFlagsMutuallyExclusive("videos", "no-videos")
	return c
}

// verified prints what was found.
func (a *app) verified(r *verify.Report) {
	if r.Claim != "" {
		fmt.Fprintf(a.out, "%s, by %s: %d frames (%.3f s), category %s of %s, certified %s\n",
			reports.Plain(r.Claim), reports.Plain(r.By), r.Frames, r.Seconds, reports.Plain(r.Category), reports.Plain(r.House), r.Certified)
	}
	w := tabwriter.NewWriter(a.out, 0, 0, 2, ' ', 0)
	run := ""
	for _, f := range r.Findings {
		if f.Run != run && f.Run != "" {
			fmt.Fprintf(w, "  %s\n", reports.Plain(f.Run))
		}
		run = f.Run
		in := "  "
		if run != "" {
			in = "    "
		}
		fmt.Fprintf(w, "%s%s\t%s\t%s\n", in, f.What, f.State, reports.Plain(f.Why))
	}
	w.Flush()
	for _, x := range r.RestsOnVideo {
		fmt.Fprintf(a.out, "  rests on the video of %s: %s: %s\n", reports.Plain(x.Run), reports.Plain(x.What), reports.Plain(x.Why))
	}
	for _, n := range r.Notes {
		fmt.Fprintf(a.out, "  note: %s\n", reports.Plain(n))
	}
	switch broken := r.Broken(); {
	case r.Holds && r.Signer == verify.SignerUnknown:
		fmt.Fprintf(a.out, "The certificate holds, SIGNED BY A KEY THAT NOBODY VOUCHED FOR (no --key was given): %s\n", r.KeyID)
	case r.Holds:
		fmt.Fprintf(a.out, "The certificate holds, signed by %s\n", r.KeyID)
	case len(broken) > 0:
		f := broken[0]
		fmt.Fprintf(a.out, "The certificate does not hold: %s\n", reports.Plain(strings.TrimPrefix(f.Run+": ", ": ")+f.What+": "+f.Why))
	default:
		fmt.Fprintln(a.out, "Whether the certificate holds cannot be told.")
	}
}
