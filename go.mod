module benchtide

go 1.26.0

require (
	github.com/alecthomas/kong v1.17.0 // indirect
	github.com/prometheus/client_golang v1.25.0 // indirect
	github.com/robfig/cron/v3 v3.0.1 // indirect
	github.com/rogpeppe/go-internal v1.16.0 // indirect
	github.com/stretchr/testify v1.12.1 // indirect
	go.yaml.in/yaml/v3 v3.0.6 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/term v0.48.0 // indirect
	periph.io/x/conn/v3 v3.7.3 // indirect
	periph.io/x/host/v3 v3.8.5 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
