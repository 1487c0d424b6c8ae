package riverwork

import "time"

// Hasten makes a piece of work short, so that one of a killed server is taken soon.
func (q *Queue) Hasten(longest time.Duration) {
	q.config.JobTimeout, q.config.RescueStuckJobsAfter = longest, longest+time.Second
}
