package wire

import (
	"encoding/json"
	"time"
)

// A Task is long work that was begun.
type Task struct {
	ID       string          `json:"id"`
	Kind     string          `json:"kind" doc:"what is worked out" example:"best setting"`
	Title    string          `json:"title" doc:"the same for people, with the name of the bench or trial"`
	State    string          `json:"state" enum:"waiting|running|done|stopped|failed"`
	Stopping bool            `json:"stopping,omitempty" doc:"somebody asked it to stop, and it has not yet"`
	Doing    string          `json:"doing,omitempty" doc:"what is done now"`
	Share    float64         `json:"share_done" min:"0" max:"1"`
	Left     float64         `json:"seconds_left,omitempty" unit:"s" doc:"about; missing where it is not known"`
	Begun    time.Time       `json:"begun"`
	Ended    *time.Time      `json:"ended"`
	Wrong    string          `json:"wrong,omitempty" doc:"why it failed"`
	Result   json.RawMessage `json:"result,omitempty" doc:"what it gave, or gave so far, in the schema that the operation which began it names (x-result); missing while there is nothing, and of work that pages began"`
}
