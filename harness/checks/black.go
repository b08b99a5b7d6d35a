package checks

import (
	"fmt"
	"image"

	"latchproof/specs"
	"latchproof/vision/screen"
)

// DefaultLevel is the level of black when the spec gives none; doc.go says why.
const DefaultLevel = 32

// blockSide is the side of the blocks of black, and half of it their step.
const blockSide = 8

// Black is the kind `black`: the whole screen is black.
type Black struct{}

// Key is "black".
func (Black) Key() string { return "black" }

var blackFields = specs.Mapping[black]{
	Start: func(specs.Pos) black { return black{level: DefaultLevel} },
	Fields: []specs.Field[black]{
		specs.Key[black, int64]("level", specs.Int{Min: 1, Max: 200},
			"No block of 8x8 pixels may have a mean luma, or a distance of its mean colour from grey, above this level of 255.",
			func(b *black, x int64, _ specs.Pos) { b.level = float64(x) }).Else(DefaultLevel),
	},
}

// Schema describes the value.
func (Black) Schema() map[string]any {
	return map[string]any{
		"description": "The whole screen is black: `true`, or a mapping with a level.",
		"oneOf":       []any{specs.True{}.Schema(), blackFields.Schema()},
	}
}

// Decode reads the value.
func (Black) Decode(v *specs.Value) any {
	b := black{level: DefaultLevel}
	var ok bool
	if v.IsMapping() {
		b, ok = blackFields.Read(v)
	} else {
		_, ok = specs.True{}.Read(v)
	}
	if !ok {
		return nil
	}
	return &b
}

// NewBlack is the check without a spec, for screens of any size. The level is
// that of the key `level`.
func NewBlack(level float64) Check { return &black{level: level} }

// black holds when no block is lighter than its level.
type black struct {
	level float64
	env   specs.Env
}

func (*black) Kind() string { return "black" }

func (b *black) Bind(env specs.Env) { b.env = env }

func (*black) Prepare() error { return nil }

func (*black) Templates() []string { return nil }

func (b *black) Describe() string {
	return fmt.Sprintf("black: no 8x8 block above level %s", number(b.level))
}

func (b *black) Look(s *screen.Screen) (Sight, error) {
	w, h := s.W, s.H
	if want := b.env.Console; want.Width > 0 && (w != want.Width || h != want.Height) || w < 1 || h < 1 {
		return Sight{}, fmt.Errorf("%w: %dx%d, want %dx%d", ErrRaster, w, h, want.Width, want.Height)
	}
	what := "luma"
	level, at := lightest(s.Y, w, h, 0)
	for _, c := range []struct {
		name  string
		plane []byte
	}{{"Cb", s.Cb}, {"Cr", s.Cr}} {
		if l, p := lightest(c.plane, w, h, 128); l > level {
			what, level, at = c.name+" from grey", l, p
		}
	}
	sight := Sight{Score: level, Threshold: b.level, At: at, Size: image.Pt(min(blockSide, w), min(blockSide, h))}
	sight.Found = level > b.level
	sight.Holds = !sight.Found
	than := "not above"
	if sight.Found {
		than = "above"
		sight.Seen = "light at " + point(at)
	}
	have, limit := apart(level, b.level)
	sight.Why = fmt.Sprintf("lightest block is at %s with %s %s, %s %s", point(at), what, have, than, limit)
	return sight, nil
}

// Explain is Look: it already names the lightest block.
func (b *black) Explain(s *screen.Screen) (Sight, error) { return b.Look(s) }

// lightest is the largest distance from zero of the mean of any block of
// blockSide pixels, with steps of half a block, and the place of the first
// such block. Blocks at the right and lower edge are moved inwards so that all
// are whole; a plane smaller than a block is one block.
func lightest(plane []byte, w, h, zero int) (float64, image.Point) {
	bw, bh := min(blockSide, w), min(blockSide, h)
	rows := make([]int32, w)    // sums over the rows of the block
	columns := make([]int, w+1) // the same, accumulated over x
	most, at := -1, image.Point{}
	for y := 0; ; y += blockSide / 2 {
		y = min(y, h-bh)
		clear(rows)
		for dy := range bh {
			row := plane[(y+dy)*w:][:w]
			for x := range rows {
				rows[x] += int32(row[x])
			}
		}
		for x, sum := range rows {
			columns[x+1] = columns[x] + int(sum)
		}
		for x := 0; ; x += blockSide / 2 {
			x = min(x, w-bw)
			sum := columns[x+bw] - columns[x] - zero*bw*bh
			if d := max(sum, -sum); d > most {
				most, at = d, image.Pt(x, y)
			}
			if x == w-bw {
				break
			}
		}
		if y == h-bh {
			break
		}
	}
	return float64(most) / float64(bw*bh), at
}
