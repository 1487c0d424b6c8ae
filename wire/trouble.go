package wire

import "time"

// A Symptom can be picked.
type Symptom struct {
	Key  string `json:"key" example:"inner-leaf-burn"`
	Name string `json:"name"`
}

// TroubleAsked is what somebody sees, and what they answered.
type TroubleAsked struct {
	Symptoms []string        `json:"symptoms" minlen:"1" maxlen:"20" doc:"by key" example:"[\"inner-leaf-burn\"]"`
	Answers  []TroubleAnswer `json:"answers,omitempty" maxlen:"20" doc:"in the order of asking"`
}

// A TroubleAnswer is one answer to a question.
type TroubleAnswer struct {
	Finding string `json:"finding" maxlen:"80" doc:"key of the question"`
	State   string `json:"state,omitempty" maxlen:"80" doc:"key of the answer; empty: not known"`
}

// TroubleThought is what is thought of a trouble, by the records of the bench.
type TroubleThought struct {
	Causes    []TroubleCause   `json:"causes" doc:"the likeliest first"`
	Next      *TroubleQuestion `json:"next" doc:"question whose answer would tell most; null if nothing more is asked"`
	Apart     string           `json:"apart,omitempty" doc:"what would tell the first two causes apart"`
	Change    string           `json:"change_first,omitempty"`
	Expects   string           `json:"expects,omitempty" doc:"what the outlook expects of that change"`
	Again     string           `json:"look_again" doc:"on this day"`
	Records   []TroubleRecord  `json:"records" doc:"of the bench; defaults count for nothing"`
	CannotSee string           `json:"cannot_see" doc:"what no record shows"`
	Problems  string           `json:"problems,omitempty" doc:"why the table of evidence of the folder does not hold"`
}

// A TroubleCause is one, with its chance.
type TroubleCause struct {
	Key     string          `json:"key"`
	Name    string          `json:"name"`
	Chance  Number          `json:"chance" min:"0" max:"1"`
	Low     Number          `json:"low" min:"0" max:"1" doc:"90 % over what the table leaves open"`
	High    Number          `json:"high" min:"0" max:"1"`
	Prior   Number          `json:"prior" min:"0" max:"1" doc:"before anything was found"`
	Why     string          `json:"because,omitempty"`
	Ask     string          `json:"ask,omitempty" doc:"who knows more of what no record shows"`
	For     []TroubleReason `json:"for"`
	Against []TroubleReason `json:"against"`
}

// A TroubleReason speaks for or against a cause.
type TroubleReason struct {
	Finding string `json:"finding"`
	Text    string `json:"text"`
	Says    string `json:"says" doc:"what the table says, with its sources"`
	Factor  Number `json:"factor" doc:"on the odds"`
}

// A TroubleQuestion is one that can be asked.
type TroubleQuestion struct {
	Finding string          `json:"finding"`
	Ask     string          `json:"ask"`
	Answers []TroubleOption `json:"answers"`
}

// A TroubleOption is one answer that can be given.
type TroubleOption struct {
	State string `json:"state"`
	Name  string `json:"name"`
}

// A TroubleRecord is what the bench tells.
type TroubleRecord struct {
	Finding string `json:"finding"`
	Name    string `json:"name"`
	Text    string `json:"text"`
	From    string `json:"from"`
	Default bool   `json:"default,omitempty" doc:"nobody gave the value, so it is no evidence"`
}

// A TroubleNew is a case to be kept.
type TroubleNew struct {
	Symptoms []string        `json:"symptoms" minlen:"1" maxlen:"20"`
	Answers  []TroubleAnswer `json:"answers,omitempty" maxlen:"20"`
	By       string          `json:"by,omitempty" maxlen:"80" doc:"the name of the token if it is not said"`
	Note     string          `json:"note,omitempty" maxlen:"300"`
}

// A TroubleCase is a trouble as it was examined, with what became of it.
type TroubleCase struct {
	ID       string           `json:"id"`
	At       time.Time        `json:"at"`
	By       string           `json:"by,omitempty"`
	Note     string           `json:"note,omitempty"`
	Rule     string           `json:"rule,omitempty" doc:"of the watch that opened it; missing if a person did"`
	Symptoms []string         `json:"symptoms"`
	Answers  []TroubleAnswer  `json:"answers"`
	Found    []string         `json:"found" doc:"the records that counted"`
	Causes   []TroubleGuess   `json:"causes" doc:"as they were ranked"`
	Change   string           `json:"change_first,omitempty"`
	Expects  string           `json:"expects,omitempty"`
	Again    string           `json:"look_again,omitempty"`
	Open     bool             `json:"open" doc:"nobody has said what became of it"`
	Outcomes []TroubleOutcome `json:"outcomes" doc:"the last counts"`
}

// A TroubleGuess is a cause as it was ranked.
type TroubleGuess struct {
	Key    string `json:"key"`
	Name   string `json:"name"`
	Chance Number `json:"chance" min:"0" max:"1"`
	Low    Number `json:"low" min:"0" max:"1"`
	High   Number `json:"high" min:"0" max:"1"`
}

// A TroubleOutcome is what somebody found out.
type TroubleOutcome struct {
	At    time.Time `json:"at"`
	By    string    `json:"by,omitempty"`
	Cause string    `json:"cause" doc:"key of the cause, or else; empty: never found out"`
	Help  string    `json:"helped,omitempty" doc:"whether the change did"`
	Note  string    `json:"note,omitempty"`
}

// A TroubleConcluded is what became of a case.
type TroubleConcluded struct {
	Cause string `json:"cause" maxlen:"80" doc:"key of the cause, or else; empty: never found out"`
	Help  string `json:"helped,omitempty" enum:"yes|no" doc:"whether the change did"`
	By    string `json:"by,omitempty" maxlen:"80" doc:"the name of the token if it is not said"`
	Note  string `json:"note,omitempty" maxlen:"300"`
}
