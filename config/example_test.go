package config_test

import (
	"fmt"

	"heaterd/config"
)

func ExampleParse() {
	_, err := config.Parse("heaterd.yaml", []byte(`
version: 1
sites:
  - id: quay
    timezone: Europe/Dublin
    spaces: [{ id: hall, volume_m3: 0.5 }]
heaters:
  - { id: H-07, site: quay, space: hal }
`), config.Options{})
	fmt.Println(err)
	// Output:
	// heaterd.yaml:5:5: sites[0].timezone: unknown key; did you mean time_zone?; allowed: activity, contacts, id, limits, name, planned_off, procedure, spaces, time_zone
	// heaterd.yaml:6:37: sites[0].spaces[0].volume_m3: found 0.5; allowed: 1 to 1000000 m³
	// heaterd.yaml:8:36: heaters[0].space: there is no space of site quay "hal"; did you mean hall?; allowed: hall
}
