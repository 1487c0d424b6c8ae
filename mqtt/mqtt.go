// Package mqtt has the words that a broker, a link to one, and those who use them
// share: a message, what becomes of it, and which topics are a device's own.
//
// # Topics
//
// A device is called by a name of letters, digits and "-", ":", ".", "_". It publishes on
// its name and below it ("rack-2", "rack-2/air"), and reads below it alone. So nobody
// needs a list of who may do what.
//
// # Sources
//
//   - OASIS2014: MQTT version 3.1.1, OASIS Standard (2014), sections 3.3, 4.3 and 4.7.
//   - OASIS2019: MQTT version 5.0, OASIS Standard (2019), the same sections, and 2.4.
package mqtt

import (
	"context"
	"fmt"
	"strings"
)

// A Message is what somebody published.
type Message struct {
	Device   string // who sent it, if the broker knows; empty from an outside broker
	Topic    string
	Payload  []byte
	QoS      byte // 0, 1 or 2
	Retained bool // an old one, kept by the broker for those who come later
}

// A Receiver does something with a message. Nil says that it is done with: the sender
// forgets it. A [*RefusedError] says that it can never be taken: the sender forgets it
// too, and is told why if its version of MQTT can be told. Any other error says that it
// is to be sent again.
type Receiver func(ctx context.Context, m Message) error

// A RefusedError says why a message can never be taken.
type RefusedError struct{ Reason string }

// Error is the reason.
func (e *RefusedError) Error() string { return e.Reason }

// Refused makes a [*RefusedError].
func Refused(format string, args ...any) error { return &RefusedError{fmt.Sprintf(format, args...)} }

// A Publisher publishes for us. Nil means that the broker has the message.
type Publisher interface {
	Publish(ctx context.Context, topic string, payload []byte, retain bool) error
}

// MaxName bounds the name of a device, in bytes.
const MaxName = 80

// ValidName says that a device of this name can be on a broker.
func ValidName(name string) bool {
	return name != "" && len(name) <= MaxName && !strings.Contains(name, "/") && plain(name)
}

// ValidTopic says that the topic can be published on, and that a sensor can be called so
// (Jennings2018, section 4.5.1: the same characters).
func ValidTopic(topic string) bool { return topic != "" && len(topic) <= 200 && plain(topic) }

// plain says that a text is of letters, digits and -:./_, and begins with one of the
// first two.
func plain(s string) bool {
	for i, c := range []byte(s) {
		letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9'
		if !letter && (i == 0 || !strings.ContainsRune("-:./_", rune(c))) {
			return false
		}
	}
	return true
}

// Owns says that a topic is the device's name or below it.
func Owns(device, topic string) bool {
	rest, ok := strings.CutPrefix(topic, device)
	return device != "" && ok && (rest == "" || rest[0] == '/')
}

// Matches says that a filter such as "rack/+/air" or "rack/#" takes a topic (OASIS2014,
// section 4.7).
func Matches(filter, topic string) bool {
	if strings.HasPrefix(topic, "$") != strings.HasPrefix(filter, "$") {
		return false
	}
	f, t := strings.Split(filter, "/"), strings.Split(topic, "/")
	for i, level := range f {
		switch {
		case level == "#":
			return true
		case i >= len(t) || level != "+" && level != t[i]:
			return false
		}
	}
	return len(f) == len(t)
}
