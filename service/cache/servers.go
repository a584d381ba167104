package cache

import (
	"context"
	"log/slog"
	"sync"

	"github.com/redis/go-redis/v9"
)

// servers are those of a Redis: one, or the nodes of a Cluster. Behind Sentinels the master
// counts as one, whichever it is.
type servers struct {
	client redis.UniversalClient
	logger *slog.Logger
	mu     sync.Mutex
	// by has a server for each address that there ever was.
	by map[string]*server
}

// watchServers hooks into a client.
func watchServers(client redis.UniversalClient, logger *slog.Logger) *servers {
	all := &servers{client: client, logger: logger, by: map[string]*server{}}
	switch c := client.(type) {
	case *redis.ClusterClient:
		c.OnNewNode(func(node *redis.Client) { node.AddHook(all.at(node)) })
	case *redis.Client:
		c.AddHook(all.at(c))
	}
	return all
}

// at returns the server of a client.
func (all *servers) at(c *redis.Client) *server {
	address := c.Options().Addr
	all.mu.Lock()
	defer all.mu.Unlock()
	s, ok := all.by[address]
	if !ok {
		s = &server{address: address, logger: all.logger}
		all.by[address] = s
	}
	return s
}

// of returns the server that keeps a key; nil where that isn't known.
func (all *servers) of(ctx context.Context, key string) *server {
	switch c := all.client.(type) {
	case *redis.ClusterClient:
		if node, err := c.MasterForKey(ctx, key); err == nil {
			return all.at(node)
		}
	case *redis.Client:
		return all.at(c)
	}
	return nil
}

// away returns the servers that are left alone.
func (all *servers) away() (left []*server) {
	all.mu.Lock()
	defer all.mu.Unlock()
	for _, s := range all.by {
		if s.away.Load() {
			left = append(left, s)
		}
	}
	return left
}

// probe asks the servers that are left alone whether they are back. In a Cluster it learns
// anew which servers there are; those that belong to it no more are forgiven.
func (all *servers) probe(ctx context.Context) {
	left := all.away()
	if len(left) == 0 {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithValue(ctx, probing{}, true), probeWait)
	defer cancel()
	switch c := all.client.(type) {
	case *redis.Client:
		all.at(c).probe(ctx, c)
	case *redis.ClusterClient:
		all.probeCluster(ctx, c, left)
	}
}

func (all *servers) probeCluster(ctx context.Context, c *redis.ClusterClient, left []*server) {
	var mu sync.Mutex
	member := map[*server]bool{}
	err := c.ForEachShard(ctx, func(ctx context.Context, node *redis.Client) error {
		s := all.at(node)
		mu.Lock()
		member[s] = true
		mu.Unlock()
		if s.away.Load() {
			s.probe(ctx, node)
		}
		return nil
	})
	if err != nil {
		return // no server knows the others
	}
	for _, s := range left {
		if !member[s] {
			s.back()
		}
	}
}
