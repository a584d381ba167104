package quota

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"github.com/redis/go-redis/v9"

	"parcours.example/service/cache"
)

// countScript counts a call against all windows of a caller, or against none where one would
// be exceeded, in one trip; nothing comes between, so calls of several replicas all count.
//
// A window is a key that Redis forgets at its end, so that no clock but Redis' own matters. What
// isn't a number, or has no end, is overwritten.
// KEYS are the windows; ARGV is the cost and, for each window, its quota and its length in
// milliseconds. Answered is, for each, the units that were used before and the milliseconds
// that are left.
const countScript = `
local cost, fits, answer = tonumber(ARGV[1]), true, {}
for i, key in ipairs(KEYS) do
  local quota, length = tonumber(ARGV[2 * i]), tonumber(ARGV[2 * i + 1])
  local used, left = tonumber(redis.pcall('GET', key)), redis.call('PTTL', key)
  if not used or left <= 0 then used, left = 0, length end
  if used + cost > quota then fits = false end
  answer[2 * i - 1], answer[2 * i] = used, left
end
if fits then
  for i, key in ipairs(KEYS) do
    redis.call('SET', key, answer[2 * i - 1] + cost, 'PX', answer[2 * i])
  end
end
return answer
`

// shared counts in Redis.
type shared struct {
	redis  *cache.Shared
	script *redis.Script
}

func newShared(r *cache.Shared) *shared {
	return &shared{redis: r, script: redis.NewScript(countScript)}
}

// take counts a call. It fails where Redis is away, slow, or answers something else.
func (s *shared) take(ctx context.Context, caller string, windows []window, cost int64) (Verdict, error) {
	keys, args := make([]string, len(windows)), []any{cost}
	for i, w := range windows {
		keys[i] = key(caller, w.name)
		args = append(args, w.quota, w.length.Milliseconds())
	}
	answer, err := s.redis.Run(ctx, s.script, keys, args...)
	if err != nil {
		return Verdict{}, err
	}
	if len(answer) != 2*len(windows) {
		return Verdict{}, fmt.Errorf("quota: redis answers %d numbers for %d windows", len(answer), len(windows))
	}
	used := make([]tally, len(windows))
	for i := range used {
		used[i] = tally{answer[2*i], time.Duration(answer[2*i+1]) * time.Millisecond}
	}
	return verdict(windows, used, cost), nil
}

// key is where a window of a caller is counted. The caller's name isn't in it, only a digest;
// the braces keep the windows of a caller on one node of a Cluster, as a script wants them.
func key(caller, window string) string {
	digest := sha256.Sum256([]byte(caller))
	return "parcours:quota:{" + hex.EncodeToString(digest[:16]) + "}:" + window
}
