package deploy

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/compose-spec/compose-go/v2/cli"
	"github.com/compose-spec/compose-go/v2/types"
)

func TestCompose(t *testing.T) {
	options, err := cli.NewProjectOptions([]string{above + "deploy/compose.yaml"})
	if err != nil {
		t.Fatal(err)
	}
	project, err := options.LoadProject(t.Context()) // refuses what the specification doesn't know
	if err != nil {
		t.Fatal(err)
	}
	replicas, redis := 0, 0
	for name, s := range project.Services {
		checkConfined(t, name, s)
		switch {
		case strings.HasPrefix(name, "parcours-"):
			replicas++
			environment := settings{}
			for key, value := range s.Environment {
				environment[key] = *value
			}
			environment.check(t, time.Duration(*s.StopGracePeriod), int64(s.MemLimit))
			checkSecrets(t, name, s, environment)
			if s.HealthCheck == nil || strings.Join(s.HealthCheck.Test, " ") != "CMD /parcours health" {
				t.Errorf("%s: %v doesn't ask for its health", name, s.HealthCheck)
			}
		case name == "jobs-redis":
			command := strings.Join(s.Command, " ")
			for _, setting := range []string{"maxmemory-policy noeviction", "appendonly yes", "requirepass "} {
				if !strings.Contains(command, "\n"+setting) {
					t.Errorf("%s isn't told %s", name, setting)
				}
			}
		case name == "worker":
			environment := settings{}
			for key, value := range s.Environment {
				environment[key] = *value
			}
			environment.checkNames(t)
			checkSecrets(t, name, s, environment)
			if strings.Join(s.Command, " ") != "work" || environment["PARCOURS_JOBS_REDIS_URL"] == "" || time.Duration(*s.StopGracePeriod) <= environment.duration(t, "PARCOURS_STOP_GRACE") {
				t.Errorf("%s: %v with %v", name, s.Command, environment)
			}
		case strings.HasPrefix(name, "redis-") && name != "redis-cluster":
			redis++
			command := strings.Join(s.Command, " ")
			for _, setting := range []string{"maxmemory-policy allkeys-lru", "cluster-require-full-coverage no", `save ""`, "requirepass "} {
				if !strings.Contains(command, "\n"+setting) {
					t.Errorf("%s isn't told %s", name, setting)
				}
			}
		}
	}
	if replicas != 3 || redis != 3 {
		t.Errorf("%d replicas over %d masters", replicas, redis)
	}
	checkBalancer(t, project)
	checkProxies(t, project)
	if !project.Networks["cache"].Internal {
		t.Error("Redis' network leads outside")
	}
}

// checkConfined checks what holds for every container.
func checkConfined(t *testing.T, name string, s types.ServiceConfig) {
	t.Helper()
	if !s.ReadOnly || !slices.Equal(s.CapDrop, []string{"ALL"}) || !slices.Contains(s.SecurityOpt, "no-new-privileges:true") || s.Privileged {
		t.Errorf("%s isn't confined", name)
	}
	if user, _, _ := strings.Cut(s.User, ":"); user == "" || user == "0" || strings.Trim(user, "0123456789") != "" {
		t.Errorf("%s runs as %q", name, s.User)
	}
	if s.MemLimit == 0 || s.PidsLimit == 0 {
		t.Errorf("%s may use all memory or all processes", name)
	}
	if name != "redis-cluster" && s.HealthCheck == nil {
		t.Errorf("nobody asks for the health of %s", name)
	}
}

// checkSecrets checks that the files of secrets that a service is told are given to it.
func checkSecrets(t *testing.T, name string, s types.ServiceConfig, environment settings) {
	t.Helper()
	for key, value := range environment {
		secret, isSecret := strings.CutPrefix(value, "/run/secrets/")
		if isSecret && !slices.ContainsFunc(s.Secrets, func(c types.ServiceSecretConfig) bool { return c.Source == secret }) {
			t.Errorf("%s: %s names a secret that it isn't given", name, key)
		}
	}
}

// checkBalancer checks that the balancer finds each replica where it listens.
func checkBalancer(t *testing.T, project *types.Project) {
	t.Helper()
	balancer := project.Services["balancer"]
	for i := range 3 {
		name := fmt.Sprintf("parcours-%d", i+1)
		replica := project.Services[name]
		address := balancer.Environment[fmt.Sprintf("REPLICA_%d", i+1)]
		if address == nil || *address != name+*replica.Environment["PARCOURS_LISTEN"] {
			t.Errorf("the balancer looks for %s elsewhere", name)
		}
		if _, waits := balancer.DependsOn[name]; !waits {
			t.Errorf("the balancer doesn't wait for %s", name)
		}
	}
	for name, s := range project.Services {
		if name != "balancer" && len(s.Ports) > 0 {
			t.Errorf("%s is reached from outside past the balancer", name)
		}
	}
}

// checkProxies checks that the replicas trust the addresses of the balancer's network, and only those.
func checkProxies(t *testing.T, project *types.Project) {
	t.Helper()
	for name, s := range project.Services {
		trusted := s.Environment["PARCOURS_TRUSTED_PROXIES"]
		if strings.HasPrefix(name, "parcours-") && (trusted == nil || *trusted != project.Networks["callers"].Ipam.Config[0].Subnet) {
			t.Errorf("%s doesn't trust the balancer's network alone", name)
		}
	}
}
