package main

import (
	"runtime"
	"runtime/debug"

	"github.com/prometheus/client_golang/prometheus"

	"parcours.example/analysis"
)

// version is what the linker was told by -X main.version=…, where a program is built apart from
// the tree's history, as images are; else empty.
var version string

// build says which program runs.
type build struct {
	// Version is the one that it was built as, or else the module's: "(devel)" where it was built
	// from a tree that isn't released.
	Version       string `json:"version"`
	EngineVersion string `json:"engine_version"`
	GoVersion     string `json:"go_version"`
}

// thisBuild reads what the compiler wrote into the program.
func thisBuild() build {
	b := build{Version: "unknown", EngineVersion: analysis.EngineVersion, GoVersion: runtime.Version()}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		b.Version = info.Main.Version
	}
	if version != "" {
		b.Version = version
	}
	return b
}

// metric is a gauge that is always 1 and tells the build by its labels, so that a dashboard can
// say which of the replicas run what.
func (b build) metric() prometheus.Collector {
	return prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "parcours_build_info", Help: "1, with the build in its labels.",
		ConstLabels: prometheus.Labels{"version": b.Version, "engine_version": b.EngineVersion, "go_version": b.GoVersion},
	}, func() float64 { return 1 })
}
