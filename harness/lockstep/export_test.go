package lockstep

// Predict is predict.
func Predict(n int) float64 { return predict(n) }
