package capability

import (
	"fmt"
	"testing"
)

func BenchmarkDetermine(b *testing.B) {
	for _, n := range []int{5, 200} {
		var efforts []Effort
		for i := range n {
			s := 5 + 1800*float64(i)/float64(n-1)
			efforts = append(efforts, Effort{DurationS: s, PowerW: 260 + 20_000/(s+20) + float64(i%3), Weight: 1})
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := Determine(efforts); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
