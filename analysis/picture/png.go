package picture

import (
	"bytes"
	"context"
	"image"
	"image/draw"
	"image/png"
	"math"
	"slices"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"parcours.example/analysis/colour"
)

// tilePx is the widest and highest image that package vector fills with integers, whose
// results are the same on every processor.
const tilePx = 512

// PNG writes the drawing as PNG, one pixel for each px. It takes some 40 ms at 960 px and
// gives up with the context's error once that is done.
func (d *Drawing) PNG(ctx context.Context) ([]byte, error) {
	c := canvas{image: image.NewRGBA(image.Rect(0, 0, d.WidthPx, d.HeightPx)), face: d.face}
	draw.Draw(c.image, c.image.Bounds(), image.NewUniform(d.paper), image.Point{}, draw.Src)
	for _, e := range d.elements {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		switch {
		case e.area != nil:
			c.fill(e.area.ink, e.area.rings)
		case e.stroke != nil:
			c.fill(e.stroke.ink, outlines(*e.stroke))
		case e.letters != nil:
			c.letters(*e.letters)
		}
	}
	b := waitedFor{ctx: ctx}
	err := png.Encode(&b, c.image)
	return b.Bytes(), err
}

// waitedFor is a buffer that takes nothing any more once its context is done.
type waitedFor struct {
	bytes.Buffer
	ctx context.Context //nolint:containedctx // what it waits for
}

func (w *waitedFor) Write(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.Buffer.Write(p)
}

type canvas struct {
	image  *image.RGBA
	raster vector.Rasterizer
	face   *typeface
}

// fill fills what lies inside any of the rings, which all turn the same way.
func (c *canvas) fill(ink colour.RGB, rings [][]point) {
	for _, tile := range tiles(extent(rings).Intersect(c.image.Bounds())) {
		c.raster.Reset(tile.Dx(), tile.Dy())
		for _, ring := range rings {
			for i, p := range ring {
				x, y := float32(p.x-float64(tile.Min.X)), float32(p.y-float64(tile.Min.Y))
				if i == 0 {
					c.raster.MoveTo(x, y)
				} else {
					c.raster.LineTo(x, y)
				}
			}
			c.raster.ClosePath()
		}
		c.raster.Draw(c.image, tile, image.NewUniform(ink), image.Point{})
	}
}

// extent returns the pixels that rings touch.
func extent(rings [][]point) image.Rectangle {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, ring := range rings {
		for _, p := range ring {
			b = box{min(b.x0, p.x), min(b.y0, p.y), max(b.x1, p.x), max(b.y1, p.y)}
		}
	}
	if b.x0 > b.x1 {
		return image.Rectangle{}
	}
	return image.Rect(int(math.Floor(b.x0)), int(math.Floor(b.y0)), int(math.Ceil(b.x1)), int(math.Ceil(b.y1)))
}

// tiles cuts an image's part into pieces of at most tilePx.
func tiles(r image.Rectangle) (all []image.Rectangle) {
	for y := r.Min.Y; y < r.Max.Y; y += tilePx {
		for x := r.Min.X; x < r.Max.X; x += tilePx {
			all = append(all, image.Rect(x, y, x+tilePx, y+tilePx).Intersect(r))
		}
	}
	return all
}

// letters fills the outlines of a text's letters.
func (c *canvas) letters(l letters) {
	x := l.left()
	var rings [][]point
	for _, r := range l.words {
		rings = append(rings, c.glyph(r, l.sizePx, point{x, l.at.y})...)
		x += float64(c.face.advance(r) * l.sizePx)
	}
	c.fill(l.ink, rings)
}

// curveSteps are the chords that a curve of a letter is drawn with: a letter's curves are
// a few pixels long.
const curveSteps = 4

// glyph returns the outline of a letter with the pen at a place.
func (c *canvas) glyph(r rune, sizePx float64, pen point) (rings [][]point) {
	place := func(p fixed.Point26_6) point {
		return point{pen.x + float64(float64(p.X)/64), pen.y + float64(float64(p.Y)/64)}
	}
	for _, s := range c.face.outline(r, sizePx) {
		last := len(rings) - 1
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			rings = append(rings, []point{place(s.Args[0])})
		case sfnt.SegmentOpLineTo:
			rings[last] = append(rings[last], place(s.Args[0]))
		default: // a curve; this font has quadratic ones only
			from := rings[last][len(rings[last])-1]
			for k := 1; k <= curveSteps; k++ {
				rings[last] = append(rings[last], onCurve(from, place(s.Args[0]), place(s.Args[1]), float64(k)/curveSteps))
			}
		}
	}
	return rings
}

// onCurve returns the point of a quadratic Bézier curve at t, 0…1.
func onCurve(a, b, c point, t float64) point {
	u := 1 - t
	mix := func(a, b, c float64) float64 { return float64(u*u*a) + float64(2*u*t*b) + float64(t*t*c) }
	return point{mix(a.x, b.x, c.x), mix(a.y, b.y, c.y)}
}

// outlines returns the strips that the lines of a stroke cover.
func outlines(s stroke) (rings [][]point) {
	for _, line := range s.lines {
		for _, piece := range dashed(line, s.dash) {
			if ring := strip(piece, s.width/2); ring != nil {
				rings = append(rings, ring)
			}
		}
	}
	return rings
}

// dashed cuts a line into its dashes: lengths in px of dashes and gaps by turns, over and
// over, from the line's start. Without dashes it is the line itself.
func dashed(line []point, dash []float64) (pieces [][]point) {
	line = distinct(line)
	if len(dash) == 0 || len(line) < 2 {
		return [][]point{line}
	}
	turn, left := 0, dash[0]
	piece := []point{line[0]}
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		for {
			long := fromChord(b, a, a)
			if long < left {
				left -= long
				break
			}
			a = point{a.x + float64((b.x-a.x)*left/long), a.y + float64((b.y-a.y)*left/long)}
			if turn%2 == 0 {
				pieces = append(pieces, append(piece, a))
			}
			turn++
			left, piece = dash[turn%len(dash)], []point{a}
		}
		piece = append(piece, b)
	}
	if turn%2 == 0 {
		pieces = append(pieces, piece)
	}
	return pieces
}

// strip returns the outline of a line that is wide by a half width to each side; nil for
// one without length. At bends up to 90° its sides meet, at sharper ones they are cut off.
func strip(line []point, half float64) []point {
	line = distinct(line)
	last := len(line) - 1
	if last < 1 {
		return nil
	}
	var left, right []point
	add := func(p point, nx, ny float64) {
		left = append(left, point{p.x + nx, p.y + ny})
		right = append(right, point{p.x - nx, p.y - ny})
	}
	ax, ay := normal(line[0], line[1], half)
	add(line[0], ax, ay)
	for i := 1; i < last; i++ {
		bx, by := normal(line[i], line[i+1], half)
		if dot := float64(ax*bx) + float64(ay*by); dot > 0 {
			k := float64(half*half) / (float64(half*half) + dot)
			add(line[i], float64((ax+bx)*k), float64((ay+by)*k))
		} else {
			add(line[i], ax, ay)
			add(line[i], bx, by)
		}
		ax, ay = bx, by
	}
	add(line[last], ax, ay)
	slices.Reverse(right)
	return append(left, right...)
}

// distinct leaves out points that lie where the one before does.
func distinct(line []point) []point {
	var out []point
	for i, p := range line {
		if i == 0 || p != line[i-1] {
			out = append(out, p)
		}
	}
	return out
}

// normal returns the vector of a length to the left of the way from a to b, which differ.
func normal(a, b point, length float64) (x, y float64) {
	dx, dy := b.x-a.x, b.y-a.y
	k := length / math.Sqrt(float64(dx*dx)+float64(dy*dy))
	return float64(-dy * k), float64(dx * k)
}
