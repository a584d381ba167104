// Package shelter says how much of the air's drag is left to a rider in the lee of
// others.
package shelter
