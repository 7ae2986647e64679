package main

import (
	"encoding/json"
	"fmt"
	"log"
	"net/http"
	"os"
	"strings"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// exporter is the least that brings readings of CO to Prometheus: a bare
// subscriber that sets a gauge for each heater. It is a process of its own,
// so that its processor time can be told. Its arguments are the broker, where
// to listen, and the client id.
func exporter() {
	broker, listen, id := os.Args[1], os.Args[2], os.Args[3]
	co := prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "co_ppm", Help: "Carbon monoxide as last measured."}, []string{"heater"})
	registry := prometheus.NewRegistry()
	registry.MustRegister(co)
	c := paho.NewClient(paho.NewClientOptions().AddBroker(broker).SetClientID(id))
	connected := c.Connect()
	connected.Wait()
	subscribed := c.Subscribe("sites/+/nodes/+/telemetry", 1, func(_ paho.Client, m paho.Message) { setCO(co, m) })
	subscribed.Wait()
	if connected.Error() != nil || subscribed.Error() != nil {
		log.Fatal(connected.Error(), subscribed.Error())
	}
	fmt.Println("subscribed")
	http.Handle("/metrics", promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	log.Fatal(http.ListenAndServe(listen, nil)) //nolint:gosec // on loopback, for a benchmark
}

func setCO(co *prometheus.GaugeVec, m paho.Message) {
	var pack []struct {
		N string
		V float64
	}
	if json.Unmarshal(m.Payload(), &pack) != nil {
		return
	}
	for _, r := range pack {
		if r.N == "co" {
			co.WithLabelValues(strings.Split(m.Topic(), "/")[3]).Set(r.V)
		}
	}
}
