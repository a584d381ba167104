package deploy

import (
	"fmt"
	"strings"
	"testing"
	"time"

	appsv1 "k8s.io/api/apps/v1"
	autoscalingv2 "k8s.io/api/autoscaling/v2"
	corev1 "k8s.io/api/core/v1"
	networkingv1 "k8s.io/api/networking/v1"
	policyv1 "k8s.io/api/policy/v1"
	metav1 "k8s.io/apimachinery/pkg/apis/meta/v1"
	"k8s.io/apimachinery/pkg/labels"
	"k8s.io/apimachinery/pkg/runtime"
	"k8s.io/pod-security-admission/api"
	"k8s.io/pod-security-admission/policy"
)

// deployments are those who answer, and those who work on jobs.
var deployments = []string{"parcours", "parcours-worker"}

// the returns the one manifest of a kind that is called so, as all are but those of workers.
func the[T runtime.Object](t *testing.T, name ...string) T {
	t.Helper()
	var found []T
	for _, m := range manifests(t) {
		named, _ := m.object.(metav1.Object)
		if o, is := m.object.(T); is && named.GetName() == append(name, "parcours")[0] {
			found = append(found, o)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d objects of %T", len(found), found)
	}
	return found[0]
}

// What Kubernetes asks of pods that nobody trusts.
func TestPodsAreRestricted(t *testing.T) {
	evaluator, err := policy.NewEvaluator(policy.DefaultChecks(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range deployments {
		checkRestricted(t, evaluator, the[*appsv1.Deployment](t, name).Spec.Template)
	}
}

func checkRestricted(t *testing.T, evaluator policy.Evaluator, pod corev1.PodTemplateSpec) {
	t.Helper()
	restricted := api.LevelVersion{Level: api.LevelRestricted, Version: api.LatestVersion()}
	result := policy.AggregateCheckResults(evaluator.EvaluatePod(restricted, &pod.ObjectMeta, &pod.Spec))
	if !result.Allowed {
		t.Error(result.ForbiddenDetail())
	}
	if c := pod.Spec.Containers[0]; !*c.SecurityContext.ReadOnlyRootFilesystem || *pod.Spec.AutomountServiceAccountToken || *pod.Spec.EnableServiceLinks {
		t.Error("pods can write, or know of Kubernetes what they needn't")
	}
	account := the[*corev1.ServiceAccount](t)
	if account.Name != pod.Spec.ServiceAccountName || *account.AutomountServiceAccountToken {
		t.Error("pods run under another account, or get its token")
	}
}

func TestPodsAreConfigured(t *testing.T) {
	for _, name := range deployments {
		checkConfigured(t, the[*appsv1.Deployment](t, name).Spec.Template.Spec)
	}
	if args := the[*appsv1.Deployment](t, "parcours-worker").Spec.Template.Spec.Containers[0].Args; len(args) != 1 || args[0] != "work" {
		t.Errorf("workers are told %v", args)
	}
}

func checkConfigured(t *testing.T, pod corev1.PodSpec) {
	t.Helper()
	container, config, secret := pod.Containers[0], the[*corev1.ConfigMap](t), the[*corev1.Secret](t)
	settings(config.Data).check(t, time.Duration(*pod.TerminationGracePeriodSeconds)*time.Second, container.Resources.Limits.Memory().Value())
	if container.EnvFrom[0].ConfigMapRef.Name != config.Name {
		t.Error("pods take their settings from elsewhere")
	}
	mount := container.VolumeMounts[0]
	if pod.Volumes[0].Name != mount.Name || pod.Volumes[0].Secret.SecretName != secret.Name {
		t.Error("pods take their secrets from elsewhere")
	}
	for name, value := range config.Data {
		if !strings.HasSuffix(name, "_FILE") {
			continue
		}
		file, mounted := strings.CutPrefix(value, mount.MountPath+"/")
		if _, held := secret.StringData[file]; !mounted || !held {
			t.Errorf("%s: the secret holds no %s", name, value)
		}
	}
	port := container.Ports[0]
	for i, listens := range []string{"PARCOURS_LISTEN", "PARCOURS_ADMIN_LISTEN"} {
		if config.Data[listens] != fmt.Sprintf(":%d", container.Ports[i].ContainerPort) {
			t.Errorf("%s: the port is %d", listens, container.Ports[i].ContainerPort)
		}
	}
	contract := read(t, "openapi.yaml")
	for _, probe := range []*corev1.Probe{container.StartupProbe, container.LivenessProbe, container.ReadinessProbe} {
		if !strings.Contains(contract, "\n  "+probe.HTTPGet.Path+":\n") || probe.HTTPGet.Port.StrVal != port.Name {
			t.Errorf("a probe asks for %s at %s", probe.HTTPGet.Path, probe.HTTPGet.Port.StrVal)
		}
	}
}

// Workers are scaled and disrupted by themselves, and no caller comes to them.
func TestWorkersAreApart(t *testing.T) {
	deployment := the[*appsv1.Deployment](t, "parcours-worker")
	pod := labels.Set(deployment.Spec.Template.Labels)
	for _, s := range []*metav1.LabelSelector{deployment.Spec.Selector, the[*policyv1.PodDisruptionBudget](t, "parcours-worker").Spec.Selector} {
		if selector, err := metav1.LabelSelectorAsSelector(s); err != nil || !selector.Matches(pod) {
			t.Errorf("%v doesn't select workers: %v", s, err)
		}
	}
	if labels.SelectorFromSet(the[*corev1.Service](t).Spec.Selector).Matches(pod) {
		t.Error("callers are sent to workers")
	}
	if scaled := the[*autoscalingv2.HorizontalPodAutoscaler](t, "parcours-worker").Spec.ScaleTargetRef; scaled.Name != deployment.Name {
		t.Errorf("%s is scaled instead", scaled.Name)
	}
}

// Whatever selects pods selects ours, and ports are called by their names.
func TestPodsAreSelected(t *testing.T) {
	deployment, service := the[*appsv1.Deployment](t), the[*corev1.Service](t)
	pod := labels.Set(deployment.Spec.Template.Labels)
	budget, network := the[*policyv1.PodDisruptionBudget](t), the[*networkingv1.NetworkPolicy](t)
	selectors := []*metav1.LabelSelector{deployment.Spec.Selector, budget.Spec.Selector, {MatchLabels: service.Spec.Selector}, &network.Spec.PodSelector}
	for _, spread := range deployment.Spec.Template.Spec.TopologySpreadConstraints {
		selectors = append(selectors, spread.LabelSelector)
	}
	for _, s := range selectors {
		selector, err := metav1.LabelSelectorAsSelector(s)
		if err != nil || !selector.Matches(pod) {
			t.Errorf("%v doesn't select the pods: %v", s, err)
		}
	}
	callers, admin := deployment.Spec.Template.Spec.Containers[0].Ports[0].Name, deployment.Spec.Template.Spec.Containers[0].Ports[1].Name
	if len(service.Spec.Ports) != 1 || service.Spec.Ports[0].TargetPort.StrVal != callers {
		t.Errorf("callers come to %v, not to %s alone", service.Spec.Ports, callers)
	}
	if in := network.Spec.Ingress; in[0].Ports[0].Port.StrVal != callers || in[1].Ports[0].Port.StrVal != admin {
		t.Errorf("%v isn't %s for the ingress and %s for Prometheus", in, callers, admin)
	}
	scaler := the[*autoscalingv2.HorizontalPodAutoscaler](t)
	if to := scaler.Spec.ScaleTargetRef; to.Name != deployment.Name || to.Kind != "Deployment" || to.APIVersion != "apps/v1" || *scaler.Spec.MinReplicas < 3 {
		t.Errorf("%v is scaled from %d on", to, *scaler.Spec.MinReplicas)
	}
	if deployment.Spec.Template.Spec.Containers[0].Resources.Requests.Cpu().IsZero() {
		t.Error("without a request of processors nothing is scaled")
	}
	for _, m := range manifests(t) {
		o := m.object.(metav1.Object)
		if _, isNamespace := m.object.(*corev1.Namespace); !isNamespace && o.GetNamespace() != the[*corev1.Namespace](t).Name {
			t.Errorf("%s: %s is in namespace %q", m.file, o.GetName(), o.GetNamespace())
		}
	}
}
