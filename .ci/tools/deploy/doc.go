// Package deploy holds what stands in deploy/ against the code that will read it: BuildKit's
// parser of container files, the loader of compose files, and the validation of Kubernetes'
// own API server; and against the service's settings. It is a module of its own, so that none
// of it is a dependency of the service.
package deploy
