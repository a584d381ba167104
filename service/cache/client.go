package cache

import (
	"time"

	"github.com/redis/go-redis/v9"
)

// Client returns a client of a Redis that keeps what can't be computed again: its commands wait
// for seconds, and are tried again, where those of a Shared give up after some milliseconds. It
// makes no connection yet. It fails where the addresses or the password are wrong.
func Client(urls []string, password string) (redis.UniversalClient, error) {
	o, err := optionsOf(urls, password)
	if err != nil {
		return nil, err
	}
	redis.SetLogger(silent{})
	o.DialTimeout, o.ReadTimeout, o.WriteTimeout, o.PoolTimeout = time.Second, 3*time.Second, 3*time.Second, 3*time.Second
	o.MaxRetries, o.MinRetryBackoff, o.MaxRetryBackoff = 2, 100*time.Millisecond, 500*time.Millisecond
	return newClient(o), nil
}
