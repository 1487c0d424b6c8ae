// Package mqttbroker is a broker of our own, so that a room needs no other server: devices
// connect with their name and token, over MQTT 3.1.1 or 5, with or without TLS.
//
// It does two things. It hands what devices publish to one receiver, and acknowledges it
// when the receiver is done, not before; nothing is passed on from device to device. And
// it publishes what the program tells single devices, such as the dimming of a lamp.
//
// # What holds
//
//   - A device publishes on its own name and below, reads below its own name, and nothing
//     else. Sessions are a device's own, whatever they are called.
//   - A revoked device is cut off within [Options.Recheck], also while it is connected.
//   - If the receiver fails, the message is not acknowledged and the connection ends, so
//     that the device sends it again: neither version of MQTT has another way to ask.
//   - Connections, sessions of a device, size of packets, messages under way, and the time
//     to say who one is are bounded. Last wills of devices are dropped: nobody reads them.
//   - No token gets into a log.
//
// The engine is mochi-mqtt, which nobody looks after at present; all that the program
// knows of it is in this package, so that another one can take its place. Its own log is
// not used, for it prints whole packets. Version 2.7.9 has five faults that are worked
// around here: it writes retained messages while it reads them; it looks at the rights to
// a topic before it looks up the topic's alias; it waits for ever for who does not say a
// word; it refuses a request for topics that has the number of a message of its own under
// way; and it can lock itself up while it closes.
package mqttbroker
