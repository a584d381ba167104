package brief

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"parcours.example/analysis/course"
	"parcours.example/analysis/terrain"
	"parcours.example/analysis/wording"
)

// numbers are the numbers in a text, in digits and in words. "One" is an article as well,
// and no name in the fixtures but the hostile one's holds any of them.
var numbers = regexp.MustCompile(`[0-9]+([.,:][0-9]+)*|\b([Tt]wo|[Tt]wice|[Tt]hree|[Ff]our|[Ff]ive|[Ss]ix|[Ss]even|[Ee]ight|[Nn]ine|[Tt]en)\b`)

// TestNumbersAreFacts reads every rendering again: each number is that of the next fact,
// and no fact is left.
func TestNumbersAreFacts(t *testing.T) {
	eachBrief(func(name string, _ Input, b *Brief) {
		if strings.HasPrefix(name, "hostile") {
			return
		}
		var sections []string
		for _, s := range b.Sections {
			sections = append(append(sections, s.Heading), s.Lines...)
		}
		for _, text := range []string{b.Text, b.Markdown, strings.Join(sections, "\n")} {
			onlyFacts(t, name, text, b.Facts)
		}
	})
}

// eachBrief writes every fixture in either unit within every limit.
func eachBrief(see func(name string, in Input, b *Brief)) {
	for name, in := range fixtures() {
		for _, units := range []Units{Metric, Imperial} {
			for _, limit := range limits {
				in.Units, in.MaxChars = units, limit
				see(fmt.Sprintf("%s %s %d", name, units, limit), in, Write(in))
			}
		}
	}
}

// onlyFacts takes the facts out of a text in order; a number may neither be left nor be
// cut.
func onlyFacts(t *testing.T, name, text string, facts []Fact) {
	t.Helper()
	for _, f := range facts {
		before, after, found := strings.Cut(text, f.Text)
		if !found || numbers.MatchString(before) {
			t.Fatalf("%s: before fact %+v stands %q", name, f, before)
		}
		follows := f.Text + after[:min(len(after), 20)]
		for _, at := range numbers.FindAllStringIndex(follows, 3) {
			if at[0] < len(f.Text) && at[1] > len(f.Text) {
				t.Fatalf("%s: fact %+v is cut out of %q", name, f, follows[at[0]:at[1]])
			}
		}
		text = after
	}
	if left := numbers.FindString(text); left != "" {
		t.Errorf("%s: no fact for %q in %q", name, left, text)
	}
}

// TestFactsAreTrue holds each fact's value against the course, the terrain or the ride
// itself, and its text against what the one formatter makes of that value.
func TestFactsAreTrue(t *testing.T) {
	eachBrief(func(name string, in Input, b *Brief) {
		truth := truths(in)
		for _, f := range b.Facts {
			want, known := truth[f.Name]
			if !known || want != f.Value {
				t.Fatalf("%s: %s is %v, in truth %v (known: %v)", name, f.Name, f.Value, want, known)
			}
			if texts := formatted(f, in); !slices.Contains(texts, lower(f.Text)) {
				t.Fatalf("%s: %s of %v reads %q, want one of %q", name, f.Name, f.Value, f.Text, texts)
			}
		}
	})
}

// lower undoes what a start of a sentence does to a word.
func lower(s string) string {
	if s[0] >= 'A' && s[0] <= 'Z' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}

// formatted are the texts that a fact may have by its unit.
func formatted(f Fact, in Input) []string {
	u, v := wording.Units{Imperial: in.Units == Imperial}, f.Value
	for _, r := range []struct {
		suffix string
		texts  []string
	}{
		{"elevation_noise_m", []string{u.Fine(v)}},
		{"radius_m", []string{u.Radius(v)}},
		{"bends.below_m", []string{u.Radius(v)}},
		{"max_window_m", []string{u.Height(v)}},
		{"ascent_m", []string{u.Height(v)}},
		{"unsmoothed_m", []string{u.Height(v)}},
		{"gain_m", []string{u.Height(v)}},
		{"drop_m", []string{u.Height(v)}},
		{"per_rise_m", []string{u.Length(v)}},
		{"rise_m", []string{u.Height(v)}},
		{"fall_m", []string{u.Height(v)}},
		{"elevation_m", []string{u.Height(math.Abs(v))}},
		{"_m", []string{u.Length(v), u.Bare(v)}},
		{"certainty_pct", []string{wording.Certainty(v)}},
		{"coverage_pct", []string{wording.Certainty(v)}},
		{"slower_pct", []string{wording.Certainty(v)}},
		{"_pct", []string{wording.Gradient(math.Abs(v)), wording.Slope(v)}},
		{"share_before_last_climb", []string{wording.Percent(v)}},
		{"agreement", []string{wording.Percent(v)}},
		{"_mps", []string{u.Speed(v)}},
		{"_w", []string{wording.Watts(v)}},
		{"_kg", []string{u.Mass(v)}},
		{"_s", []string{wording.Clock(v)}},
		{"expended_j", []string{wording.Kilocalories(v / 4184)}},
		{"_g_per_h", []string{wording.Grams(v), strings.TrimSuffix(wording.Grams(v), " g")}},
		{"_l_per_h", []string{u.Drink(v), strings.Fields(u.Drink(v))[0]}},
	} {
		if strings.HasSuffix(f.Name, r.suffix) {
			return r.texts
		}
	}
	n := int(v)
	return []string{wording.Small(n), wording.Count(n), map[int]string{1: "once", 2: "twice"}[n]}
}

// truths are the values of everything that a brief may tell, by the names of its facts.
func truths(in Input) map[string]float64 {
	c, t, l := in.Course, in.Terrain, in.Course.Laps
	end := c.LengthM()
	v := map[string]float64{
		"distance_m": end, "ascent_m": c.AscentM(0, end), "share_before_last_climb": t.Climbing.ShareBeforeLastClimb,
		"laps.count": float64(l.Count), "laps.length_m": l.LengthM, "laps.ascent_m": l.AscentM, "laps.agreement": l.Agreement,
		"max_window_m": t.MaxWindowM, "tight_bends.below_m": 30, "finish.window_m": 500,
		"rolling.mean_rise_m": t.Climbing.Rolling.MeanRiseM, "rolling.largest_rise_m": t.Climbing.Rolling.LargestRiseM,
		"rolling.distance_per_rise_m": 1000 / t.Climbing.Rolling.RisesPerKm,
		"steady.length_m":             t.Climbing.Rolling.LongestSteady.LengthM(), "steady.start_m": t.Climbing.Rolling.LongestSteady.StartM,
		"steady.mean_gradient_pct": t.Climbing.Rolling.LongestSteady.MeanGradientPct,
		"steep.from_pct":           6, "very_steep.from_pct": 10,
		"quality.points_read": float64(c.Quality.PointsRead), "quality.points_dropped": float64(c.Quality.PointsDropped),
		"quality.elevation_noise_m": c.Quality.ElevationNoiseM, "quality.ascent_unsmoothed_m": c.Quality.AscentUnsmoothedM,
	}
	for _, b := range t.GradientBands {
		if b.FromPct >= 6 {
			v["steep.length_m"] += b.LengthM
		}
		if b.FromPct >= 10 {
			v["very_steep.length_m"] += b.LengthM
		}
	}
	if c.HasElevation() {
		v["min_elevation_m"], v["max_elevation_m"] = slices.Min(c.Z), slices.Max(c.Z)
		v["net_rise_m"] = c.Z[len(c.Z)-1] - c.Z[0]
		v["net_fall_m"] = -v["net_rise_m"]
		v["out.ascent_m"], v["back.ascent_m"] = c.AscentM(0, end/2), c.AscentM(end/2, end)
		v["finish.gradient_pct"] = 100 * (c.ElevationAt(end) - c.ElevationAt(max(end-500, 0))) / 500
	}
	partTruths(v, in)
	bendTruths(v, in)
	for i, k := range t.Climbs {
		climbTruths(v, in, i, k)
	}
	descentTruths(v, t)
	for i, m := range t.Marks {
		passTruths(v, in, m.ID, markPasses(m.Passes))
		v[m.ID+".number"], v[m.ID+".off_course_m"] = float64(i+1), m.OffCourseM
		for k, a := range m.Passes[0].Approach {
			fact := fmt.Sprintf("%s.approach-%d", m.ID, k+1)
			v[fact+".distance_m"], v[fact+".mean_gradient_pct"] = a.DistanceM, a.MeanGradientPct
			v[fact+".bends"], v[fact+".sharpest_radius_m"] = float64(a.Bends), a.SharpestRadiusM
		}
	}
	for i := range in.Rides {
		rideTruths(v, in, i)
	}
	for _, w := range c.Quality.Warnings {
		v["quality."+w.Code]++
		if _, seen := v["quality."+w.Code+".at_m"]; !seen {
			v["quality."+w.Code+".at_m"] = w.AtM
		}
	}
	return v
}

// partTruths are those of lead-in, laps, run-out and other circuits.
func partTruths(v map[string]float64, in Input) {
	for _, p := range in.Course.Parts {
		name := map[course.PartKind]string{course.LeadIn: "lead_in", course.RunOut: "run_out"}[p.Kind]
		v[name+".length_m"], v[name+".ascent_m"] = p.EndM-p.StartM, p.AscentM
		v[fmt.Sprintf("lap_starts.pass-%d.at_m", p.Lap)] = p.StartM
	}
	for i, o := range in.Course.OtherCircuits {
		name := fmt.Sprintf("other_circuits-%d", i+1)
		v[name+".count"], v[name+".length_m"], v[name+".ascent_m"] = float64(o.Count), o.LengthM, o.AscentM
		v[name+".start_m"], v[name+".end_m"] = o.StartM, o.EndM
	}
	for _, f := range in.Terrain.Climbing.FalseFlats {
		v["false_flats"]++
		v["false_flat.length_m"], v["false_flat.mean_gradient_pct"], v["false_flat.start_m"] = f.LengthM(), f.MeanGradientPct, f.StartM
	}
}

// bendTruths are those of the last lap's bends, the last of all, the tight ones outside
// laps and the turn.
func bendTruths(v map[string]float64, in Input) {
	lap, end := (writer{in: in}).lastLap(), in.Course.LengthM()
	v["turn.at_m"] = end / 2
	told := map[float64]bool{}
	for _, d := range in.Terrain.Descents {
		for _, b := range d.SharpestBends {
			told[b.AtM] = true
		}
	}
	onLap, tight := 0, 0
	for _, b := range in.Terrain.Bends {
		v["finish.bend.radius_m"], v["finish.bend.to_finish_m"] = b.RadiusM, end-b.AtM
		if b.AtM >= lap.StartM && b.AtM < lap.EndM {
			onLap++
			name := fmt.Sprintf("lap.bend-%d", onLap)
			v[name+".into_lap_m"], v[name+".radius_m"] = b.AtM-lap.StartM, b.RadiusM
		}
		if math.Abs(b.TurnDeg) > 120 && math.Abs(b.AtM-end/2) < 100 {
			v["turn.at_m"], v["turn.radius_m"] = b.AtM, b.RadiusM
			told[b.AtM] = true
		}
		if b.RadiusM < 30 && !told[b.AtM] {
			tight++
			v[fmt.Sprintf("tight_bends-%d.at_m", tight)] = b.AtM
		}
	}
	v["lap.bends"], v["tight_bends"] = float64(onLap), float64(tight)
}

// passTruths are those of the passes of a place.
func passTruths(v map[string]float64, in Input, id string, passes []pass) {
	v[id+".passes"] = float64(len(passes))
	for i, p := range passes {
		fact := fmt.Sprintf("%s.pass-%d", id, i+1)
		v[fact+".at_m"], v[fact+".to_finish_m"], v[fact+".lap"] = p.at, p.toGo, float64(p.lap)
		for _, part := range in.Course.Parts {
			if _, seen := v[id+".into_lap_m"]; part.Kind == course.Lap && part.Lap == p.lap && !seen {
				v[id+".into_lap_m"], v[id+".first_lap"] = p.at-part.StartM, float64(p.lap)
			}
		}
		if p.lap > 0 {
			v[id+".last_lap"] = float64(p.lap)
		}
	}
}

// climbTruths are those of a climb.
func climbTruths(v map[string]float64, in Input, i int, k terrain.Climb) {
	passTruths(v, in, k.ID, climbPasses(k.Passes))
	last := k.Passes[len(k.Passes)-1]
	v[k.ID+".number"], v[k.ID+".length_m"], v[k.ID+".gain_m"] = float64(i+1), k.LengthM(), k.GainM
	v[k.ID+".mean_gradient_pct"], v[k.ID+".max_gradient_pct"] = k.MeanGradientPct, k.MaxGradientPct
	v[k.ID+".pass-1.end_m"], v[k.ID+".top_to_finish_m"] = k.EndM, in.Course.LengthM()-k.EndM
	v[k.ID+".last_top_to_finish_m"] = in.Course.LengthM() - last.EndM
	if k.ParentID == "" && k.PartOfID == "" {
		v["climbs"]++
	}
	for _, parent := range in.Terrain.Climbs {
		if parent.ID == k.ParentID {
			v[k.ID+".after_foot_m"] = k.StartM - parent.StartM
		}
	}
	for n, s := range k.Sections {
		fact := fmt.Sprintf("%s.section-%d", k.ID, n+1)
		v[fact+".start_m"], v[fact+".length_m"] = s.StartM, s.LengthM()
		v[fact+".mean_gradient_pct"], v[fact+".max_gradient_pct"] = s.MeanGradientPct, s.MaxGradientPct
		tightest := math.Inf(1)
		for _, b := range in.Terrain.Bends {
			if b.RadiusM < 30 && b.AtM >= s.StartM && b.AtM < s.EndM {
				v[fact+".bends"]++
				if b.RadiusM < tightest {
					tightest, v[fact+".bend-1.at_m"] = b.RadiusM, b.AtM
				}
			}
		}
	}
	for _, s := range k.Steepest {
		fact := fmt.Sprintf("%s.steepest-%.0f", k.ID, s.WindowM)
		v[fact+".window_m"], v[fact+".gradient_pct"], v[fact+".start_m"] = s.WindowM, s.GradientPct, s.StartM
	}
}

// descentTruths are those of the descents and of the valleys behind them.
func descentTruths(v map[string]float64, t *terrain.Terrain) {
	for _, d := range t.Descents {
		v[d.ID+".start_m"], v[d.ID+".length_m"], v[d.ID+".drop_m"] = d.StartM, d.LengthM(), d.DropM
		v[d.ID+".mean_gradient_pct"], v[d.ID+".passes"] = -d.MeanGradientPct, float64(len(d.Passes))
		for _, b := range d.SharpestBends {
			v[d.ID+".bend-1.radius_m"], v[d.ID+".bend-1.at_m"] = b.RadiusM, b.AtM
		}
		for _, k := range t.Climbs {
			if _, seen := v[d.ID+".valley_m"]; k.StartM > d.EndM && !seen {
				v[d.ID+".valley_m"] = k.StartM - d.EndM
			}
		}
	}
}

// rideTruths are those of a ride, and what all rides take.
func rideTruths(v map[string]float64, in Input, i int) {
	r, id := in.Rides[i], fmt.Sprintf("prediction-%d", i+1)
	v[id+".number"], v[id+".mass_kg"], v[id+".time_s"], v[id+".mean_speed_mps"] = float64(i+1), r.MassKg, r.TimeS, r.MeanSpeedMps
	v[id+".mean_power_w"], v[id+".runs_dry_at_m"], v[id+".stops_at_m"] = r.MeanPowerW, r.RunsDryAtM, r.StopsAtM
	if b := r.Band; b != nil {
		v[id+".time_low_s"], v[id+".time_high_s"] = b.LowS, b.HighS
		v[id+".coverage_pct"], v[id+".slower_pct"] = b.CoveragePct, (100+b.CoveragePct)/2
	}
	if p := r.Pace; p != nil {
		v[id+".constant_power_w"], v[id+".gain_s"] = p.ConstantPowerW, p.GainS
	}
	times := func(id string, all []float64) {
		for k, t := range all {
			v[fmt.Sprintf("%s.pass-%d.time_s", id, k+1)] = t
		}
		if len(all) > 0 {
			v[id+".shortest_s"], v[id+".longest_s"] = slices.Min(all), slices.Max(all)
		}
	}
	for k, all := range r.ClimbTimesS {
		times(fmt.Sprintf("%s.climb-%d", id, k+1), all)
	}
	for k, all := range r.MarkClocksS {
		times(fmt.Sprintf("%s.mark-%d", id, k+1), all)
	}
	sum, laps := 0.0, 0.0
	for k, t := range r.PartTimesS {
		if in.Course.Parts[k].Kind == course.Lap {
			sum, laps = sum+t, laps+1
		}
	}
	v[id+".mean_lap_s"] = sum / laps
	if f := r.Food; f != nil {
		v[id+".energy_expended_j"] = f.EnergyJ
		v["food.carbohydrate_low_g_per_h"], v["food.carbohydrate_high_g_per_h"] = f.CarbohydrateGPerH.Low, f.CarbohydrateGPerH.High
		v["food.drink_low_l_per_h"], v["food.drink_high_l_per_h"] = f.DrinkLPerH.Low, f.DrinkLPerH.High
	}
}

// TestNothingIsToldTwice holds that no fact stands in two places.
func TestNothingIsToldTwice(t *testing.T) {
	for name, in := range fixtures() {
		toldOnce(t, name, Write(in))
	}
}

// again are the facts that may be told again: what a table of times repeats from the
// opening, names made of a number, the one window of maxima, and how long an approach is.
var again = regexp.MustCompile(`^prediction-\d+\.(time_s|mass_kg)$|\.number$|^max_window_m$|\.distance_m$`)

func toldOnce(t *testing.T, name string, b *Brief) {
	t.Helper()
	told := map[string]bool{}
	for _, f := range b.Facts {
		if told[f.Name] && !again.MatchString(f.Name) {
			t.Errorf("%s: %s is told twice", name, f.Name)
		}
		told[f.Name] = true
	}
}
