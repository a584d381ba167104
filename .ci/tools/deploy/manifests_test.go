package deploy

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"k8s.io/apimachinery/pkg/runtime"
	"k8s.io/apimachinery/pkg/runtime/serializer"
	"k8s.io/apimachinery/pkg/util/validation/field"
	"k8s.io/apimachinery/pkg/util/yaml"
	"k8s.io/kubernetes/pkg/api/legacyscheme"
	"k8s.io/kubernetes/pkg/apis/apps"
	_ "k8s.io/kubernetes/pkg/apis/apps/install"
	appsvalidation "k8s.io/kubernetes/pkg/apis/apps/validation"
	"k8s.io/kubernetes/pkg/apis/autoscaling"
	_ "k8s.io/kubernetes/pkg/apis/autoscaling/install"
	autoscalingvalidation "k8s.io/kubernetes/pkg/apis/autoscaling/validation"
	"k8s.io/kubernetes/pkg/apis/core"
	_ "k8s.io/kubernetes/pkg/apis/core/install"
	corevalidation "k8s.io/kubernetes/pkg/apis/core/validation"
	"k8s.io/kubernetes/pkg/apis/networking"
	_ "k8s.io/kubernetes/pkg/apis/networking/install"
	networkingvalidation "k8s.io/kubernetes/pkg/apis/networking/validation"
	"k8s.io/kubernetes/pkg/apis/policy"
	_ "k8s.io/kubernetes/pkg/apis/policy/install"
	policyvalidation "k8s.io/kubernetes/pkg/apis/policy/validation"
)

// manifest is an object of deploy/kubernetes as it stands there, with the API server's defaults.
type manifest struct {
	file   string
	object runtime.Object
}

// manifests reads all manifests, in the order in which kubectl applies them, and refuses
// fields that Kubernetes doesn't know or that stand twice.
func manifests(t *testing.T) []manifest {
	t.Helper()
	names, err := filepath.Glob(above + "deploy/kubernetes/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	decoder := serializer.NewCodecFactory(legacyscheme.Scheme, serializer.EnableStrict).UniversalDeserializer()
	var all []manifest
	for _, name := range append(names, above+"deploy/kubernetes/example/secret.yaml") {
		file, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		documents := yaml.NewDocumentDecoder(file)
		buffer := make([]byte, 1<<20)
		for {
			n, err := documents.Read(buffer)
			if err != nil {
				break // the end; a document that is too large fails below for want of its objects
			}
			if len(bytes.TrimSpace(buffer[:n])) == 0 {
				continue
			}
			object, _, err := decoder.Decode(bytes.Clone(buffer[:n]), nil, nil)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			legacyscheme.Scheme.Default(object)
			all = append(all, manifest{filepath.Base(name), object})
		}
		_ = documents.Close()
	}
	return all
}

// What the API server would say of each object.
func TestManifestsAreValid(t *testing.T) {
	all := manifests(t)
	if len(all) != 12 {
		t.Errorf("%d objects", len(all))
	}
	for _, m := range all {
		internal, err := legacyscheme.Scheme.UnsafeConvertToVersion(m.object.DeepCopyObject(), runtime.InternalGroupVersioner)
		if err != nil {
			t.Fatalf("%s: %v", m.file, err)
		}
		for _, fault := range faults(t, internal) {
			t.Errorf("%s: %T: %v", m.file, m.object, fault)
		}
	}
}

func faults(t *testing.T, object runtime.Object) field.ErrorList {
	switch o := object.(type) {
	case *core.Namespace:
		return corevalidation.ValidateNamespace(o)
	case *core.ServiceAccount:
		return corevalidation.ValidateServiceAccount(o)
	case *core.ConfigMap:
		return corevalidation.ValidateConfigMap(o)
	case *core.Secret:
		return corevalidation.ValidateSecret(o)
	case *core.Service:
		return corevalidation.ValidateServiceCreate(o)
	case *apps.Deployment:
		return appsvalidation.ValidateDeployment(o, corevalidation.PodValidationOptions{})
	case *autoscaling.HorizontalPodAutoscaler:
		return autoscalingvalidation.ValidateHorizontalPodAutoscaler(o, autoscalingvalidation.HorizontalPodAutoscalerSpecValidationOptions{})
	case *policy.PodDisruptionBudget:
		return policyvalidation.ValidatePodDisruptionBudget(o, policyvalidation.PodDisruptionBudgetValidationOptions{})
	case *networking.NetworkPolicy:
		return networkingvalidation.ValidateNetworkPolicy(o, networkingvalidation.NetworkPolicyValidationOptions{})
	}
	t.Errorf("nothing validates %T", object)
	return nil
}
