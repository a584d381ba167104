package api

//go:generate go tool -modfile=../.ci/tools/go.mod oapi-codegen -config ../.ci/tools/contract.yaml -o contract/contract.gen.go ../openapi.yaml
//go:generate go tool -modfile=../.ci/tools/go.mod oapi-codegen -config ../.ci/tools/routes.yaml -o routes.gen.go ../openapi.yaml
