package course

import (
	"context"
	"errors"
	"testing"
)

func TestTooLongCoursesAreRefused(t *testing.T) {
	for name, tt := range map[string]struct {
		lengthM float64
		laps    int
		refused bool
	}{
		"at the limit":        {5e6, 0, false},
		"beyond it":           {5e6 + 1, 0, true},
		"laps at the limit":   {1e5, 50, false},
		"laps beyond":         {1e5, 51, true},
		"far beyond any race": {4e7, 0, true},
	} {
		opt := Defaults()
		opt.Smoothing, opt.Laps = None, tt.laps
		_, err := FromProfile(context.Background(), []float64{0, tt.lengthM / 2, tt.lengthM}, []float64{1, 2, 1}, opt)
		var refused *Error
		if errors.As(err, &refused) != tt.refused || (tt.refused && (refused.Code != "too-long" || refused.Limit != LongestM)) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
