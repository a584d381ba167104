package jobs

import (
	"errors"
	"log/slog"

	"github.com/redis/go-redis/v9"
)

// OpenShared fails: asynq isn't made for WebAssembly, which reaches no Redis either.
func OpenShared(Config, redis.UniversalClient, *slog.Logger) (*Local, error) {
	return nil, errors.New("jobs: there is no queue in a Redis here")
}
