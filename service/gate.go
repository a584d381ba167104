package main

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strings"

	"parcours.example/api"
	"parcours.example/service/cache"
	"parcours.example/service/keys"
	"parcours.example/service/quota"
)

// openGate opens the file of keys, if there is one, and what counts calls. The file is watched
// until unwatch is called.
func openGate(cfg *api.Config, s settings, shared *cache.Shared) (unwatch func(), err error) {
	if cfg.Quotas, err = quota.New(quota.Config{Shared: shared, Registerer: cfg.Registry}); err != nil {
		return nil, err
	}
	if s.keysFile == "" {
		return func() {}, nil
	}
	if cfg.Keys, err = keys.Open(s.keysFile, cfg.Logger, cfg.Registry); err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(context.Background())
	go cfg.Keys.Watch(ctx)
	return stop, nil
}

// keysFile reads a file of keys, so that its faults are named with all others.
func (r *reader) keysFile(flag, name string) string {
	if name != "" {
		if err := keys.Check(name); err != nil {
			r.faults = append(r.faults, fmt.Errorf("--%s (%s): %w", flag, environmentTwin(flag), err))
		}
	}
	return name
}

// idle names the settings that would do nothing.
func (r *reader) idle(s settings) {
	if s.keysFile != "" && s.ratePerAddress > 0 {
		r.faults = append(r.faults, errors.New("--rate-per-address (PARCOURS_RATE_PER_ADDRESS): where there are keys, their clients have quotas, and addresses none"))
	}
	if s.jobWorkers == 0 && len(s.jobsRedisURLs) == 0 {
		r.faults = append(r.faults, errors.New("--job-workers (PARCOURS_JOB_WORKERS): 0 without --jobs-redis-url, and nobody would work on jobs"))
	}
	if len(s.trustedProxies) > 0 && s.ratePerAddress == 0 {
		r.faults = append(r.faults, errors.New("--trusted-proxies (PARCOURS_TRUSTED_PROXIES): nothing but --rate-per-address asks where a call comes from"))
	}
}

// ratePerAddress reads a quota, 0 for none.
func (r *reader) ratePerAddress(flag, text string) int64 {
	if text == "0" {
		return 0
	}
	return r.integer(flag, text, quota.MostCost, quota.MostUnits)
}

// list reads texts apart by commas.
func (r *reader) list(flag, text string, is func(string) bool, want string) []string {
	if text == "" {
		return nil
	}
	list := strings.Split(text, ",")
	if !slices.ContainsFunc(list, func(s string) bool { return !is(s) }) {
		return list
	}
	r.fault(flag, text, want)
	return nil
}

// isNetwork reports whether a text is an address or a network.
func isNetwork(text string) bool {
	_, err := netip.ParseAddr(text)
	if err != nil {
		_, err = netip.ParsePrefix(text)
	}
	return err == nil
}
