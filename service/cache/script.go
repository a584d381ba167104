package cache

import (
	"context"

	"github.com/redis/go-redis/v9"
)

// Run runs a script that answers whole numbers. It waits at most some tens of milliseconds and
// fails where Redis is away, slow, or answers something else.
func (s *Shared) Run(ctx context.Context, script *redis.Script, keys []string, args ...any) (answer []int64, err error) {
	ctx, cancel := context.WithTimeout(ctx, readWait)
	defer cancel()
	defer s.meter.time(tripScript)()
	return script.Run(ctx, s.client, keys, args...).Int64Slice()
}
