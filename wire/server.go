package wire

// A Server says who answers.
type Server struct {
	Program string   `json:"program" example:"underlamp"`
	Version string   `json:"version" doc:"of the program"`
	API     string   `json:"api" doc:"version of the API" example:"1.0"`
	Keeps   bool     `json:"keeps" doc:"readings, rounds, photos and versions are kept"`
	Writes  bool     `json:"writes" doc:"benches can be changed"`
	Who     string   `json:"who" doc:"who asks: this machine, a token by its name, a person; empty: a stranger"`
	Scopes  []string `json:"scopes" doc:"what they may"`
}
