package baseline

import (
	"errors"
	"os"
)

// swapSlowly exchanges two folders by three renames. When it is stopped between
// them the old one is whole under the name of b with .old at its end.
func swapSlowly(a, b string) error {
	old := b + ".old"
	if err := os.Rename(b, old); err != nil {
		return err
	}
	if err := os.Rename(a, b); err != nil {
		return errors.Join(err, os.Rename(old, b))
	}
	return os.Rename(old, a)
}
