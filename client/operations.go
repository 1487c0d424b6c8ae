// Code generated from the table of operations of package api. DO NOT EDIT.

package client

import (
	"context"
	"iter"
	"time"

	"underlamp/wire"
)

var _ time.Time

// GetServer: Who answers, and what whoever asks may do.
func (c *Client) GetServer(ctx context.Context, opts ...Option) (wire.Server, error) {
	return do[wire.Server](ctx, c, call{method: "GET", path: "/", query: nil}, opts)
}

// GetDescription: This description, in OpenAPI 3.1.
func (c *Client) GetDescription(ctx context.Context, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/openapi.json", query: nil}, opts)
}

// ListBenchesParams are the parameters of [Client.ListBenches].
type ListBenchesParams struct {
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListBenches: List the benches. Needs the scope read or rounds.
func (c *Client) ListBenches(ctx context.Context, q *ListBenchesParams, opts ...Option) iter.Seq2[wire.BenchCard, error] {
	return all(ctx, c, call{method: "GET", path: "/benches", query: q}, func(p wire.Page[wire.BenchCard]) ([]wire.BenchCard, string) { return p.Items, p.Next }, opts)
}

// CreateBench: Describe a new bench. By the text of its file, or by the answers to five questions:
// space, lamps, plants, fan and price. What is not answered is assumed, and marked so in the file.
// Needs the scope write.
func (c *Client) CreateBench(ctx context.Context, in wire.NewBench, opts ...Option) (wire.Bench, error) {
	return doJSON[wire.Bench](ctx, c, call{method: "POST", path: "/benches", query: nil, once: true}, in, opts)
}

// GetBench: A bench as it is described, in SI units. Its ETag is that of the file, which If-Match
// takes. Needs the scope read.
func (c *Client) GetBench(ctx context.Context, bench string, opts ...Option) (wire.Bench, error) {
	return do[wire.Bench](ctx, c, call{method: "GET", path: "/benches/" + seg(bench), query: nil}, opts)
}

// PatchBench: Change a bench where it says so. Height, dimming and hours of all lamps, and any other
// change of the file by its path. Lamps keep their differences; when they are moved, what readings
// of a meter taught goes into what the file says of them, and the readings go. Every byte of the
// file that is not changed stays. Needs the scope write. Needs [IfMatch].
func (c *Client) PatchBench(ctx context.Context, bench string, in wire.BenchPatch, opts ...Option) (wire.Bench, error) {
	return doJSON[wire.Bench](ctx, c, call{method: "PATCH", path: "/benches/" + seg(bench), query: nil}, in, opts)
}

// GetBenchFile: The file of a bench, byte by byte. Needs the scope read.
func (c *Client) GetBenchFile(ctx context.Context, bench string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/file", query: nil}, opts)
}

// PutBenchFileParams are the parameters of [Client.PutBenchFile].
type PutBenchFileParams struct {
	// since when it is so; now if it is not said. A time before corrects the past
	From *time.Time `query:"from"`
	// who says so; the name of the token if nobody does
	By  string `query:"by"`
	Why string `query:"why"`
}

// PutBenchFile: Replace the file of a bench. Needs the scope write. Needs [IfMatch].
func (c *Client) PutBenchFile(ctx context.Context, bench string, q *PutBenchFileParams, in []byte, opts ...Option) (wire.Bench, error) {
	return do[wire.Bench](ctx, c, call{method: "PUT", path: "/benches/" + seg(bench) + "/file", query: q, body: in}, append([]Option{ContentType("application/yaml")}, opts...))
}

// CheckBenchFile: Read the text of a bench file and say what is wrong, with its place. Needs the
// scope read.
func (c *Client) CheckBenchFile(ctx context.Context, in wire.BenchText, opts ...Option) (wire.BenchLook, error) {
	return doJSON[wire.BenchLook](ctx, c, call{method: "POST", path: "/benches/check", query: nil}, in, opts)
}

// ListBenchVersionsParams are the parameters of [Client.ListBenchVersions].
type ListBenchVersionsParams struct {
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListBenchVersions: How a bench was, in the order of time. Needs the scope read.
func (c *Client) ListBenchVersions(ctx context.Context, bench string, q *ListBenchVersionsParams, opts ...Option) iter.Seq2[wire.BenchVersion, error] {
	return all(ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/versions", query: q}, func(p wire.Page[wire.BenchVersion]) ([]wire.BenchVersion, string) { return p.Items, p.Next }, opts)
}

// CorrectBenchVersion: Put right since when a bench was so. Needs the scope write.
func (c *Client) CorrectBenchVersion(ctx context.Context, bench string, in wire.BenchCorrection, opts ...Option) error {
	_, err := doJSON[struct{}](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/versions/corrections", query: nil, once: true}, in, opts)
	return err
}

// AddDemo: Put the benches of the demo beside those that are there. Needs the scope write.
func (c *Client) AddDemo(ctx context.Context, opts ...Option) (wire.Demo, error) {
	return do[wire.Demo](ctx, c, call{method: "POST", path: "/demo", query: nil}, opts)
}

// RemoveDemo: Take the benches of the demo away again. Files that somebody has changed stay, and are
// named. Other benches are taken away where their files lie. Needs the scope write.
func (c *Client) RemoveDemo(ctx context.Context, opts ...Option) (wire.Demo, error) {
	return do[wire.Demo](ctx, c, call{method: "DELETE", path: "/demo", query: nil}, opts)
}

// GetLightParams are the parameters of [Client.GetLight].
type GetLightParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
	// lamps hung at this height; as the bench has it if it is not said (m)
	Height *float64 `query:"height_m"`
	// mean dimming, a share of full power
	Dimming *float64 `query:"dimming"`
	// of light a day (h)
	Hours *float64 `query:"hours"`
	// residual field of the readings; auto if it is not said
	Field string `query:"field"`
	// of the map; 49 if it is not said
	Columns int `query:"columns"`
	// PPFD that the bench should have; its mean if it is not said (µmol m⁻² s⁻¹)
	Target *float64 `query:"target_umol_m2_s"`
	// PPFD that no plant should exceed (µmol m⁻² s⁻¹)
	Ceiling *float64 `query:"ceiling_umol_m2_s"`
}

// GetLight: Light at every plant, over the bench, and beside the readings of a meter. As the bench
// is set, or as it would be at another height, dimming or hours. As CSV it is the plants alone.
// Needs the scope read.
func (c *Client) GetLight(ctx context.Context, bench string, q *GetLightParams, opts ...Option) (wire.Light, error) {
	return do[wire.Light](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/light", query: q}, opts)
}

// GetLampsParams are the parameters of [Client.GetLamps].
type GetLampsParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// GetLamps: The lamps of a bench by kind: photons, beam, colour, and what is published of such
// light. Needs the scope read.
func (c *Client) GetLamps(ctx context.Context, bench string, q *GetLampsParams, opts ...Option) (wire.Page[wire.LampKind], error) {
	return do[wire.Page[wire.LampKind]](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/lamps", query: q}, opts)
}

// AimParams are the parameters of [Client.Aim].
type AimParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// Aim: Heights, dimmings and hours that bring a target of light. Nothing is written to the bench.
// Needs the scope plan.
func (c *Client) Aim(ctx context.Context, bench string, q *AimParams, in wire.AimAsk, opts ...Option) (wire.Aim, error) {
	return doJSON[wire.Aim](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/aim", query: q}, in, opts)
}

// MatchParams are the parameters of [Client.Match].
type MatchParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// Match: Two groups of plants, of one bench or of two, in one light. Needs the scope plan.
func (c *Client) Match(ctx context.Context, bench string, q *MatchParams, in wire.MatchAsk, opts ...Option) (wire.Match, error) {
	return doJSON[wire.Match](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/match", query: q}, in, opts)
}

// RaiseParams are the parameters of [Client.Raise].
type RaiseParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// Raise: A calendar that raises the lamps with the plants. Needs the scope plan.
func (c *Client) Raise(ctx context.Context, bench string, q *RaiseParams, in wire.RaiseAsk, opts ...Option) (wire.Raise, error) {
	return doJSON[wire.Raise](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/raise", query: q}, in, opts)
}

// GetOutlookParams are the parameters of [Client.GetOutlook].
type GetOutlookParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
	// lamps hung at this height; as the bench has it if it is not said (m)
	Height *float64 `query:"height_m"`
	// mean dimming, a share of full power
	Dimming *float64 `query:"dimming"`
	// of light a day (h)
	Hours *float64 `query:"hours"`
}

// GetOutlook: The crop to harvest: mass, calcium, chance of burn, electricity. As the bench is set,
// with all draws; with few draws at another height, dimming or hours. As CSV it is the course, a row
// a day. There is none for other species than lettuce. Needs the scope read.
func (c *Client) GetOutlook(ctx context.Context, bench string, q *GetOutlookParams, opts ...Option) (wire.Outlook, error) {
	return do[wire.Outlook](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/outlook", query: q}, opts)
}

// BeginSettingsMapParams are the parameters of [Client.BeginSettingsMap].
type BeginSettingsMapParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// BeginSettingsMap: Chance of burn and mass per kWh by light and hours. A coarse map comes first, as
// the result so far. Needs the scope plan.
func (c *Client) BeginSettingsMap(ctx context.Context, bench string, q *BeginSettingsMapParams, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/settings-map", query: q, once: true}, opts)
}

// BeginBestParams are the parameters of [Client.BeginBest].
type BeginBestParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// BeginBest: The best height, dimming and hours within the limits, and what else would help. Needs
// the scope plan.
func (c *Client) BeginBest(ctx context.Context, bench string, q *BeginBestParams, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/best", query: q, once: true}, opts)
}

// BeginPlanParams are the parameters of [Client.BeginPlan].
type BeginPlanParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
	// what the plan makes the most of: saleable mass per kWh (if it is not said), per day, per m² and
	// day, or margin per m² and day
	Goal string `query:"for"`
	// also the most by chance of burn
	Frontier bool `query:"frontier"`
	// also light that changes over the cycle
	Ramps bool `query:"ramps"`
}

// BeginPlan: The best of everything that can be turned, and what binds. Takes minutes. Needs the
// scope plan.
func (c *Client) BeginPlan(ctx context.Context, bench string, q *BeginPlanParams, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/plan", query: q, once: true}, opts)
}

// BeginDoubtsParams are the parameters of [Client.BeginDoubts].
type BeginDoubtsParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
}

// BeginDoubts: Which uncertain input makes how much of the spread of the outlook. Needs the scope
// plan.
func (c *Client) BeginDoubts(ctx context.Context, bench string, q *BeginDoubtsParams, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/doubts", query: q, once: true}, opts)
}

// ListCrops: What is published of head types and species, and what no data support. Needs the scope
// read.
func (c *Client) ListCrops(ctx context.Context, opts ...Option) (wire.Page[wire.Crop], error) {
	return do[wire.Page[wire.Crop]](ctx, c, call{method: "GET", path: "/crops", query: nil}, opts)
}

// GetCrop: What is published of one. Needs the scope read.
func (c *Client) GetCrop(ctx context.Context, crop string, opts ...Option) (wire.Crop, error) {
	return do[wire.Crop](ctx, c, call{method: "GET", path: "/crops/" + seg(crop), query: nil}, opts)
}

// GetBoard: How a bench stands now by its sensors. Needs the scope read or rounds.
func (c *Client) GetBoard(ctx context.Context, bench string, opts ...Option) (wire.Board, error) {
	return do[wire.Board](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/live", query: nil}, opts)
}

// GetChartParams are the parameters of [Client.GetChart].
type GetChartParams struct {
	Sensor string `query:"sensor"`
	// a day ago if it is not said
	From *time.Time `query:"from"`
	// now if it is not said
	To *time.Time `query:"to"`
	// at most so many; 500 if it is not said
	Pieces int `query:"pieces"`
}

// GetChart: What a sensor of a bench read, summed up in pieces of equal width. Needs the scope read
// or rounds.
func (c *Client) GetChart(ctx context.Context, bench string, q *GetChartParams, opts ...Option) (wire.Chart, error) {
	return do[wire.Chart](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/live/chart", query: q}, opts)
}

// ListMessagesParams are the parameters of [Client.ListMessages].
type ListMessagesParams struct {
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
	// of this bench alone
	Bench string `query:"bench"`
	// all that were open since; without it those that are open now
	From *time.Time `query:"from"`
}

// ListMessages: What people are told of benches, the oldest first. Needs the scope read or rounds.
func (c *Client) ListMessages(ctx context.Context, q *ListMessagesParams, opts ...Option) iter.Seq2[wire.Message, error] {
	return all(ctx, c, call{method: "GET", path: "/messages", query: q}, func(p wire.Page[wire.Message]) ([]wire.Message, string) { return p.Items, p.Next }, opts)
}

// AcknowledgeMessage: Say that somebody knows of a message. The first who says so counts. Needs the
// scope write or rounds.
func (c *Client) AcknowledgeMessage(ctx context.Context, message int64, in wire.Acknowledgement, opts ...Option) error {
	_, err := doJSON[struct{}](ctx, c, call{method: "POST", path: "/messages/" + seg(message) + "/acknowledgement", query: nil}, in, opts)
	return err
}

// ListSensorsParams are the parameters of [Client.ListSensors].
type ListSensorsParams struct {
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListSensors: The sensors, by key. Needs the scope read.
func (c *Client) ListSensors(ctx context.Context, q *ListSensorsParams, opts ...Option) iter.Seq2[wire.Sensor, error] {
	return all(ctx, c, call{method: "GET", path: "/sensors", query: q}, func(p wire.Page[wire.Sensor]) ([]wire.Sensor, string) { return p.Items, p.Next }, opts)
}

// GetSensor: All that is known of a sensor. Needs the scope read.
func (c *Client) GetSensor(ctx context.Context, sensor string, opts ...Option) (wire.Sensor, error) {
	return do[wire.Sensor](ctx, c, call{method: "GET", path: "/sensors/" + seg(sensor), query: nil}, opts)
}

// DescribeSensor: Say what a sensor reads and where it stands; one that is not known is entered.
// Needs the scope write.
func (c *Client) DescribeSensor(ctx context.Context, sensor string, in wire.SensorChange, opts ...Option) (wire.Sensor, error) {
	return doJSON[wire.Sensor](ctx, c, call{method: "PATCH", path: "/sensors/" + seg(sensor), query: nil}, in, opts)
}

// CalibrateSensor: Enter a calibration of a sensor. By pairs of what it read and what was true, by
// gain and offset, or by a factor. Readings are kept as they were sent, so that a calibration can be
// put right by another. Needs the scope write.
func (c *Client) CalibrateSensor(ctx context.Context, sensor string, in wire.NewCalibration, opts ...Option) (wire.Sensor, error) {
	return doJSON[wire.Sensor](ctx, c, call{method: "POST", path: "/sensors/" + seg(sensor) + "/calibrations", query: nil, once: true}, in, opts)
}

// ListReadingsParams are the parameters of [Client.ListReadings].
type ListReadingsParams struct {
	// first instant; a day ago if it is not said
	From *time.Time `query:"from"`
	// before this instant; now if it is not said
	To *time.Time `query:"to"`
	// most readings of a piece; 1000 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before
	Cursor string `query:"cursor"`
}

// ListReadings: What a sensor read, in order. As it was sent, and true by its calibration. Devices
// send readings to /intake. Needs the scope read.
func (c *Client) ListReadings(ctx context.Context, sensor string, q *ListReadingsParams, opts ...Option) iter.Seq2[wire.Reading, error] {
	return all(ctx, c, call{method: "GET", path: "/sensors/" + seg(sensor) + "/readings", query: q}, func(p wire.Readings) ([]wire.Reading, string) { return p.Items, p.Next }, opts)
}

// ListTrialsParams are the parameters of [Client.ListTrials].
type ListTrialsParams struct {
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListTrials: List the trials. Needs the scope read or rounds.
func (c *Client) ListTrials(ctx context.Context, q *ListTrialsParams, opts ...Option) iter.Seq2[wire.TrialCard, error] {
	return all(ctx, c, call{method: "GET", path: "/trials", query: q}, func(p wire.Page[wire.TrialCard]) ([]wire.TrialCard, string) { return p.Items, p.Next }, opts)
}

// BeginProposals: Layouts that would answer a question, with what they could show. The layouts are
// drawn by the seed and judged by their power: the chance to find the smallest difference that is
// worth knowing, if it is there. Where burn decides that is simulated, which takes seconds. Needs
// the scope plan or write.
func (c *Client) BeginProposals(ctx context.Context, in wire.TrialQuestion, opts ...Option) (wire.Task, error) {
	return doJSON[wire.Task](ctx, c, call{method: "POST", path: "/trials/proposals", query: nil, once: true}, in, opts)
}

// CreateTrial: Write the plan of a layout that is taken. The layouts are drawn again, which gives
// the same by the same seed. The fingerprint holds the plan to the one that was looked at: if the
// bench or the earlier trial has changed since, it is refused. Needs the scope write.
func (c *Client) CreateTrial(ctx context.Context, in wire.TrialTake, opts ...Option) (wire.Trial, error) {
	return doJSON[wire.Trial](ctx, c, call{method: "POST", path: "/trials", query: nil, once: true}, in, opts)
}

// GetTrial: A trial: its plan, and how far its recording is. Needs the scope read or rounds.
func (c *Client) GetTrial(ctx context.Context, trial string, opts ...Option) (wire.Trial, error) {
	return do[wire.Trial](ctx, c, call{method: "GET", path: "/trials/" + seg(trial), query: nil}, opts)
}

// GetTrialFile: The plan of a trial as its file. Needs the scope read or rounds.
func (c *Client) GetTrialFile(ctx context.Context, trial string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/file", query: nil}, opts)
}

// GetTrialTable: The table of what was seen, as its file. Needs the scope read or rounds.
func (c *Client) GetTrialTable(ctx context.Context, trial string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/table", query: nil}, opts)
}

// GetTrialLayoutParams are the parameters of [Client.GetTrialLayout].
type GetTrialLayoutParams struct {
	// day of the first transplanting, where the plan says none
	Start string `query:"start"`
	// of a cycle, where the plan says none; 35 if it is not said (d)
	Days int `query:"days"`
}

// GetTrialLayout: What stands where and in what light, and in which order it is looked at. Needs the
// scope read or rounds.
func (c *Client) GetTrialLayout(ctx context.Context, trial string, q *GetTrialLayoutParams, opts ...Option) (wire.TrialSheet, error) {
	return do[wire.TrialSheet](ctx, c, call{method: "GET", path: "/trials/" + seg(trial) + "/layout", query: q}, opts)
}

// ListTrialJobsParams are the parameters of [Client.ListTrialJobs].
type ListTrialJobsParams struct {
	// day of the first transplanting, where the plan says none
	Start string `query:"start"`
	// of a cycle, where the plan says none; 35 if it is not said (d)
	Days int `query:"days"`
}

// ListTrialJobs: What is to be done on which day. Needs the scope read or rounds.
func (c *Client) ListTrialJobs(ctx context.Context, trial string, q *ListTrialJobsParams, opts ...Option) (wire.Page[wire.TrialJob], error) {
	return do[wire.Page[wire.TrialJob]](ctx, c, call{method: "GET", path: "/trials/" + seg(trial) + "/jobs", query: q}, opts)
}

// GetTrialCalendarParams are the parameters of [Client.GetTrialCalendar].
type GetTrialCalendarParams struct {
	// day of the first transplanting, where the plan says none
	Start string `query:"start"`
	// of a cycle, where the plan says none; 35 if it is not said (d)
	Days int `query:"days"`
}

// GetTrialCalendar: The same as a calendar (iCalendar, RFC 5545). Needs the scope read or rounds.
func (c *Client) GetTrialCalendar(ctx context.Context, trial string, q *GetTrialCalendarParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/jobs.ics", query: q}, opts)
}

// GetTrialSheetParams are the parameters of [Client.GetTrialSheet].
type GetTrialSheetParams struct {
	// day of the first transplanting, where the plan says none
	Start string `query:"start"`
	// of a cycle, where the plan says none; 35 if it is not said (d)
	Days int `query:"days"`
	// of a PDF; that of the units of the bench if it is not said
	Paper string `query:"paper"`
}

// GetTrialSheet: The sheet to print, as a page or as PDF. Needs the scope read or rounds.
func (c *Client) GetTrialSheet(ctx context.Context, trial string, q *GetTrialSheetParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/sheet", query: q}, opts)
}

// GetTrialLabelsParams are the parameters of [Client.GetTrialLabels].
type GetTrialLabelsParams struct {
	// of a label; small if it is not said
	Size string `query:"size"`
	// its paper; a4 if it is not said
	Sheet string `query:"sheet"`
	// what a rule reads across and down of the check print, in mm
	Scale string `query:"scale"`
	// the check print alone
	Check bool `query:"check"`
	// labels of the first sheet that are used already
	Skip int `query:"skip"`
}

// GetTrialLabels: Labels of the plants of a trial, to print in exact millimetres. Needs the scope
// read.
func (c *Client) GetTrialLabels(ctx context.Context, trial string, q *GetTrialLabelsParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/labels.pdf", query: q}, opts)
}

// BeginFindings: What a trial tells, and what it cannot tell. Needs the scope plan or write.
func (c *Client) BeginFindings(ctx context.Context, trial string, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/trials/" + seg(trial) + "/findings", query: nil, once: true}, opts)
}

// ListTrialRecordsParams are the parameters of [Client.ListTrialRecords].
type ListTrialRecordsParams struct {
	// of this unit alone
	Unit string `query:"unit"`
	// of this plant alone
	Plant string `query:"plant"`
	// of this alone
	What string `query:"what"`
	// those alone that count
	Counts bool `query:"counts"`
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListTrialRecords: What was seen in a trial, line by line. In the order of the table. Lines are
// never changed: a correction is a line of its own, and both stay. Needs the scope read or rounds.
func (c *Client) ListTrialRecords(ctx context.Context, trial string, q *ListTrialRecordsParams, opts ...Option) iter.Seq2[wire.TrialRecord, error] {
	return all(ctx, c, call{method: "GET", path: "/trials/" + seg(trial) + "/records", query: q}, func(p wire.Page[wire.TrialRecord]) ([]wire.TrialRecord, string) { return p.Items, p.Next }, opts)
}

// RecordTrial: Enter, correct or strike what was seen. All is kept, or nothing. A saying with a key
// is entered once, however often it is sent; another saying under its key is a conflict, and so is a
// correction of a line that somebody has corrected meanwhile. What can hardly be meant is asked
// about in doubts, and kept. Needs the scope rounds or write.
func (c *Client) RecordTrial(ctx context.Context, trial string, in wire.TrialSayings, opts ...Option) (wire.TrialKept, error) {
	return doJSON[wire.TrialKept](ctx, c, call{method: "POST", path: "/trials/" + seg(trial) + "/records", query: nil, once: true}, in, opts)
}

// LookAtRecord: What would be made of sayings; nothing is kept. Needs the scope rounds or write.
func (c *Client) LookAtRecord(ctx context.Context, trial string, in wire.TrialSayings, opts ...Option) (wire.TrialKept, error) {
	return doJSON[wire.TrialKept](ctx, c, call{method: "POST", path: "/trials/" + seg(trial) + "/records/look", query: nil}, in, opts)
}

// PutTrialDay: What was seen of one plant on one day. For programs that have their own notes and
// send them again: what is there already and says the same is left as it is; what says something
// else is a conflict, unless replace asks for corrections. What is not named stays. Needs the scope
// rounds or write.
func (c *Client) PutTrialDay(ctx context.Context, trial string, unit string, plant string, day string, in wire.TrialDay, opts ...Option) (wire.TrialKept, error) {
	return doJSON[wire.TrialKept](ctx, c, call{method: "PUT", path: "/trials/" + seg(trial) + "/records/" + seg(unit) + "/" + seg(plant) + "/" + seg(day), query: nil}, in, opts)
}

// GetTrialTaking: What of the rounds of its bench a trial does not have yet. Values of days on which
// both say something else are clashes, which somebody decides. Needs the scope read.
func (c *Client) GetTrialTaking(ctx context.Context, trial string, opts ...Option) (wire.TrialTaking, error) {
	return do[wire.TrialTaking](ctx, c, call{method: "GET", path: "/trials/" + seg(trial) + "/rounds", query: nil}, opts)
}

// TakeOverRounds: Take the rounds over into a trial, as they were shown. Needs the scope write.
func (c *Client) TakeOverRounds(ctx context.Context, trial string, in wire.TrialTakeOver, opts ...Option) (wire.TrialTaken, error) {
	return doJSON[wire.TrialTaken](ctx, c, call{method: "POST", path: "/trials/" + seg(trial) + "/rounds", query: nil, once: true}, in, opts)
}

// SendTrialTableParams are the parameters of [Client.SendTrialTable].
type SendTrialTableParams struct {
	// what the table is called
	Name string `query:"file"`
}

// SendTrialTable: Send a table of another make, to look at what its import would keep. CSV or XLSX,
// one plant a row. Nothing is kept in the trial: the answer says what each column is taken for and
// what would be kept. The table waits for two hours. Needs the scope write.
func (c *Client) SendTrialTable(ctx context.Context, trial string, q *SendTrialTableParams, in []byte, opts ...Option) (wire.TrialPreview, error) {
	return do[wire.TrialPreview](ctx, c, call{method: "POST", path: "/trials/" + seg(trial) + "/uploads", query: q, once: true, body: in}, append([]Option{ContentType("text/csv")}, opts...))
}

// PreviewTrialImportParams are the parameters of [Client.PreviewTrialImport].
type PreviewTrialImportParams struct {
	// what a heading is: Lamp code=unit; may be said several times
	Column []string `query:"column"`
}

// PreviewTrialImport: What the import of a table would keep. Needs the scope write.
func (c *Client) PreviewTrialImport(ctx context.Context, trial string, upload string, q *PreviewTrialImportParams, opts ...Option) (wire.TrialPreview, error) {
	return do[wire.TrialPreview](ctx, c, call{method: "GET", path: "/trials/" + seg(trial) + "/uploads/" + seg(upload), query: q}, opts)
}

// ImportTrialTable: Keep what the preview of a table showed, all or nothing. What columns are is
// remembered in the plan. Values that the table of the trial holds already are not entered twice.
// Needs the scope write.
func (c *Client) ImportTrialTable(ctx context.Context, trial string, in wire.TrialCommit, opts ...Option) (wire.TrialImported, error) {
	return doJSON[wire.TrialImported](ctx, c, call{method: "POST", path: "/trials/" + seg(trial) + "/imports", query: nil, once: true}, in, opts)
}

// ListTrialImports: List the imports of a trial, the newest first. Needs the scope read or write.
func (c *Client) ListTrialImports(ctx context.Context, trial string, opts ...Option) (wire.Page[wire.TrialImport], error) {
	return do[wire.Page[wire.TrialImport]](ctx, c, call{method: "GET", path: "/trials/" + seg(trial) + "/imports", query: nil}, opts)
}

// UndoTrialImportParams are the parameters of [Client.UndoTrialImport].
type UndoTrialImportParams struct {
	// who undoes it; the name of the token if it is not said
	By string `query:"by"`
}

// UndoTrialImport: Undo an import. What it brought is struck, as far as nobody has changed it since;
// the lines stay in the table. To undo it again strikes nothing. Needs the scope write.
func (c *Client) UndoTrialImport(ctx context.Context, trial string, number int, q *UndoTrialImportParams, opts ...Option) (wire.TrialUndone, error) {
	return do[wire.TrialUndone](ctx, c, call{method: "DELETE", path: "/trials/" + seg(trial) + "/imports/" + seg(number), query: q}, opts)
}

// ListEntriesParams are the parameters of [Client.ListEntries].
type ListEntriesParams struct {
	// of this plant alone
	Plant string `query:"plant"`
	// of this alone
	What string `query:"what"`
	// that this person saw
	By string `query:"by"`
	// seen from this time on
	From *time.Time `query:"from"`
	// seen before this time
	To *time.Time `query:"to"`
	// those alone that count
	Counts bool `query:"counts"`
	// the newest first; else in the order of time
	Newest bool `query:"newest_first"`
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListEntries: What was seen of the plants of a bench. Needs the scope read or rounds.
func (c *Client) ListEntries(ctx context.Context, bench string, q *ListEntriesParams, opts ...Option) iter.Seq2[wire.RoundEntry, error] {
	return all(ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/entries", query: q}, func(p wire.Page[wire.RoundEntry]) ([]wire.RoundEntry, string) { return p.Items, p.Next }, opts)
}

// GetEntry: An entry, with all that was entered in its place. Needs the scope read or rounds.
func (c *Client) GetEntry(ctx context.Context, bench string, entry string, opts ...Option) (wire.RoundHistory, error) {
	return do[wire.RoundHistory](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/entries/" + seg(entry), query: nil}, opts)
}

// ListRoundPlants: What is known last of each plant. Needs the scope read or rounds.
func (c *Client) ListRoundPlants(ctx context.Context, bench string, opts ...Option) (wire.Page[wire.RoundPlant], error) {
	return do[wire.Page[wire.RoundPlant]](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/plants", query: nil}, opts)
}

// SendPacket: Send what was seen, as a phone does. What is answered as kept is on the disk. An entry
// that cannot be kept does not hold up the others: it is refused, with the reason. An entry that
// comes again is kept once; another one under its id is refused. So a packet can be sent until it is
// answered. Needs the scope rounds or write.
func (c *Client) SendPacket(ctx context.Context, bench string, in wire.RoundPacket, opts ...Option) (wire.RoundReceived, error) {
	return doJSON[wire.RoundReceived](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/rounds/packets", query: nil}, in, opts)
}

// EnterEntry: Enter one thing that was seen. Needs the scope rounds or write.
func (c *Client) EnterEntry(ctx context.Context, bench string, in wire.RoundNew, opts ...Option) (wire.RoundEntry, error) {
	return doJSON[wire.RoundEntry](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/rounds/entries", query: nil, once: true}, in, opts)
}

// CorrectEntry: Correct an entry, take it out, or go back to what stood before. The entry stays as
// it is; the correction names it. If somebody has corrected it meanwhile, that is a conflict. Needs
// the scope rounds or write.
func (c *Client) CorrectEntry(ctx context.Context, bench string, entry string, in wire.RoundCorrection, opts ...Option) (wire.RoundEntry, error) {
	return doJSON[wire.RoundEntry](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/rounds/entries/" + seg(entry) + "/corrections", query: nil, once: true}, in, opts)
}

// ListConflicts: Of what two people saw different things on one day. Needs the scope read or rounds.
func (c *Client) ListConflicts(ctx context.Context, bench string, opts ...Option) (wire.Page[wire.RoundConflict], error) {
	return do[wire.Page[wire.RoundConflict]](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/conflicts", query: nil}, opts)
}

// DecideConflict: End a conflict: one counts, or all are right side by side. Needs the scope rounds
// or write.
func (c *Client) DecideConflict(ctx context.Context, bench string, in wire.RoundDecision, opts ...Option) (wire.RoundDecided, error) {
	return doJSON[wire.RoundDecided](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/rounds/decisions", query: nil, once: true}, in, opts)
}

// ExportRounds: Everything that was seen, whole, to take into another store. Needs the scope read or
// rounds.
func (c *Client) ExportRounds(ctx context.Context, bench string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/export", query: nil}, opts)
}

// GetRoundTable: The same as a table. Needs the scope read or rounds.
func (c *Client) GetRoundTable(ctx context.Context, bench string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/table", query: nil}, opts)
}

// GetRoundCycle: What counts, as a cycle file that learning reads. Without what the cycle files
// beside the bench tell already; with the masses that photos tell. Needs the scope read or rounds.
func (c *Client) GetRoundCycle(ctx context.Context, bench string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/rounds/cycle", query: nil}, opts)
}

// ListPhotosParams are the parameters of [Client.ListPhotos].
type ListPhotosParams struct {
	// on which this plant was measured
	Plant string `query:"plant"`
	// in this state
	State string `query:"state"`
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListPhotos: List the photos of a bench through time. Needs the scope read or rounds.
func (c *Client) ListPhotos(ctx context.Context, bench string, q *ListPhotosParams, opts ...Option) iter.Seq2[wire.PhotoCard, error] {
	return all(ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/photos", query: q}, func(p wire.Page[wire.PhotoCard]) ([]wire.PhotoCard, string) { return p.Items, p.Next }, opts)
}

// SendPhotoParams are the parameters of [Client.SendPhoto].
type SendPhotoParams struct {
	// made by the sender
	ID string `query:"id"`
	// id of the phone or program
	Phone string `query:"phone"`
}

// SendPhoto: Send a photo of plants with their labels. The original is kept as it is, and measured
// in the background. The same picture under the same id is kept once; another one under it is a
// conflict. To say which plant it is and when it was taken, send an entry of the kind photo with the
// id. Needs the scope rounds or write.
func (c *Client) SendPhoto(ctx context.Context, bench string, q *SendPhotoParams, in []byte, opts ...Option) (wire.PhotoKept, error) {
	return do[wire.PhotoKept](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/photos", query: q, body: in}, append([]Option{ContentType("image/jpeg")}, opts...))
}

// GetPhoto: What was read in a photo, or that it waits. Needs the scope read or rounds.
func (c *Client) GetPhoto(ctx context.Context, bench string, photo string, opts ...Option) (wire.Photo, error) {
	return do[wire.Photo](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/photos/" + seg(photo), query: nil}, opts)
}

// GetPhotoPictureParams are the parameters of [Client.GetPhotoPicture].
type GetPhotoPictureParams struct {
	// 480 pixels at most on its longest side, as JPEG
	Small bool `query:"small"`
}

// GetPhotoPicture: The photo itself, without what tells where it was taken. Needs the scope read or
// rounds.
func (c *Client) GetPhotoPicture(ctx context.Context, bench string, photo string, q *GetPhotoPictureParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/photos/" + seg(photo) + "/picture", query: q}, opts)
}

// GetPhotoMadeParams are the parameters of [Client.GetPhotoMade].
type GetPhotoMadeParams struct {
	// id of the spot, for the picture spot
	Spot string `query:"spot"`
}

// GetPhotoMade: A picture that was made of a photo. overlay shows what was taken for plant; each
// look names the picture of its plant alone; spot shows a spot with its surroundings. Needs the
// scope read or rounds.
func (c *Client) GetPhotoMade(ctx context.Context, bench string, photo string, name string, q *GetPhotoMadeParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/photos/" + seg(photo) + "/made/" + seg(name), query: q}, opts)
}

// JudgeSpot: Say of a spot whether it is burnt. Verdicts teach the program what burn looks like on
// this cultivar. The last one on a spot counts. Needs the scope rounds or write.
func (c *Client) JudgeSpot(ctx context.Context, bench string, photo string, in wire.PhotoVerdict, opts ...Option) (wire.Photo, error) {
	return doJSON[wire.Photo](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/photos/" + seg(photo) + "/verdicts", query: nil, once: true}, in, opts)
}

// GetPhotoStripParams are the parameters of [Client.GetPhotoStrip].
type GetPhotoStripParams struct {
	// of these plants; of all that were measured, twelve at most, if none is said
	Plant []string `query:"plant"`
	// png if it is not said
	Format string `query:"format"`
	// as it comes if it is not said (px)
	Width int `query:"width"`
}

// GetPhotoStrip: Plants through time, side by side at one scale. The kind is chosen by format or by
// Accept; as GIF it is a film. Needs the scope read or rounds.
func (c *Client) GetPhotoStrip(ctx context.Context, bench string, q *GetPhotoStripParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/photos/strip", query: q}, opts)
}

// GetPhotoTable: All figures of all photos as a table. Needs the scope read or rounds.
func (c *Client) GetPhotoTable(ctx context.Context, bench string, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/photos/table", query: nil}, opts)
}

// GetLabelsParams are the parameters of [Client.GetLabels].
type GetLabelsParams struct {
	// of a label; small if it is not said
	Size string `query:"size"`
	// its paper; a4 if it is not said
	Sheet string `query:"sheet"`
	// what a rule reads across and down of the check print, in mm
	Scale string `query:"scale"`
	// the check print alone
	Check bool `query:"check"`
	// labels of the first sheet that are used already
	Skip int `query:"skip"`
}

// GetLabels: Labels of the plants of a bench, to print in exact millimetres. Needs the scope read.
func (c *Client) GetLabels(ctx context.Context, bench string, q *GetLabelsParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/labels.pdf", query: q}, opts)
}

// ReadLabel: Which plant a photo of a label is of; nothing is kept. Needs the scope rounds or write.
func (c *Client) ReadLabel(ctx context.Context, bench string, in []byte, opts ...Option) (wire.LabelRead, error) {
	return do[wire.LabelRead](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/labels/read", query: nil, body: in}, append([]Option{ContentType("image/jpeg")}, opts...))
}

// FindLabelParams are the parameters of [Client.FindLabel].
type FindLabelParams struct {
	// of its QR code, or the code as it is printed
	Text string `query:"text"`
}

// FindLabel: Which plant the code of a label stands for. Needs the scope read or rounds.
func (c *Client) FindLabel(ctx context.Context, bench string, q *FindLabelParams, opts ...Option) (wire.LabelRead, error) {
	return do[wire.LabelRead](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/labels/plant", query: q}, opts)
}

// ListRecipes: Published targets of feeds. Needs the scope read.
func (c *Client) ListRecipes(ctx context.Context, opts ...Option) (wire.Page[wire.FeedRecipe], error) {
	return do[wire.Page[wire.FeedRecipe]](ctx, c, call{method: "GET", path: "/feed/recipes", query: nil}, opts)
}

// ListSubstances: Salts, acids and bases that products are made of. Needs the scope read.
func (c *Client) ListSubstances(ctx context.Context, opts ...Option) (wire.Page[wire.FeedSubstance], error) {
	return do[wire.Page[wire.FeedSubstance]](ctx, c, call{method: "GET", path: "/feed/substances", query: nil}, opts)
}

// ListFeedFiles: Which feeds a bench has, and what its outlook rests on. Needs the scope read.
func (c *Client) ListFeedFiles(ctx context.Context, bench string, opts ...Option) (wire.Feed, error) {
	return do[wire.Feed](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/feed/files", query: nil}, opts)
}

// GetFeedParams are the parameters of [Client.GetFeed].
type GetFeedParams struct {
	// which of the feed files of the bench; the first if it is not said
	File string `query:"file"`
	// another recipe, by name
	Recipe string `query:"recipe"`
	// of the recipe (%)
	Strength *float64 `query:"strength"`
	// another volume of the tank (L)
	Volume *float64 `query:"volume_l"`
	// as the file has it if it is not said; cheapest needs a price for every product
	Mix string `query:"mix"`
	// false: salts go straight into the tank
	Stock *bool `query:"stock"`
}

// GetFeed: What to weigh for the feed of a bench, and what it then is. With parameters it tells what
// another recipe, strength or volume would make of it; the file stays as it is. Needs the scope
// read.
func (c *Client) GetFeed(ctx context.Context, bench string, q *GetFeedParams, opts ...Option) (wire.FeedMix, error) {
	return do[wire.FeedMix](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/feed", query: q}, opts)
}

// BeginFeed: Write a first feed of a bench. Needs the scope write.
func (c *Client) BeginFeed(ctx context.Context, bench string, in wire.FeedAnswers, opts ...Option) (wire.FeedSaved, error) {
	return doJSON[wire.FeedSaved](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/feed", query: nil, once: true}, in, opts)
}

// GetFeedFileParams are the parameters of [Client.GetFeedFile].
type GetFeedFileParams struct {
	// which of the feed files of the bench; the first if it is not said
	File string `query:"file"`
}

// GetFeedFile: A feed as its file. Needs the scope read.
func (c *Client) GetFeedFile(ctx context.Context, bench string, q *GetFeedFileParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/feed/file", query: q}, opts)
}

// PutFeedFileParams are the parameters of [Client.PutFeedFile].
type PutFeedFileParams struct {
	// which of the feed files of the bench; the first if it is not said
	File string `query:"file"`
}

// PutFeedFile: Replace a feed file. A text that is no feed is refused, with line and column, and
// nothing is written. Needs the scope write. Needs [IfMatch].
func (c *Client) PutFeedFile(ctx context.Context, bench string, q *PutFeedFileParams, in []byte, opts ...Option) (wire.FeedSaved, error) {
	return do[wire.FeedSaved](ctx, c, call{method: "PUT", path: "/benches/" + seg(bench) + "/feed/file", query: q, body: in}, append([]Option{ContentType("application/yaml")}, opts...))
}

// GetFeedCorrectionParams are the parameters of [Client.GetFeedCorrection].
type GetFeedCorrectionParams struct {
	// which of the feed files of the bench; the first if it is not said
	File string `query:"file"`
	// that is in the tank (L)
	Volume *float64 `query:"volume_l"`
	// at 25 °C (mS/cm)
	EC *float64 `query:"ec_ms_cm"`
	PH *float64 `query:"ph"`
	// an analysis, in one line
	Ions string `query:"ions"`
}

// GetFeedCorrection: What brings a running tank back. Of what was read just now, as it is said; else
// of the last entry of the log. Needs the scope read.
func (c *Client) GetFeedCorrection(ctx context.Context, bench string, q *GetFeedCorrectionParams, opts ...Option) (wire.FeedCorrection, error) {
	return do[wire.FeedCorrection](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/feed/correction", query: q}, opts)
}

// GetFeedLogParams are the parameters of [Client.GetFeedLog].
type GetFeedLogParams struct {
	// which of the feed files of the bench; the first if it is not said
	File string `query:"file"`
}

// GetFeedLog: What was read of the tank, and what that tells. Needs the scope read.
func (c *Client) GetFeedLog(ctx context.Context, bench string, q *GetFeedLogParams, opts ...Option) (wire.FeedLog, error) {
	return do[wire.FeedLog](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/feed/log", query: q}, opts)
}

// AddFeedLogParams are the parameters of [Client.AddFeedLog].
type AddFeedLogParams struct {
	// which of the feed files of the bench; the first if it is not said
	File string `query:"file"`
}

// AddFeedLog: Add what was read of the tank, and what was added to it. Needs the scope rounds or
// write.
func (c *Client) AddFeedLog(ctx context.Context, bench string, q *AddFeedLogParams, in wire.FeedLooked, opts ...Option) (wire.FeedLog, error) {
	return doJSON[wire.FeedLog](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/feed/log", query: q, once: true}, in, opts)
}

// GetAirParams are the parameters of [Client.GetAir].
type GetAirParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
	// in °C
	DayTemperature *float64 `query:"day_temperature_c"`
	// in %
	DayHumidity *float64 `query:"day_humidity_percent"`
	// in °C
	NightTemperature *float64 `query:"night_temperature_c"`
	// in %
	NightHumidity *float64 `query:"night_humidity_percent"`
	// of the air at the plants (m/s)
	Speed *float64 `query:"speed_m_s"`
	// in °C
	OutsideTemp *float64 `query:"outside_temperature_c"`
	// in %
	OutsideHumidity *float64 `query:"outside_humidity_percent"`
	// of the room (m³)
	Volume *float64 `query:"volume_m3"`
	// changes of air by chinks (1/h)
	Leak *float64 `query:"leak_per_h"`
	// in ppm
	CO2 *float64 `query:"co2_ppm"`
	// in m
	Altitude *float64 `query:"altitude_m"`
	// where the air is blown
	Fan string `query:"fan"`
	// of the crop to show; that of most water if it is not said (d)
	Day int `query:"day"`
}

// GetAir: Water and warmth that must go as the crop grows, and how. With parameters it tells what
// other air, another room or another fan would do. CO2 above 5000 ppm is the limit for a working
// day; never enrich a room where people sleep. Needs the scope read.
func (c *Client) GetAir(ctx context.Context, bench string, q *GetAirParams, opts ...Option) (wire.Air, error) {
	return do[wire.Air](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/air", query: q}, opts)
}

// BeginHeartsParams are the parameters of [Client.BeginHearts].
type BeginHeartsParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
	// in °C
	DayTemperature *float64 `query:"day_temperature_c"`
	// in %
	DayHumidity *float64 `query:"day_humidity_percent"`
	// in °C
	NightTemperature *float64 `query:"night_temperature_c"`
	// in %
	NightHumidity *float64 `query:"night_humidity_percent"`
	// of the air at the plants (m/s)
	Speed *float64 `query:"speed_m_s"`
	// in °C
	OutsideTemp *float64 `query:"outside_temperature_c"`
	// in %
	OutsideHumidity *float64 `query:"outside_humidity_percent"`
	// of the room (m³)
	Volume *float64 `query:"volume_m3"`
	// changes of air by chinks (1/h)
	Leak *float64 `query:"leak_per_h"`
	// in ppm
	CO2 *float64 `query:"co2_ppm"`
	// in m
	Altitude *float64 `query:"altitude_m"`
	// where the air is blown
	Fan string `query:"fan"`
}

// BeginHearts: What moving air and drier nights do for the youngest leaves. Needs the scope plan.
func (c *Client) BeginHearts(ctx context.Context, bench string, q *BeginHeartsParams, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/air/hearts", query: q, once: true}, opts)
}

// GetFanParams are the parameters of [Client.GetFan].
type GetFanParams struct {
	// of the blades (m)
	Diameter float64 `query:"diameter_m"`
	// of one fan; this, or outlet_m_s, or turns_min (m³/h)
	Flow *float64 `query:"flow_m3_h"`
	// speed at the blades (m/s)
	Outlet *float64 `query:"outlet_m_s"`
	// in 1/min
	Turns *float64 `query:"turns_min"`
	// to the heads (m)
	Distance float64 `query:"distance_m"`
	// down if it is not said
	Aim string `query:"aim"`
	// alike, spread evenly; 1 if it is not said
	Count int `query:"fans"`
}

// GetFan: How fast the air of a fan is at the heads. Needs the scope read.
func (c *Client) GetFan(ctx context.Context, bench string, q *GetFanParams, opts ...Option) (wire.AirBlown, error) {
	return do[wire.AirBlown](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/air/fan", query: q}, opts)
}

// SurveyAir: What readings of an anemometer mean; nothing is kept. Needs the scope read.
func (c *Client) SurveyAir(ctx context.Context, bench string, in wire.AirReadings, opts ...Option) (wire.AirSurvey, error) {
	return doJSON[wire.AirSurvey](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/air/survey", query: nil}, in, opts)
}

// GetAirRecord: What the hours recorded by sensors say of dew. Of the last two weeks. Needs the
// scope read or rounds.
func (c *Client) GetAirRecord(ctx context.Context, bench string, opts ...Option) (wire.AirRecord, error) {
	return do[wire.AirRecord](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/air/recorded", query: nil}, opts)
}

// ListSymptoms: What can be seen of a plant that is not well. Needs the scope read.
func (c *Client) ListSymptoms(ctx context.Context, opts ...Option) (wire.Page[wire.Symptom], error) {
	return do[wire.Page[wire.Symptom]](ctx, c, call{method: "GET", path: "/trouble/symptoms", query: nil}, opts)
}

// AssessTrouble: Likely causes of what is seen, by the records of the bench; nothing is kept. Answer
// what next asks, and send it again with the answer: at most four questions are asked. Needs the
// scope read.
func (c *Client) AssessTrouble(ctx context.Context, bench string, in wire.TroubleAsked, opts ...Option) (wire.TroubleThought, error) {
	return doJSON[wire.TroubleThought](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/trouble/assess", query: nil}, in, opts)
}

// ListCasesParams are the parameters of [Client.ListCases].
type ListCasesParams struct {
	// those alone of which nobody has said what became of them
	Open bool `query:"open"`
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListCases: List the cases of a bench, the newest first. Needs the scope read.
func (c *Client) ListCases(ctx context.Context, bench string, q *ListCasesParams, opts ...Option) iter.Seq2[wire.TroubleCase, error] {
	return all(ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/trouble/cases", query: q}, func(p wire.Page[wire.TroubleCase]) ([]wire.TroubleCase, string) { return p.Items, p.Next }, opts)
}

// OpenCase: Keep a trouble as a case, with what is thought of it now. Needs the scope rounds or
// write.
func (c *Client) OpenCase(ctx context.Context, bench string, in wire.TroubleNew, opts ...Option) (wire.TroubleCase, error) {
	return doJSON[wire.TroubleCase](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/trouble/cases", query: nil, once: true}, in, opts)
}

// GetCase: A case, with what became of it. Needs the scope read.
func (c *Client) GetCase(ctx context.Context, bench string, caseID string, opts ...Option) (wire.TroubleCase, error) {
	return do[wire.TroubleCase](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/trouble/cases/" + seg(caseID), query: nil}, opts)
}

// ConcludeCase: Say what became of a case. Earlier outcomes stay; the last counts. Needs the scope
// rounds or write.
func (c *Client) ConcludeCase(ctx context.Context, bench string, caseID string, in wire.TroubleConcluded, opts ...Option) (wire.TroubleCase, error) {
	return doJSON[wire.TroubleCase](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/trouble/cases/" + seg(caseID) + "/outcomes", query: nil, once: true}, in, opts)
}

// ListCycles: The records of crops beside a bench, from which is learned. Needs the scope read.
func (c *Client) ListCycles(ctx context.Context, bench string, opts ...Option) (wire.Page[wire.CycleCard], error) {
	return do[wire.Page[wire.CycleCard]](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/cycles", query: nil}, opts)
}

// BeginLesson: Learn the cultivar in that room from the records beside the bench. It takes all
// processors for a minute or so. The result holds the profile as a file: put beside the bench file,
// and named under crop, the outlook of the bench rests on it. Needs the scope plan or write.
func (c *Client) BeginLesson(ctx context.Context, bench string, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/lesson", query: nil, once: true}, opts)
}

// ListReports: List the reports of a bench and of its cycles. They are written for it; that takes as
// long as the reports. Needs the scope read.
func (c *Client) ListReports(ctx context.Context, bench string, opts ...Option) (wire.Reports, error) {
	return do[wire.Reports](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/reports", query: nil}, opts)
}

// GetReportParams are the parameters of [Client.GetReport].
type GetReportParams struct {
	// as the bench was at this time; now if it is not said
	At *time.Time `query:"at"`
	// bench, or a cycle by its name in the list of reports; bench if it is not said
	Of string `query:"of"`
	// short: one page with one picture and three numbers; whole if it is not said
	Form string `query:"form"`
	// of a PDF; that of the units of the bench if it is not said
	Paper string `query:"paper"`
}

// GetReport: The report of a bench or of one of its cycles, to hand on. It holds light, outlook,
// best setting, the environment with what lacks of it, and strips of photos. Accept chooses HTML or
// PDF. It asks for nothing from outside, and is computed once until something changes or the day is
// over. That takes some seconds; after half a minute the answer is 503, and the work goes on: ask
// again. A report of the past (at) has no environment, and is of the bench alone. Needs the scope
// read.
func (c *Client) GetReport(ctx context.Context, bench string, q *GetReportParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/report", query: q}, opts)
}

// GetTrialReportParams are the parameters of [Client.GetTrialReport].
type GetTrialReportParams struct {
	// short: one page with one picture and three numbers; whole if it is not said
	Form string `query:"form"`
	// of a PDF; that of the units of the bench if it is not said
	Paper string `query:"paper"`
}

// GetTrialReport: The report of a trial, to hand on. It holds the findings, the plan with its
// layout, the environment with what lacks of it, and strips of photos. Accept chooses HTML or PDF.
// It asks for nothing from outside, and is computed once until something changes or the day is over.
// That takes some seconds; after half a minute the answer is 503, and the work goes on: ask again.
// The findings of thousands of plants in grades take longer: begin them first. Needs the scope read.
func (c *Client) GetTrialReport(ctx context.Context, trial string, q *GetTrialReportParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/report", query: q}, opts)
}

// GetTrialPackageParams are the parameters of [Client.GetTrialPackage].
type GetTrialPackageParams struct {
	// whose names leave; authors: those of the people in about.yaml alone, person 1 and so on stand for
	// those who saw, entered and changed; all if it is not said
	Names string `query:"names"`
}

// GetTrialPackage: Everything of a trial as an open data package. Plan, bench, table, findings, what
// rounds and sensors saw of it, with a description of every column. It is sent as it is made; a file
// that breaks off is no whole one. Needs the scope read.
func (c *Client) GetTrialPackage(ctx context.Context, trial string, q *GetTrialPackageParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/package.zip", query: q}, opts)
}

// GetTrialWorkbookParams are the parameters of [Client.GetTrialWorkbook].
type GetTrialWorkbookParams struct {
	// whose names leave; authors: those of the people in about.yaml alone, person 1 and so on stand for
	// those who saw, entered and changed; all if it is not said
	Names string `query:"names"`
}

// GetTrialWorkbook: The tables of a trial as a workbook. One sheet a table. It is sent as it is
// made; a file that breaks off is no whole one. Needs the scope read.
func (c *Client) GetTrialWorkbook(ctx context.Context, trial string, q *GetTrialWorkbookParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/trials/" + seg(trial) + "/tables.xlsx", query: q}, opts)
}

// GetBenchPackageParams are the parameters of [Client.GetBenchPackage].
type GetBenchPackageParams struct {
	// whose names leave; authors: those of the people in about.yaml alone, person 1 and so on stand for
	// those who saw, entered and changed; all if it is not said
	Names string `query:"names"`
}

// GetBenchPackage: Everything of a bench as an open data package. The bench, its versions, what
// rounds and sensors saw, with a description of every column. It is sent as it is made; a file that
// breaks off is no whole one. Needs the scope read.
func (c *Client) GetBenchPackage(ctx context.Context, bench string, q *GetBenchPackageParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/package.zip", query: q}, opts)
}

// GetBenchWorkbookParams are the parameters of [Client.GetBenchWorkbook].
type GetBenchWorkbookParams struct {
	// whose names leave; authors: those of the people in about.yaml alone, person 1 and so on stand for
	// those who saw, entered and changed; all if it is not said
	Names string `query:"names"`
}

// GetBenchWorkbook: The tables of a bench as a workbook. One sheet a table. It is sent as it is
// made; a file that breaks off is no whole one. Needs the scope read.
func (c *Client) GetBenchWorkbook(ctx context.Context, bench string, q *GetBenchWorkbookParams, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/benches/" + seg(bench) + "/tables.xlsx", query: q}, opts)
}

// GetAbout: What is said of the data that leave, as its file. Title, licence, people and place,
// which stand in about.yaml beside benches and trials and go with every package. Where nothing is
// said yet it is the first line of such a file. Its ETag is what If-Match takes. Needs the scope
// read.
func (c *Client) GetAbout(ctx context.Context, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/about", query: nil}, opts)
}

// PutAbout: Say title, licence, people and place of the data that leave. A text with mistakes is
// refused, with line and column, and nothing is written. Needs the scope write. Needs [IfMatch].
func (c *Client) PutAbout(ctx context.Context, in []byte, opts ...Option) (wire.AboutSaved, error) {
	return do[wire.AboutSaved](ctx, c, call{method: "PUT", path: "/about", query: nil, body: in}, append([]Option{ContentType("application/yaml")}, opts...))
}

// SendNotesParams are the parameters of [Client.SendNotes].
type SendNotesParams struct {
	// what the file is called
	Name string `query:"file"`
}

// SendNotes: Send a sheet of notes, to look at what taking it in would do. CSV, XLSX or ODS: what
// was seen of plants, finished crops, or readings of light, one a row. Nothing is kept of it: the
// answer says what each column is taken for, what is new, what is there already, and what is in the
// way. The sheet waits for two hours. Needs the scope write.
func (c *Client) SendNotes(ctx context.Context, bench string, q *SendNotesParams, in []byte, opts ...Option) (wire.NotesPreview, error) {
	return do[wire.NotesPreview](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/uploads", query: q, once: true, body: in}, append([]Option{ContentType("text/csv")}, opts...))
}

// PreviewNotesParams are the parameters of [Client.PreviewNotes].
type PreviewNotesParams struct {
	// what rows are; found out if it is not said
	Kind string `query:"kind"`
	// the likeliest if it is not said
	Sheet string `query:"sheet"`
	// row of the heading; -1: there is none; found out if it is not said
	Heading int `query:"heading"`
	// what a heading is: Head=plant; may be said several times
	Column []string `query:"column"`
	// of rows without one
	Day string `query:"day"`
	// who saw it, of rows that do not say
	By string `query:"by"`
	// of the sensor, of readings without one
	Height string `query:"height"`
	// from sowing to transplanting, of crops without that day (d)
	Seedlings int `query:"seedling_days"`
	// 3/4 is the third of April; found out if it is not said
	DayFirst *bool `query:"day_first"`
	// found out if it is not said
	Comma *bool `query:"decimal_comma"`
	// of days without one
	Year int `query:"year"`
	// leave out what cannot be read
	Skip bool `query:"skip"`
	// places of conflicts in which the sheet counts
	Counts []string `query:"counts"`
	// the sheet counts in all conflicts
	Take bool `query:"take"`
}

// PreviewNotes: What taking a sheet in would do, by what is said of it. Needs the scope write.
func (c *Client) PreviewNotes(ctx context.Context, bench string, upload string, q *PreviewNotesParams, opts ...Option) (wire.NotesPreview, error) {
	return do[wire.NotesPreview](ctx, c, call{method: "GET", path: "/benches/" + seg(bench) + "/uploads/" + seg(upload), query: q}, opts)
}

// TakeNotes: Keep what the preview of a sheet showed, all or nothing. What columns are is remembered
// for the next sheet with these headings. What is there already is not kept twice: if all is, the
// answer is 200, and nothing was written. Needs the scope write.
func (c *Client) TakeNotes(ctx context.Context, bench string, in wire.NotesTake, opts ...Option) (wire.NotesTaken, error) {
	return doJSON[wire.NotesTaken](ctx, c, call{method: "POST", path: "/benches/" + seg(bench) + "/imports", query: nil, once: true}, in, opts)
}

// SendPackageParams are the parameters of [Client.SendPackage].
type SendPackageParams struct {
	// what the file is called
	Name string `query:"file"`
}

// SendPackage: Send a data package, to look at what taking it in would do. One that is not as its
// own description says is refused, with the place of each fault. Nothing is kept of it. The package
// waits for two hours. Needs the scope write.
func (c *Client) SendPackage(ctx context.Context, q *SendPackageParams, in []byte, opts ...Option) (wire.PackagePreview, error) {
	return do[wire.PackagePreview](ctx, c, call{method: "POST", path: "/packages/uploads", query: q, once: true, body: in}, append([]Option{ContentType("application/zip")}, opts...))
}

// PreviewPackage: What taking a data package in would do. Needs the scope write.
func (c *Client) PreviewPackage(ctx context.Context, upload string, opts ...Option) (wire.PackagePreview, error) {
	return do[wire.PackagePreview](ctx, c, call{method: "GET", path: "/packages/uploads/" + seg(upload), query: nil}, opts)
}

// TakePackage: Keep the files of a data package, all or nothing. A file that is there with another
// content is in the way of all. If all are there already, the answer is 200, and nothing was
// written. Needs the scope write.
func (c *Client) TakePackage(ctx context.Context, in wire.PackageTake, opts ...Option) (wire.NotesTaken, error) {
	return doJSON[wire.NotesTaken](ctx, c, call{method: "POST", path: "/packages", query: nil, once: true}, in, opts)
}

// ListImports: List the imports of notes and data packages, the newest first. Needs the scope read
// or write.
func (c *Client) ListImports(ctx context.Context, opts ...Option) (wire.Page[wire.NotesImport], error) {
	return do[wire.Page[wire.NotesImport]](ctx, c, call{method: "GET", path: "/imports", query: nil}, opts)
}

// UndoImportParams are the parameters of [Client.UndoImport].
type UndoImportParams struct {
	// who takes it back; the name of the token if it is not said
	By string `query:"by"`
}

// UndoImport: Take an import of notes or of a data package back. What somebody has changed since
// stays; the answer says what does. What it stood in place of counts again. Needs the scope write.
func (c *Client) UndoImport(ctx context.Context, importID string, q *UndoImportParams, opts ...Option) (wire.NotesImport, error) {
	return do[wire.NotesImport](ctx, c, call{method: "DELETE", path: "/imports/" + seg(importID), query: q}, opts)
}

// GetSettings: What is set for all pages. Needs the scope read or manage.
func (c *Client) GetSettings(ctx context.Context, opts ...Option) (wire.Settings, error) {
	return do[wire.Settings](ctx, c, call{method: "GET", path: "/settings", query: nil}, opts)
}

// PutSettings: Replace what is set for all pages. What is left out is set no more. Units and money
// change what is computed of every bench. A zone that was given at the start of the server stays.
// Needs the scope manage. Needs [IfMatch].
func (c *Client) PutSettings(ctx context.Context, in wire.Settings, opts ...Option) (wire.Settings, error) {
	return doJSON[wire.Settings](ctx, c, call{method: "PUT", path: "/settings", query: nil}, in, opts)
}

// GetPeople: Who may see the pages from elsewhere, and which codes are open. Needs the scope manage.
func (c *Client) GetPeople(ctx context.Context, opts ...Option) (wire.People, error) {
	return do[wire.People](ctx, c, call{method: "GET", path: "/people", query: nil}, opts)
}

// Invite: Make a code that lets a browser in, once. The code is told here and nowhere else. It takes
// no Idempotency-Key, since answers to those are kept. Needs the scope manage.
func (c *Client) Invite(ctx context.Context, in wire.Invited, opts ...Option) (wire.Invitation, error) {
	return doJSON[wire.Invitation](ctx, c, call{method: "POST", path: "/people/invitations", query: nil}, in, opts)
}

// EndSession: End a session. Needs the scope manage.
func (c *Client) EndSession(ctx context.Context, session string, opts ...Option) error {
	_, err := c.send(ctx, call{method: "DELETE", path: "/people/sessions/" + seg(session), query: nil}, opts)
	return err
}

// RemovePerson: End all sessions and codes of a person. Needs the scope manage.
func (c *Client) RemovePerson(ctx context.Context, person string, opts ...Option) (wire.Removed, error) {
	return do[wire.Removed](ctx, c, call{method: "DELETE", path: "/people/" + seg(person), query: nil}, opts)
}

// MakeBackup: Make a copy of the store, and hand it out. The copy is made whole before the first
// byte goes out: what fails never looks like a copy. underlamp store restore reads it. Needs the
// scope manage.
func (c *Client) MakeBackup(ctx context.Context, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "POST", path: "/settings/backup", query: nil}, opts)
}

// GetCertificate: The certificate authority of the server, that phones are asked to trust.
func (c *Client) GetCertificate(ctx context.Context, opts ...Option) (wire.Certificate, error) {
	return do[wire.Certificate](ctx, c, call{method: "GET", path: "/server/certificate", query: nil}, opts)
}

// GetCertificateFile: The same as a file (DER).
func (c *Client) GetCertificateFile(ctx context.Context, opts ...Option) ([]byte, error) {
	return c.send(ctx, call{method: "GET", path: "/server/certificate.crt", query: nil}, opts)
}

// ListTasksParams are the parameters of [Client.ListTasks].
type ListTasksParams struct {
	// most entries of a piece; 100 if it is not said
	Limit int `query:"limit"`
	// from next of the piece before; where the list goes on
	Cursor string `query:"cursor"`
}

// ListTasks: List the long work that runs, waits or has ended, the latest first. Results are left
// out here. They are kept for a day, and given up for others where there are many. Needs the scope
// read or plan.
func (c *Client) ListTasks(ctx context.Context, q *ListTasksParams, opts ...Option) iter.Seq2[wire.Task, error] {
	return all(ctx, c, call{method: "GET", path: "/tasks", query: q}, func(p wire.Page[wire.Task]) ([]wire.Task, string) { return p.Items, p.Next }, opts)
}

// GetTask: How far long work is, and what it gave. With Prefer: wait=10 it answers when the work has
// ended, or after ten seconds. Needs the scope read or plan.
func (c *Client) GetTask(ctx context.Context, task string, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "GET", path: "/tasks/" + seg(task), query: nil}, opts)
}

// StopTask: Stop long work. Stops it for everybody who waits for it. What it gave until then stays.
// To stop what has ended does nothing. Needs the scope plan.
func (c *Client) StopTask(ctx context.Context, task string, opts ...Option) (wire.Task, error) {
	return do[wire.Task](ctx, c, call{method: "DELETE", path: "/tasks/" + seg(task), query: nil}, opts)
}
