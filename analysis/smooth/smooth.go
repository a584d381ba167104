// Package smooth fits lines to noisy samples: penalised least squares on the
// change of slope, with the strength estimated from the samples themselves, in
// linear time.
//
// All products in the solver are rounded before they are summed (explicit float64
// conversions), so that results do not depend on fused multiply-add.
package smooth
