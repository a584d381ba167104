package main

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"parcours.example/internal/browsertest"
)

// browse opens the page of the invented season, as the real service answers it.
func browse(t *testing.T) (*browsertest.Tab, *web) {
	t.Helper()
	if testing.Short() {
		t.Skip("browsers aren't short")
	}
	c := engine(t)
	r, _, _ := refresherOf(t, c)
	r.board, r.now = newBoard("League", false, time.Now), time.Now
	r.look(t.Context())
	w := &web{board: r.board, pictures: &pictures{c, r.inputs.open}}
	return browsertest.New(t, w.handler()), w
}

// column returns what stands in a column of the view's table, from 1 on, row by row.
func column(b *browsertest.Tab, n string) []string {
	b.T.Helper()
	return b.Texts("#view tbody tr > :nth-child(" + n + ")")
}

func TestBrowserViews(t *testing.T) {
	b, w := browse(t)
	b.Open("/")
	b.WaitText("#view tbody", "12.0")
	b.WaitText("#status", "Up to date.")
	b.WaitText("#age", "less than a minute ago")
	if got := b.Texts("#view tbody td.fastest"); len(got) != 2 || !strings.HasPrefix(got[0], "1st") {
		t.Errorf("the fastest: %q", got)
	}
	if got := b.Text("#view td.fault"); got == "" || !strings.Contains(b.Text("#view tfoot"), "Total of the 2 rounds") {
		t.Errorf("the bad round: %q", got)
	}
	b.CheckAccessible("season-times")

	b.Click(`[data-key="go:rider:Nour"]`)
	b.WaitText("h2", "Nour")
	b.Wait("the focus on the rider", "document.activeElement.id === 'view-title'")
	b.WaitText(".suited", "Of power over mass come")
	if everything := b.Text("body"); strings.Contains(everything, secretMass) || strings.Contains(everything, secretPower) {
		t.Error("the rider's figures are shown")
	}
	b.CheckAccessible("season-rider", "#view", "#tools", ".contents")

	b.Set("#to-round", "round-10-summit.csv")
	b.WaitText("h2", "round-10-summit.csv")
	b.Wait("the profile", "document.querySelector('.course img')?.naturalWidth > 0")
	if got := column(b, "1"); !slices.Equal(got, placed3(w)) {
		t.Errorf("by place: %q", got)
	}
	b.CheckAccessible("season-round", "#view", ".contents")
	b.TabThrough()
	b.Open("/#view=round&round=round-3-words.gpx")
	b.WaitText("#view .problem", "")
	b.Open("/#view=rider&rider=Nobody")
	b.WaitText("#view", "There is no rider Nobody")
}

// placed3 are the riders of the third round by their places.
func placed3(w *web) []string {
	times := slices.Clone(w.board.snapshot().Rounds[2].Times)
	slices.SortFunc(times, func(a, b shownTime) int { return a.Place - b.Place })
	var names []string
	for _, t := range times {
		names = append(names, t.Rider)
	}
	return names
}

func TestBrowserOrdersAndTakesAlong(t *testing.T) {
	b, w := browse(t)
	b.Open("/")
	b.WaitText("#view tbody", "12.0")
	b.Click(`[data-key="sort:distance"]`)
	b.WaitFor(`th[aria-sort="ascending"]`)
	b.Wait("the focus where it was", `document.activeElement.dataset.key === "sort:distance"`)
	b.Press(kb.Enter)
	b.WaitFor(`th[aria-sort="descending"]`)
	if got := b.Texts("#view tbody th a"); !slices.Equal(got, []string{"round-2-dyke.csv", "round-10-summit.csv", "round-3-words.gpx"}) {
		t.Errorf("the longest first: %q", got)
	}
	b.TypeIn("#find", "ROUND-")
	b.Click("#choose summary")
	b.Click("#show-1")
	b.WaitGone(`[data-key="sort:rider:Bram"]`)
	if address := b.Address(); address != "/#view=times&sort=distance&down=1&find=ROUND-&show=Nour&show=Ilse" {
		t.Errorf("the address: %s", address)
	}
	b.Reload()
	b.WaitFor(`th[aria-sort="descending"]`)
	for _, c := range []struct{ link, name, path string }{
		{"#take-rounds", "rounds.csv", "/rounds.csv"}, {"#take-answers", "answers.json", "/answers.json"},
	} {
		name, content := b.Download(func() { b.Click(c.link) })
		want := ask(w, "GET", c.path+"?round=round-2-dyke.csv&round=round-10-summit.csv&round=round-3-words.gpx&rider=Nour&rider=Ilse").Body.String()
		if name != c.name || string(content) != want || strings.Contains(want, "Bram") {
			t.Errorf("%s: %s", name, content)
		}
	}
	b.TypeIn("#find", "dyke")
	b.WaitGone(`[data-key="go:round:round-10-summit.csv"]`)
	b.TypeIn("#find", "nowhere")
	b.WaitText("#view", "No round has that in its name.")
	b.Set("#units", "imperial")
	b.Set("#find", "")
	b.WaitText("#view thead", "miles")
	b.Media("print", browsertest.Light)
	if b.Visible("#tools") || !b.Visible("#view table") {
		t.Error("printed are the tools, or not the table")
	}
}

// The page follows what its program learns: rounds as they come, a service that goes away and
// comes back, and a program that does.
func TestBrowserFollows(t *testing.T) {
	if testing.Short() {
		t.Skip("browsers aren't short")
	}
	from := answering()
	from.step = make(chan struct{})
	r, hands, _ := refresherOf(t, from)
	hands.at = time.Now()
	w := &web{board: r.board, pictures: &pictures{&forgetful{}, r.inputs.open}}
	gone := make(chan bool, 1)
	gone <- false
	b := browsertest.New(t, http.HandlerFunc(func(out http.ResponseWriter, request *http.Request) {
		away := <-gone
		gone <- away
		if away {
			http.Error(out, "gone", http.StatusBadGateway)
			return
		}
		w.handler().ServeHTTP(out, request)
	}))
	b.Allow(http.StatusBadGateway)
	done := make(chan struct{})
	go func() { defer close(done); r.look(t.Context()) }()
	b.Open("/")
	b.WaitText("#view tbody", "not answered yet")
	b.WaitText("#age", "There is no whole answer yet.")
	from.step <- struct{}{}
	b.WaitText("#view tbody", "16:40")
	b.WaitText("#done", "1 of 3")
	close(from.step)
	<-done
	b.WaitText("#view tbody", "33:20")
	b.WaitText("#status", "Up to date.")
	b.WaitGone("#progress")

	from.set(func(f *fake) { f.away = errGone })
	hands.pass(5 * time.Minute)
	r.look(t.Context())
	b.WaitText("#state.stale #status", "The service doesn't answer.")
	b.WaitText("#view tbody", "33:20")
	b.CheckView("season-stale", browsertest.NarrowDark, "#state")
	from.set(func(f *fake) { f.away, f.lines[0] = nil, item(0, 1200) })
	write(t, r.inputs.path("round-2-dyke.csv"), profile(5, func(int) int { return 1 }))
	r.look(t.Context())
	b.WaitText("#view tbody", "20:00")

	<-gone
	gone <- true
	b.WaitText("#state.stale #status", "The program behind this page doesn't answer.")
	<-gone
	gone <- false
	b.WaitText("#state.current #status", "Up to date.")
	b.Forgive() // the browser's words for what was away
}
