package harness

import (
	"context"
	"fmt"

	pictures "latchproof/harness/evidence"
	"latchproof/harness/record"
)

// KeyPictures keeps the pictures that the verdicts of a sealed run rest on: from
// its video, which must be there. Errors: those of record.OpenFiles and of
// evidence.Collect.
func (r *Run) KeyPictures(ctx context.Context) (*pictures.Kept, error) {
	rec, err := record.OpenFiles(r.Dir, record.FramesFile, record.ReadsFile)
	if err != nil {
		return nil, err
	}
	in, err := RecordedInput(rec, r.Spec)
	if err != nil {
		return nil, err
	}
	kept, err := pictures.Collect(ctx, in, r.Results, r.Timing, r.Clock)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.Dir, err)
	}
	return kept, nil
}
