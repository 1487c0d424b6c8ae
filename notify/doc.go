// Package notify takes messages to people: to a webhook, by mail, over MQTT. It answers:
// who is still to be told what, and what became of it?
//
// # Promises
//
//   - A message is on its way from the moment that it is planned, and what is planned lies
//     in the store: a new start neither forgets it nor sends again what arrived. If a
//     server dies between sending and noting it, it is sent once more, with the same id.
//   - What does not arrive is tried again, at first after half a minute, at last every
//     hour, for two days; then it is given up and the fault stays in the store.
//   - Quiet hours hold back what is not urgent. What is over, or known to somebody, before
//     it was sent is not sent, unless it is urgent.
//   - Several servers on one store share the work: each delivery is claimed for a while by
//     one of them.
//   - Secrets are read when they are used. Neither they nor what was sent is logged.
package notify
