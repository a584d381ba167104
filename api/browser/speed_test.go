package browser_test

import (
	"math"
	"testing"

	"parcours.example/analysis/coursegen"
	"parcours.example/analysis/track"
)

// TestDropToProfile logs how long it takes from the drop of a file of 2 MB until its
// profile is painted, the best of three; nothing is demanded of it, since that depends on
// what else the machine does.
func TestDropToProfile(t *testing.T) {
	content := longFile()
	best := math.Inf(1)
	for range 3 {
		b := newTab(t)
		b.Open("/")
		b.WaitQuiet()
		eval[any](b, `(() => {
			let dropped = 0;
			addEventListener("drop", () => { dropped = performance.now(); }, true);
			const seen = new MutationObserver(() => {
				if (!document.querySelector("`+profileShown+`")) return;
				seen.disconnect();
				requestAnimationFrame(() => setTimeout(() => { globalThis.tookMs = performance.now() - dropped; }));
			});
			seen.observe(document.querySelector("#profile"), {subtree: true, childList: true});
			return true;
		})()`)
		b.Drop("label[for=file]", "long.gpx", content)
		b.Wait("the profile", "globalThis.tookMs > 0")
		best = min(best, eval[float64](b, "tookMs"))
	}
	t.Logf("%.1f MB from drop to profile in %.0f ms", float64(len(content))/1e6, best)
}

// longFile is a drawn course of 27,000 points, 2 MB.
func longFile() []byte {
	line, _ := coursegen.Random(coursegen.LeadIn, 7)
	const wanted = 27_000
	var points []track.Point
	for i := range wanted {
		at := i * (len(line.S) - 1) / (wanted - 1)
		points = append(points, track.Point{Pos: line.Pos[at], Elevation: line.Z[at]})
	}
	return coursegen.GPX("A long course", points, 9, nil)
}
