// Command speed measures how fast captures are judged, imported and compared,
// as ratios taken in one run:
//
//	go run ./harness/speed [--minutes 10] [--rounds 3] [--sealed 2,10,100] [--frames 36000] [--keep DIR]
//
// It needs the go command and ffmpeg, and nothing else that is not public. It
// builds latchproof, plays a long program on the simulated bench twice, with a
// card that gives 1280x720 pictures at about 60 a second as H.264, and then
// times whole commands, one after another, on all cores:
//
//	judge     latchproof judge of that run against a spec of 50 checkpoints,
//	          beside `ffmpeg -i capture.mkv -f null -`, which decodes the same
//	          file and throws it away; the bar is 1.10
//	import    latchproof import of the same video, beside the same; bar 1.10
//	compare   latchproof compare of the two sealed runs, and import of both
//	          videos and comparing them, beside `ffmpeg -lavfi ssim` over the
//	          two videos; the bar is 0.5
//	sealed    latchproof compare of 2, 10 and 100 sealed runs of 36,000 frames:
//	          wall time, CPU time, peak memory; the bars are time linear in the
//	          runs and 512 MiB
//
// The commands that are held against one another alternate for several rounds,
// and the ratio is the median of the rounds' ratios, so that a load which comes
// and goes hits both. One figure of seconds says nothing about another machine.
//
// The runs of `sealed` are copies of one long run. Copying a trace would make a
// comparison without noise, so every copy gets noise of its own on every
// feature, and its own unseen frames.
package main
