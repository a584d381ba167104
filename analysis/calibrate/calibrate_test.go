package calibrate

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"parcours.example/analysis/ridden"
	"parcours.example/analysis/ride"
)

func mustFit(t *testing.T, opt Options, sessions ...Session) *Estimate {
	t.Helper()
	e, err := Fit(context.Background(), sessions, opt)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// changed is a session with its points changed.
func changed(s *Session, change func(p []ridden.Point)) Session {
	c := *s
	c.Ride.Points = slices.Clone(s.Ride.Points)
	change(c.Ride.Points)
	return c
}

// hilly is a ride over a hilly course with realistic errors.
func hilly(t *testing.T) trial {
	t.Helper()
	tr, _, ok := newTrial(t, 20261, realistic())
	if !ok {
		t.Fatal("the rider can't climb the course")
	}
	tr.session.Setup.Crr = 0.004
	return tr
}

// TestExcluded spoils seconds of a ride in each way that is looked for.
func TestExcluded(t *testing.T) {
	s := flat(t, 12000, ride.Effort{Kind: ride.ByPower, PowerW: 220}, 0.3, 0.004)
	for reason, spoil := range map[Reason]func(p []ridden.Point){
		Gap:      func(p []ridden.Point) { p[300].Broken = true },
		Standing: func(p []ridden.Point) { p[300].Stopped = true },
		NoPower:  func(p []ridden.Point) { p[300].PowerW = math.NaN() },
		NoSpeed:  func(p []ridden.Point) { p[300].SpeedMPS = math.NaN() },
		Braking: func(p []ridden.Point) {
			for i := range 3 {
				p[300+i].SpeedMPS -= 2.5 * float64(i+1)
				p[300+i].PowerW = 0
			}
		},
		OffCourse: func(p []ridden.Point) {
			for i := range p[:50] {
				p[i].AtM = 0
			}
		},
		TooSlow:  func([]ridden.Point) {},
		TooShort: func(p []ridden.Point) { p[300].Broken, p[304].Broken = true, true },
	} {
		e := mustFit(t, exact(), changed(s, spoil))
		if !slices.ContainsFunc(e.Excluded, func(x Exclusion) bool { return x.Reason == reason && x.TimeS > 0 }) {
			t.Errorf("%s: %+v", reason, e.Excluded)
		}
		if math.Abs(e.CdAM2/0.3-1) > 0.03 {
			t.Errorf("%s: drag area %.4f m², want 0.3", reason, e.CdAM2)
		}
	}
}

// TestInBend: what is ridden at a bend's limit doesn't count, whatever the rider did.
func TestInBend(t *testing.T) {
	tr := hilly(t)
	tr.session.Conditions.LateralMps2 = 0.5
	e := mustFit(t, exact(), *tr.session)
	if i := slices.IndexFunc(e.Excluded, func(x Exclusion) bool { return x.Reason == InBend }); i < 0 || e.Excluded[i].LengthM < 1000 {
		t.Errorf("with a lateral limit of 0.5 m/s²: %+v", e.Excluded)
	}
}

// TestDoubts: what a source of error brings is what the result moves by where the thing
// itself is changed by its standard deviation.
func TestDoubts(t *testing.T) {
	tr := hilly(t)
	tr.session.Conditions.TemperatureC = 20
	opt := exact()
	opt.Uncertainties = ride.Uncertainties{MassKg: 1, PowerPct: 2, TemperatureC: 5, Efficiency: 0.01, WindMps: 0.5, Crr: unset}
	base := mustFit(t, opt, *tr.session)
	for of, change := range map[SourceOf]func(s *Session){
		FromMass: func(s *Session) { s.Rider.MassKg++ },
		FromPower: func(s *Session) {
			*s = changed(s, func(p []ridden.Point) {
				for i := range p {
					p[i].PowerW *= 1.02
				}
			})
		},
		FromTemperature: func(s *Session) { s.Conditions.TemperatureC += 5 },
		FromEfficiency:  func(s *Session) { s.Setup.DrivetrainEfficiency = 0.987 },
	} {
		s := *tr.session
		change(&s)
		other := mustFit(t, opt, s)
		i := slices.IndexFunc(base.Sources, func(x Source) bool { return x.Of == of })
		if i < 0 {
			t.Errorf("%s is no source of %+v", of, base.Sources)
			continue
		}
		x := base.Sources[i]
		if got := math.Abs(other.CdAM2 - base.CdAM2); math.Abs(got-x.CdASE) > 0.1*x.CdASE+1e-4 {
			t.Errorf("%s moves drag by %.5f m², stated %.5f", of, got, x.CdASE)
		}
		if got := math.Abs(other.Crr - base.Crr); math.Abs(got-x.CrrSE) > 0.1*x.CrrSE+2e-5 {
			t.Errorf("%s moves rolling by %.6f, stated %.6f", of, got, x.CrrSE)
		}
	}
	sum := 0.0
	for _, x := range base.Sources {
		sum += x.CdASE * x.CdASE
	}
	if math.Abs(math.Sqrt(sum)/base.CdASE-1) > 1e-9 {
		t.Errorf("the sources come to %v, the whole is %v", math.Sqrt(sum), base.CdASE)
	}
}

// TestPowerMeter: a meter that reads 4 % low, or 8 W high while pedalling, is found out
// where a hill tells what power must have been.
func TestPowerMeter(t *testing.T) {
	tr := hilly(t)
	opt := exact()
	opt.PowerScale, opt.Uncertainties.PowerPct = true, 5
	e := mustFit(t, opt, changed(tr.session, func(p []ridden.Point) {
		for i := range p {
			p[i].PowerW /= 1.04
		}
	}))
	if math.Abs(e.PowerScale-1.04) > 2*e.PowerScaleSE || e.PowerScaleSE > 0.02 {
		t.Errorf("scale %.4f ± %.4f, want 1.04", e.PowerScale, e.PowerScaleSE)
	}
	if math.Abs(e.CdAM2-tr.cda) > 2*e.CdASE {
		t.Errorf("drag area %.4f ± %.4f m², want %.4f", e.CdAM2, e.CdASE, tr.cda)
	}
	opt.PowerScale, opt.PowerOffset = false, true
	e = mustFit(t, opt, changed(tr.session, func(p []ridden.Point) {
		for i := range p {
			if p[i].PowerW > 0 {
				p[i].PowerW += 8
			}
		}
	}))
	if math.Abs(e.PowerOffsetW+8) > 2*e.PowerOffsetWSE {
		t.Errorf("offset %.2f ± %.2f W, want −8", e.PowerOffsetW, e.PowerOffsetWSE)
	}
}

// TestTwoSpeeds: what one steady ride can't tell, two at different speeds can.
func TestTwoSpeeds(t *testing.T) {
	fast := flat(t, 20000, ride.Effort{Kind: ride.ByPower, PowerW: 280}, 0.3, 0.005)
	slow := flat(t, 20000, ride.Effort{Kind: ride.ByPower, PowerW: 90}, 0.3, 0.005)
	fast.Setup.Crr = 0.004
	if e := mustFit(t, exact(), *fast); !e.CrrAssumed || e.DragDetermined && math.Abs(e.CdAM2/0.3-1) > 0.06 {
		t.Errorf("one speed: Crr assumed %v, drag area %.4f m²", e.CrrAssumed, e.CdAM2)
	}
	e := mustFit(t, exact(), *fast, *slow)
	if e.CrrAssumed || math.Abs(e.CdAM2/0.3-1) > 0.03 || math.Abs(e.Crr/0.005-1) > 0.1 {
		t.Errorf("two speeds: drag area %.4f m², Crr %.5f, assumed %v", e.CdAM2, e.Crr, e.CrrAssumed)
	}
	if s := e.Applied(setup()); s.CdAM2 != e.CdAM2 || s.Crr != e.Crr {
		t.Errorf("applied %v, %v", s.CdAM2, s.Crr)
	}
}

// TestAbsurd: nobody gets a drag area that can't be without being told.
func TestAbsurd(t *testing.T) {
	s := flat(t, 12000, ride.Effort{Kind: ride.ByPower, PowerW: 220}, 0.3, 0.004)
	for factor, want := range map[float64]bool{0.2: true, 1: false, 3.5: true} {
		e := mustFit(t, exact(), changed(s, func(p []ridden.Point) {
			for i := range p {
				p[i].PowerW *= factor
			}
		}))
		if got := slices.ContainsFunc(e.Notes, func(n Note) bool { return n.Code == NoteImplausibleDrag }); got != want {
			t.Errorf("power times %v: drag area %.3f m², noted %v", factor, e.CdAM2, got)
		}
	}
}

// TestRefused says what can't be learned from.
func TestRefused(t *testing.T) {
	s := flat(t, 12000, ride.Effort{Kind: ride.ByPower, PowerW: 220}, 0.3, 0.004)
	short := *s
	short.Ride.Points = s.Ride.Points[:120]
	back := changed(s, func(p []ridden.Point) { p[20].AtM -= 100 })
	for name, c := range map[string]struct {
		sessions []Session
		code     string
		session  int
	}{
		"none":  {nil, CodeNoSessions, -1},
		"short": {[]Session{short}, CodeTooLittle, -1},
		"back":  {[]Session{*s, back}, CodeNotIncreasing, 1},
	} {
		_, err := Fit(context.Background(), c.sessions, exact())
		var e *Error
		if !errors.As(err, &e) || e.Code != c.code || e.Session != c.session {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Fit(ctx, []Session{*s}, exact()); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
