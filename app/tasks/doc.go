// Package tasks does work for which somebody waits: it runs beside the page that asked for
// it, tells how far it is, shows first results, can be stopped, and is found again.
//
// Package work is for what a server owes whether anybody looks or not: its jobs are kept in
// the store and done again after a failure. A task is kept in memory, is done once, and is
// gone with the server.
//
// # Conventions
//
//   - Equal questions, by kind and key, share one task. The key names the version of what
//     was asked about, so that a changed bench is another question.
//   - At most so many run at once, in two lanes, so that work of seconds does not wait for
//     work of minutes; at most so many wait.
//   - Results are bounded in number and size. What was looked at longest ago is forgotten
//     first, and [Registry.Find] says that it was.
//   - To stop is to cancel the context of the work: a task counts as stopped when its work
//     has returned, not when somebody asked for it.
//
// # What is left out, and why
//
//   - Tasks do not outlive the server: each can be asked again, and a result that rests on
//     a program of yesterday would have to say so.
package tasks
