// Package icalendar writes jobs of whole days as a calendar that other programs read.
//
// # Conventions
//
//   - The calendar is one iCalendar object of version 2.0 (Desruisseaux2009): lines end with CR and
//     LF and are folded at 75 octets, never within a character; text is escaped.
//   - Jobs are of whole days (DATE values), so no zone of time is needed.
//   - The same input gives the same bytes: the time stamp is handed in.
//
// # What is left out, and why
//
// Reading, alarms, recurrence: nothing here asks for them.
//
// # Sources
//
//   - Desruisseaux2009: B. Desruisseaux, ed. (2009), Internet Calendaring and Scheduling Core
//     Object Specification (iCalendar), RFC 5545: sections 3.1 (content lines), 3.3.4
//     (DATE), 3.3.11 (TEXT), 3.6.1 (events), 3.8.7.2 (DTSTAMP).
package icalendar
