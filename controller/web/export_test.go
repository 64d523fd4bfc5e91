package web

import "slices"

// Routes lists the operations that an API answers.
func Routes(a *API) (all []string) {
	for path, route := range a.routes {
		for method := range route {
			all = append(all, method+" /"+path)
		}
	}
	slices.Sort(all)
	return all
}

// MostClients bounds the event streams, MostOpen those of strangers, and
// StrangersAtOnce their other requests.
const (
	MostClients     = mostClients
	MostOpen        = mostOpen
	StrangersAtOnce = strangersAtOnce
	MostFields      = mostFields
)

// FailuresAtOnce and MostAddresses bound the log-ins that fail.
const (
	FailuresAtOnce = failuresAtOnce
	MostAddresses  = mostAddresses
)
