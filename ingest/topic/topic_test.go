package topic_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heaterd/ingest/topic"
)

// The statements of MQTT 3.1.1 (OASIS, 2014) sections 4.7.1 to 4.7.3.
func TestPublishedMatch(t *testing.T) {
	for _, c := range []struct {
		section, filter, topic string
		want                   bool
	}{
		{"4.7.1.2", "sport/tennis/player1/#", "sport/tennis/player1", true},
		{"4.7.1.2", "sport/tennis/player1/#", "sport/tennis/player1/ranking", true},
		{"4.7.1.2", "sport/#", "sport", true},
		{"4.7.1.2", "#", "sport/tennis", true},
		{"4.7.1.3", "sport/tennis/+", "sport/tennis/player1", true},
		{"4.7.1.3", "sport/tennis/+", "sport/tennis/player2", true},
		{"4.7.1.3", "sport/tennis/+", "sport/tennis/player1/ranking", false},
		{"4.7.1.3", "sport/+", "sport", false},
		{"4.7.1.3", "sport/+", "sport/", true},
		{"4.7.1.3", "+/+", "/finance", true},
		{"4.7.1.3", "/+", "/finance", true},
		{"4.7.1.3", "+", "/finance", false},
		{"4.7.2", "#", "$SYS/broker", false},
		{"4.7.2", "+/monitor/Clients", "$SYS/monitor/Clients", false},
		{"4.7.2", "$SYS/#", "$SYS/broker", true},
		{"4.7.2", "$SYS/monitor/+", "$SYS/monitor/Clients", true},
		{"4.7.3", "ACCOUNTS", "Accounts", false},
		{"4.7.3", "finance", "/finance", false},
	} {
		got := topic.Match(c.filter, c.topic)
		t.Logf("filter %s topic %s, MQTT 3.1.1 section %s: expected %t, got %t", c.filter, c.topic, c.section, c.want, got)
		if got != c.want {
			t.Errorf("%s on %s: got %t", c.filter, c.topic, got)
		}
	}
}

func TestPublishedFilters(t *testing.T) {
	for _, c := range []struct {
		section, filter string
		want            bool
	}{
		{"4.7.1.2", "#", true},
		{"4.7.1.2", "sport/tennis/#", true},
		{"4.7.1.2", "sport/tennis#", false},
		{"4.7.1.2", "sport/tennis/#/ranking", false},
		{"4.7.1.3", "+", true},
		{"4.7.1.3", "+/tennis/#", true},
		{"4.7.1.3", "sport+", false},
		{"4.7.1.3", "sport/+/player1", true},
		{"4.7.3", "", false},
		{"4.7.3", "a\x00b", false},
	} {
		err := topic.ValidFilter(c.filter)
		t.Logf("filter %q, MQTT 3.1.1 section %s: expected valid %t, got %v", c.filter, c.section, c.want, err)
		if (err == nil) != c.want {
			t.Errorf("%q: got %v", c.filter, err)
		}
	}
}

func TestLevel(t *testing.T) {
	for _, c := range []struct {
		topic string
		n     int
		want  string
		ok    bool
	}{
		{"sites/quay/nodes/n-07/telemetry", 4, "n-07", true},
		{"sites/quay/nodes/n-07/telemetry", 1, "sites", true},
		{"sites/quay/nodes/n-07/telemetry", 5, "telemetry", true},
		{"sites/quay/nodes/n-07/telemetry", 6, "", false},
		{"a//b", 2, "", true},
		{"a", 0, "a", false},
	} {
		got, ok := topic.Level(c.topic, c.n)
		if ok != c.ok || ok && got != c.want {
			t.Errorf("level %d of %s: got %q, %t", c.n, c.topic, got, ok)
		}
	}
}

func TestValidNode(t *testing.T) {
	for name, want := range map[string]bool{
		"n-07": true, "Ofen 7 ü": true, "": false, "a/b": false, "a+": false, "#": false, "a\nb": false, "a\u0085b": false, "a\u202eb": false, "\u2066a": false, "נ-7": true,
		"\xff": false, strings.Repeat("n", 64): true, strings.Repeat("n", 65): false,
	} {
		if err := topic.ValidNode(name); (err == nil) != want {
			t.Errorf("%q: got %v", name, err)
		}
	}
}

// slow is the same rule said in another way: level by level on split slices.
func slow(filter, name string) bool {
	f, n := strings.Split(filter, "/"), strings.Split(name, "/")
	if name == "" || strings.ContainsAny(name, "+#\x00") || strings.HasPrefix(name, "$") && !strings.HasPrefix(filter, "$") {
		return false
	}
	for i, want := range f {
		if want == "#" {
			return i <= len(n)
		}
		if i >= len(n) || want != "+" && want != n[i] {
			return false
		}
	}
	return len(f) == len(n)
}

func TestMatchIsTheRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.SampledFrom([]string{"a", "b", "+", "#", "", "$S"})
		filter := strings.Join(rapid.SliceOfN(level, 1, 5).Draw(t, "filter"), "/")
		name := strings.Join(rapid.SliceOfN(level, 1, 5).Draw(t, "topic"), "/")
		if topic.ValidFilter(filter) == nil && topic.Match(filter, name) != slow(filter, name) {
			t.Fatalf("%q on %q: got %t", filter, name, !slow(filter, name))
		}
	})
}

func FuzzMatch(f *testing.F) {
	f.Add("sites/+/nodes/+/telemetry", "sites/quay/nodes/n-07/telemetry")
	f.Add("#", "$SYS/x")
	f.Fuzz(func(t *testing.T, filter, name string) {
		if topic.ValidFilter(filter) == nil && topic.Match(filter, name) != slow(filter, name) {
			t.Fatalf("%q on %q: got %t", filter, name, !slow(filter, name))
		}
		if level, ok := topic.Level(name, topic.Levels(name)); !ok || !strings.HasSuffix(name, level) {
			t.Fatalf("last level of %q: %q, %t", name, level, ok)
		}
	})
}

func BenchmarkMatch(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		topic.Match("sites/+/nodes/+/telemetry", "sites/quay/nodes/n-07/telemetry")
	}
}
