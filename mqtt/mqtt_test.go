package mqtt_test

import (
	"strings"
	"testing"

	"underlamp/mqtt"
)

func TestOwns(t *testing.T) {
	for _, c := range []struct {
		device, topic string
		owns          bool
	}{
		{"rack-2", "rack-2", true},
		{"rack-2", "rack-2/air", true},
		{"rack-2", "rack-22/air", false},
		{"rack-2", "rack-", false},
		{"rack-2", "/rack-2/air", false},
		{"rack-2", "#", false},
		{"rack-2", "+/air", false},
		{"rack-2", "$SYS/x", false},
		{"", "/air", false},
		{"", "", false},
	} {
		if mqtt.Owns(c.device, c.topic) != c.owns {
			t.Errorf("%q owns %q: %v", c.device, c.topic, !c.owns)
		}
	}
}

func TestNames(t *testing.T) {
	for name, ok := range map[string]bool{"rack-2": true, "a:b.c_d": true, "": false, "rack/2": false, "$SYS": false, "rack 2": false, "+": false, "räck": false, strings.Repeat("a", 81): false} {
		if mqtt.ValidName(name) != ok {
			t.Errorf("name %q: %v", name, !ok)
		}
	}
	for topic, ok := range map[string]bool{"rack-2/air": true, "": false, "/a": false, "a/#": false, "a b": false, strings.Repeat("a", 201): false} {
		if mqtt.ValidTopic(topic) != ok {
			t.Errorf("topic %q: %v", topic, !ok)
		}
	}
}

// The examples of OASIS2014, sections 4.7.1 and 4.7.2.
func TestMatches(t *testing.T) {
	for _, c := range []struct {
		filter, topic string
		matches       bool
	}{
		{"sport/tennis/player1/#", "sport/tennis/player1", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/ranking", true},
		{"sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", true},
		{"sport/#", "sport", true},
		{"#", "sport/tennis", true},
		{"sport/tennis/+", "sport/tennis/player1", true},
		{"sport/tennis/+", "sport/tennis/player1/ranking", false},
		{"sport/+", "sport", false},
		{"sport/+", "sport/", true},
		{"+/+", "/finance", true},
		{"/+", "/finance", true},
		{"+", "/finance", false},
		{"#", "$SYS/monitor", false},
		{"+/monitor/Clients", "$SYS/monitor/Clients", false},
		{"$SYS/#", "$SYS/monitor", true},
		{"$SYS/monitor/+", "$SYS/monitor/Clients", true},
	} {
		if mqtt.Matches(c.filter, c.topic) != c.matches {
			t.Errorf("%q takes %q: %v", c.filter, c.topic, !c.matches)
		}
	}
}
