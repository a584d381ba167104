// Package analysis is the root of Parcours' pure computation: values in, values
// out, with no I/O, clock, network or global state below it. It holds only what
// every room shares: the engine's version and the constants of nature.
package analysis

// EngineVersion names the numbers: it changes whenever any number in a result
// can change, and is part of every result and of every cache key.
const EngineVersion = "6"

// Gravity is the standard acceleration of free fall in m/s² (ISO 80000-3).
const Gravity = 9.80665
