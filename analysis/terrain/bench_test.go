package terrain

import (
	"fmt"
	"testing"
)

func BenchmarkAnalyse(b *testing.B) {
	for _, nodes := range []int{1_000, 10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(nodes), func(b *testing.B) {
			c := hills(nodes).course()
			b.ReportAllocs()
			for b.Loop() {
				dissect(c)
			}
		})
	}
}
