package browser_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// tallest is how much of a page a picture shows, in CSS pixels.
const tallest = 12000

// picture keeps the whole page as a picture, if PARCOURS_SCREENSHOTS names a folder.
func (b *tab) picture(name string) {
	b.t.Helper()
	if folder := os.Getenv("PARCOURS_SCREENSHOTS"); folder != "" {
		b.keepPicture(folder, name)
	}
}

// pictureOfFailure keeps a picture of what a failed test saw last, and says where.
func (b *tab) pictureOfFailure() {
	if !b.t.Failed() || b.ctx.Err() != nil {
		return
	}
	folder := os.Getenv("PARCOURS_SCREENSHOTS")
	if folder == "" {
		folder = filepath.Join(os.TempDir(), "parcours-failed")
	}
	b.keepPicture(folder, "failed-"+strings.ReplaceAll(b.t.Name(), "/", "-"))
}

// keepPicture writes a picture into a folder. A picture that can't be had is told, and
// fails nothing.
func (b *tab) keepPicture(folder, name string) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	beyond, fast := true, true
	size := eval[struct{ Width, Height float64 }](b, `({Width: document.documentElement.clientWidth, Height: document.documentElement.scrollHeight})`)
	shot, err := chromedp.Call(ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{
		Clip: &page.Viewport{Width: size.Width, Height: min(size.Height, tallest), Scale: 1}, CaptureBeyondViewport: &beyond, OptimizeForSpeed: &fast,
	})
	if err == nil {
		err = os.MkdirAll(folder, 0o755)
	}
	path := filepath.Join(folder, name+".png")
	if err == nil {
		err = os.WriteFile(path, shot.Data, 0o644)
	}
	if err != nil {
		b.t.Logf("no picture of %s: %v", name, err)
		return
	}
	b.t.Logf("picture: %s", path)
}
