package api

import (
	"context"
	"fmt"
	"math"

	"github.com/gin-gonic/gin"

	"parcours.example/analysis"
	"parcours.example/analysis/capability"
	. "parcours.example/api/contract" //nolint:revive // generated code does the same
	"parcours.example/service/engine"
)

// FitRider implements POST /v1/riders/fit.
func (s *server) FitRider(c *gin.Context) {
	answerJSON(s, c, "fit", func(ctx context.Context, request *CapabilityRequest) (any, error) {
		fitted, err := s.engine.Fit(ctx, engine.Efforts{
			Efforts:    each(request.Efforts, decodeMaximalEffort),
			DurationsS: valueOr(request.DurationsS, nil), PowersW: valueOr(request.PowersW, nil),
		})
		if err != nil {
			return nil, err
		}
		return encodeCapability(fitted), nil
	})
}

func decodeMaximalEffort(e MaximalEffort) capability.Effort {
	return capability.Effort{DurationS: e.DurationS, PowerW: e.PowerW, Weight: number(e.Weight)}
}

// encodeCapability writes a rider's capability as the contract has it.
func encodeCapability(f *engine.Fitted) *Capability {
	best := f.Fits[f.Best]
	out := &Capability{
		EngineVersion: analysis.EngineVersion,
		Rider: RiderCapability{
			CriticalPowerW: round(best.CriticalPowerW, decimalsPower), WPrimeJ: round(best.WPrimeJ, decimalsWork),
			MaxPowerW: finite(best.MaxPowerW, decimalsPower),
		},
		BestFit: FitKind(best.Kind), Reason: f.Reason, Rule: capability.Rule,
		Fits: make([]CapabilityFit, len(f.Fits)),
		AbsentFits: each(f.Absent, func(a capability.Absence) AbsentFit {
			return AbsentFit{Kind: FitKind(a.Kind), Code: a.Code, Detail: a.Detail}
		}),
		Warnings: each(f.Warnings, encodeCapabilityWarning),
		Cautions: []string{
			"Maximal efforts are for healthy, trained people; in doubt, ask a physician first.",
			"Ride them rested and warmed up, indoors or on closed roads; law and the traffic come first.",
			"The values are as good as the efforts were maximal; power beyond an hour falls below critical power.",
		},
	}
	for i := range f.Fits {
		out.Fits[i] = encodeFit(&f.Fits[i], f.Curves[i], f.Held[i])
	}
	return out
}

func encodeFit(f *capability.Fit, curve []engine.CurvePoint, held []engine.HeldPower) CapabilityFit {
	out := CapabilityFit{
		Kind: FitKind(f.Kind), Counts: f.Counts, CriticalPowerW: round(f.CriticalPowerW, decimalsPower), WPrimeJ: round(f.WPrimeJ, decimalsWork),
		MaxPowerW: finite(f.MaxPowerW, decimalsPower), CriticalPowerErrorW: finite(f.CriticalPowerErrorW, decimalsPower),
		WPrimeErrorJ: finite(f.WPrimeErrorJ, decimalsWork), MaxPowerErrorW: finite(f.MaxPowerErrorW, decimalsPower),
		DegreesOfFreedom: f.DegreesOfFreedom, RSquared: finite(f.RSquared, decimalsRatio),
		Curve: each(curve, encodeCurvePoint),
	}
	switch f.Kind {
	case capability.TwoParameterTime, capability.ThreeParameterTime:
		out.RegressedOn, out.ResidualSdS = CapabilityFitRegressedOnDurationS, finite(f.ResidualSD, decimalsM)
	case capability.WorkTimeLine:
		out.RegressedOn, out.ResidualSdJ = CapabilityFitRegressedOnWorkJ, finite(f.ResidualSD, decimalsWork)
	case capability.InverseTimeLine, capability.ThreeParameterPower:
		out.RegressedOn, out.ResidualSdW = CapabilityFitRegressedOnPowerW, finite(f.ResidualSD, decimalsPower)
	}
	if len(held) > 0 {
		all := each(held, encodeHeldPower)
		out.Held = &all
	}
	return out
}

func encodeCurvePoint(p engine.CurvePoint) CurvePoint {
	return CurvePoint{
		DurationS: p.DurationS, PowerW: round(p.PowerW, decimalsPower), Extrapolated: p.Extrapolated,
		PowerLowW: finite(max(0, p.PowerW-p.ErrorW), decimalsPower), PowerHighW: finite(p.PowerW+p.ErrorW, decimalsPower),
	}
}

func encodeHeldPower(p engine.HeldPower) HeldPower {
	return HeldPower{
		PowerW: p.PowerW, DurationS: finite(p.DurationS, decimalsM), Unlimited: math.IsInf(p.DurationS, 1),
		DurationLowS: finite(max(0, p.DurationS-p.ErrorS), decimalsM), DurationHighS: finite(p.DurationS+p.ErrorS, decimalsM),
	}
}

func encodeCapabilityWarning(w capability.Warning) CapabilityWarning {
	out := CapabilityWarning{Code: w.Code, Detail: w.Detail}
	if w.Kind != "" {
		kind := FitKind(w.Kind)
		out.Kind = &kind
	}
	if w.Effort >= 0 {
		out.Pointer = optional(fmt.Sprintf("#/efforts/%d", w.Effort))
	}
	return out
}
