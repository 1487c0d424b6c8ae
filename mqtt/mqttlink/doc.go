// Package mqttlink keeps a connection to an outside MQTT broker: it speaks version 5, and
// 3.1.1 with a broker that knows no other, connects again when the line was cut, and
// acknowledges a message when its receiver is done with it.
//
// The broker keeps the session while we are away, if [Options.Client] stays the same, and
// sends again what was not acknowledged. If the receiver cannot keep a message the link
// is cut and taken up again, for the broker sends nothing again before that.
//
// A last will is what the broker publishes when we die. One link has one will, so who
// needs several opens several links.
//
// User and password come from the environment or from a file ([Credentials]), not from
// the address, which gets into logs.
package mqttlink
