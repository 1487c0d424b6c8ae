// Package mqttintake makes readings of MQTT messages, from a broker of our own or an
// outside one, and says when a message is done with: once the readings are on the disk.
//
// # Payloads
//
//   - A SenML pack (Jennings2018) carries names, units and times.
//   - A JSON object of numbers is one reading for each: the sensor is called by the topic
//     and the key. The key "time" is the instant.
//   - A number by itself is a reading of the sensor that is called by the topic.
//
// Readings without a time are of the instant at which they arrive. Such a message is
// left alone when it is an old one that the broker kept (retained). If it is sent again,
// because its acknowledgement got lost, it counts again: that it is the same cannot be
// told for sure, and one reading too many does less harm than one too few. With a time it
// counts once in any case, for readings are known by sensor and instant.
//
// A message that can never be taken is refused: it is acknowledged, so that it does not
// come for ever, counted, and its reason logged. What a broker knows to come from a
// device may name the sensors of that device alone.
package mqttintake
