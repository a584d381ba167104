package engine

import (
	"errors"
	"math"
	"regexp"
	"strings"
	"testing"
)

func TestParseRider(t *testing.T) {
	r, err := ParseRider(" mass = 72.5 , power=250,name=Ada Oster,HEIGHT=1.75,cda=0.3,cp=240,wprime=18000")
	if err != nil {
		t.Fatal(err)
	}
	got := []float64{r.MassKg, r.PowerW, r.HeightM, r.CdAM2, r.CriticalPowerW, r.WPrimeJ}
	want := []float64{72.5, 250, 1.75, 0.3, 240, 18000}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("value %d: %v, want %v", i, got[i], want[i])
		}
	}
	if r.Name != "Ada Oster" {
		t.Errorf("name %q", r.Name)
	}
	if !math.IsNaN(r.MaxPowerW) || r.Best {
		t.Errorf("maximal power %v, best %v, want neither given", r.MaxPowerW, r.Best)
	}
	if r, err := ParseRider("mass=72,effort=best,cp=240,wprime=15000"); err != nil || !r.Best {
		t.Errorf("%+v, %v; want the best effort", r, err)
	}
}

func TestParseRiderLeavesTheRestUnknown(t *testing.T) {
	r, err := ParseRider("mass=72")
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range []float64{r.PowerW, r.HeightM, r.CdAM2, r.CriticalPowerW, r.WPrimeJ, r.MaxPowerW, r.RecoveryRate, r.GrossEfficiency} {
		if !math.IsNaN(x) {
			t.Errorf("value %d is %v, want NaN", i, x)
		}
	}
}

func TestParseRiderFaults(t *testing.T) {
	for _, tc := range []struct{ text, says string }{
		{"", "key=value"},
		{"mass", "key=value"},
		{"power=250", "needs a mass"},
		{"mass=72,mass=73", "twice"},
		{"mass=72,MASS=73", "twice"},
		{"mass=heavy", "from 20 to 250 kg"},
		{"mass=19.9", "from 20 to 250 kg"},
		{"mass=250.1", "from 20 to 250 kg"},
		{"mass=NaN", "from 20 to 250 kg"},
		{"mass=72,power=Inf", "from 0 to 4000 W"},
		{"mass=72,power=-1", "from 0 to 4000 W"},
		{"mass=72,colour=red", "not known"},
		{"mass=72,effort=hard", "the effort is best"},
		{"mass=72,effort=best", "needs cp and wprime"},
		{"mass=72,effort=best,cp=240", "needs cp and wprime"},
		{"mass=72,effort=best,cp=240,wprime=15000,power=250", "not both"},
		{"mass=72,", "key=value"},
		{"mass=72,name=" + strings.Repeat("n", 201), "longer than 200"},
		{"mass=72,name=\xff", "longer than 200"},
		{strings.Repeat("x", 1000), "…"},
	} {
		t.Run(tc.text, func(t *testing.T) {
			_, err := ParseRider(tc.text)
			var asked *Error
			if !errors.As(err, &asked) {
				t.Fatalf("error %v, want an *Error", err)
			}
			if asked.Code != CodeInvalid || asked.Parameter != "rider" || !strings.Contains(asked.Detail, tc.says) {
				t.Errorf("%+v, want it to say %q", asked, tc.says)
			}
			if len(asked.Detail) > 300 {
				t.Errorf("detail of %d bytes", len(asked.Detail))
			}
		})
	}
}

// FuzzShortForms reads any text as a rider, a mark and a time of day, as queries hold them.
func FuzzShortForms(f *testing.F) {
	for _, text := range []string{
		"mass=72,power=250", "mass=72,name=a=b", "name=Mill,kind=sprint,at_m=4200", "name=Mill,lat_deg=47.1,lon_deg=3.2,heading_deg=120",
		"13:05", "13:05:30", "24:00", "1:5", "",
	} {
		f.Add(text)
	}
	clock := regexp.MustCompile(`\A\d\d:\d\d(:\d\d)?\z`)
	f.Fuzz(func(t *testing.T, text string) {
		if r, err := ParseRider(text); err == nil && !(r.MassKg >= 20 && r.MassKg <= 250) {
			t.Errorf("mass %v", r.MassKg)
		}
		if m, err := ParseMark(text); err == nil && (m.Name == "" || m.Kind == "" || !(m.AtM >= 0) || math.IsNaN(m.Pos.Norm())) {
			t.Errorf("%+v", m)
		}
		if s, err := ParseTimeOfDay(text); err == nil && !(clock.MatchString(text) && 0 <= s && s < 86_400) {
			t.Errorf("%q is %v s after midnight", text, s)
		}
	})
}
