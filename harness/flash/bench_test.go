package flash_test

import (
	"testing"

	"latchproof/harness/flash"
	"latchproof/harness/lockstep"
	"latchproof/specs/console"
	"latchproof/vision/screen"
)

func busy() []*screen.Screen {
	var out []*screen.Screen
	for f := range 16 {
		s := screen.New(256, 240)
		for i := range s.Y {
			s.Y[i], s.Cb[i], s.Cr[i] = byte(i*7+f*91), byte(i/3+f*5), byte(i/5+f*11)
		}
		out = append(out, s)
	}
	return out
}

func BenchmarkScreen(b *testing.B) {
	pictures := busy()
	w, _ := flash.New(256, 240, 60.0988)
	b.ResetTimer()
	for i := range b.N {
		if err := w.Screen(console.Frame(i), pictures[i%16]); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFeatures(b *testing.B) {
	var pictures []lockstep.Features
	for _, s := range busy() {
		pictures = append(pictures, lockstep.Extract(s, nil))
	}
	w, _ := flash.New(256, 240, 60.0988)
	b.ResetTimer()
	for i := range b.N {
		if err := w.Features(console.Frame(i), pictures[i%16]); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkStrobe is the costliest: every cell flashes all the time.
func BenchmarkStrobe(b *testing.B) {
	var pictures [2]*screen.Screen
	for i := range pictures {
		pictures[i] = screen.New(256, 240)
		fill(pictures[i], whole, grey(uint8(200*i)))
	}
	w, _ := flash.New(256, 240, 60.0988)
	b.ResetTimer()
	for i := range b.N {
		if err := w.Screen(console.Frame(i), pictures[i%2]); err != nil {
			b.Fatal(err)
		}
	}
}
