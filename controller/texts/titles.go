package texts

import "strings"

// Titles are what people call the things of a site that have a title in the file,
// by their names there. Names stay in commands, addresses and records.
type Titles struct {
	Benches    map[string]string `json:"benches,omitempty"`
	Reservoirs map[string]string `json:"reservoirs,omitempty"`
	Batches    map[string]string `json:"batches,omitempty"`
	Plans      map[string]string `json:"plans,omitempty"`
}

// Bench is what people call the bench of a name: its title, or the name as it is
// read. So are Reservoir, Batch and Plan.
func (t Titles) Bench(name string) string { return called(name, t.Benches) }

// Reservoir is what people call the reservoir of a name.
func (t Titles) Reservoir(name string) string { return called(name, t.Reservoirs) }

// Batch is what people call the batch of a name.
func (t Titles) Batch(name string) string { return called(name, t.Batches) }

// Plan is what people call the plan of a name.
func (t Titles) Plan(name string) string { return called(name, t.Plans) }

// Place is what people call the bench, reservoir or batch of a name.
func (t Titles) Place(name string) string {
	return called(name, t.Benches, t.Reservoirs, t.Batches)
}

func called(name string, titles ...map[string]string) string {
	for _, of := range titles {
		if title := of[name]; title != "" {
			return title
		}
	}
	return Spaced(name)
}

// Spaced is a name of the file as it is read: basil_spring is basil spring.
func Spaced(name string) string { return strings.ReplaceAll(name, "_", " ") }

// Entitle gives the thing of a name a title; an empty one is none.
func Entitle(titles *map[string]string, name, title string) {
	if title == "" {
		return
	}
	if *titles == nil {
		*titles = map[string]string{}
	}
	(*titles)[name] = title
}

// Listed is how the command line lists a thing: by its title, and by the name that
// commands take; without a title by the name alone.
func Listed(name string, titles ...map[string]string) string {
	for _, of := range titles {
		if title := of[name]; title != "" && title != name {
			return title + " (" + name + ")"
		}
	}
	return name
}
