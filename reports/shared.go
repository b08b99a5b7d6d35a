package reports

// What other pages of this program share with a report, so that they look alike
// and treat strangers' texts alike.

// Colours is the palette as CSS custom properties, for light and dark.
func Colours() string { return properties() }

// Cut makes a text of a stranger safe to read, as on the page, and keeps at
// most n characters of it.
func Cut(s string, n int) string { return named(s, n).Short }

// Count writes a whole number in groups of three.
func Count[T int | int64](n T) string { return count(n) }

// Plural writes a number with its noun.
func Plural[T int | int64](n T, one, many string) string { return plural(n, one, many) }

// Percent writes a share with at most one place, rounded up or down.
func Percent(f float64, up bool) string { return percent(f, up) }

// Decimal writes a number with n places, or a dash when there is none.
func Decimal(f float64, n int) string { return decimal(f, n) }
