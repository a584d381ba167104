package cache

import (
	"errors"
	"fmt"
	"net/url"
	"time"

	"github.com/redis/go-redis/v9"
	"github.com/redis/go-redis/v9/maintnotifications"
)

// masterParameter of a URL names the master of a Sentinel set.
const masterParameter = "master"

// Check reports all that is wrong with the addresses of a Redis and its password, without
// repeating them: the addresses may hold a password too.
func Check(urls []string, password string) error {
	_, err := optionsOf(urls, password)
	return err
}

// optionsOf reads the addresses of Redis: redis://[user:password@]host:port[/database], or
// rediss:// for TLS. Several are the nodes of a Cluster; with ?master=NAME, one or several
// Sentinels that know where the master is. The password stands in all addresses or none, or is
// given beside them.
func optionsOf(urls []string, password string) (*redis.UniversalOptions, error) {
	if len(urls) == 0 {
		return nil, errors.New("cache: no address of a Redis is given")
	}
	o := &redis.UniversalOptions{
		// The library's own waits are those of a database: ten seconds for one answer.
		DialTimeout: 200 * time.Millisecond, ReadTimeout: 150 * time.Millisecond, WriteTimeout: 150 * time.Millisecond,
		PoolTimeout: 100 * time.Millisecond, MaxRetries: -1, DialerRetries: 1, ContextTimeoutEnabled: true,
		MaxRedirects: 3, MinRetryBackoff: -1, MaxRetryBackoff: -1, IsClusterMode: len(urls) > 1,
		// These are of no use here, and handshakes of more steps take longer.
		MaintNotificationsConfig: &maintnotifications.Config{Mode: maintnotifications.ModeDisabled}, DisableIdentity: true,
	}
	var faults []error
	for i, text := range urls {
		if err := addAddress(o, text, i == 0); err != nil {
			faults = append(faults, fmt.Errorf("cache: address %d of Redis: %w", i+1, err))
		}
	}
	if o.MasterName != "" {
		o.IsClusterMode = false
	}
	if o.IsClusterMode && o.DB != 0 {
		faults = append(faults, errors.New("cache: a Cluster of Redis has one database, 0"))
	}
	if o.TLSConfig != nil && (len(urls) > 1 || o.MasterName != "") {
		o.TLSConfig.ServerName = "" // each server's certificate is held against its own name, not the first's
	}
	if password != "" {
		if o.Password != "" {
			faults = append(faults, errors.New("cache: the password of Redis is given in the addresses and beside them"))
		}
		o.Password = password
	}
	return o, errors.Join(faults...)
}

// newClient returns the client that the options ask for. It makes no connection yet.
func newClient(o *redis.UniversalOptions) redis.UniversalClient {
	if !o.IsClusterMode {
		return redis.NewUniversalClient(o)
	}
	c := o.Cluster()
	c.DisableRoutingPolicies = true // they ask the servers for a list of commands, and wait for it past any deadline
	c.ClusterStateReloadInterval = 10 * time.Second
	return redis.NewClusterClient(c)
}

// addAddress adds one server. Errors don't repeat the text, which may hold a password.
func addAddress(o *redis.UniversalOptions, text string, first bool) error {
	u, err := url.Parse(text)
	if err != nil {
		return errors.New("it is no URL like redis://host:6379")
	}
	query := u.Query()
	master := query.Get(masterParameter)
	query.Del(masterParameter)
	if len(query) > 0 {
		return errors.New("it has a parameter other than " + masterParameter)
	}
	u.RawQuery = ""
	one, err := redis.ParseURL(u.String())
	if err != nil || one.Network != "tcp" {
		return errors.New("it is no URL like redis://host:6379")
	}
	o.Addrs = append(o.Addrs, one.Addr)
	switch {
	case first:
		o.Username, o.Password, o.DB, o.TLSConfig, o.MasterName = one.Username, one.Password, one.DB, one.TLSConfig, master
	case one.Username != o.Username || one.Password != o.Password || one.DB != o.DB || (one.TLSConfig == nil) != (o.TLSConfig == nil) || master != o.MasterName:
		return errors.New("user, password, database, master and TLS must be those of the first")
	}
	return nil
}
