package browsertest

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

// Picture keeps the whole page as a picture, if PARCOURS_SCREENSHOTS names a folder.
func (b *Tab) Picture(name string) {
	b.T.Helper()
	if folder := os.Getenv("PARCOURS_SCREENSHOTS"); folder != "" {
		b.keepPicture(folder, name)
	}
}

// pictureOfFailure keeps a picture of what a failed test saw last, and says where.
func (b *Tab) pictureOfFailure() {
	if !b.T.Failed() || b.ctx.Err() != nil {
		return
	}
	folder := os.Getenv("PARCOURS_SCREENSHOTS")
	if folder == "" {
		folder = filepath.Join(os.TempDir(), "parcours-failed")
	}
	b.keepPicture(folder, "failed-"+strings.ReplaceAll(b.T.Name(), "/", "-"))
}

// keepPicture writes a picture into a folder. A picture that can't be had is told, and
// fails nothing.
func (b *Tab) keepPicture(folder, name string) {
	b.T.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, Patience)
	defer cancel()
	beyond, fast := true, true
	size := Eval[struct{ Width, Height float64 }](b, `({Width: document.documentElement.clientWidth, Height: document.documentElement.scrollHeight})`)
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
		b.T.Logf("no picture of %s: %v", name, err)
		return
	}
	b.T.Logf("picture: %s", path)
}
