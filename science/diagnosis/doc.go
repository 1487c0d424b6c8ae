// Package diagnosis ranks causes of a trouble by what was seen and read, with a table
// of evidence that people can read. It answers: which causes are likely, what speaks for
// and against each, how far the table itself leaves that open, what to ask next, and what
// would tell the first two apart.
//
// # Model
//
// One cause is at work: one of the table, or something else that is not in it. A finding
// has states ("seen", "not seen"; "low", "usual", "high"), each with a share q of all
// troubled benches. A row of the table says by which factor w the odds of a state rise
// under a cause; states without a row have w = 1:
//
//	P(s | c) = q(s) w(s, c) / Σ q w        P(s | something else) = q(s)
//
// What was found may be unsure in two ways: a reading near a bound belongs to two states
// with weights π (Σ π = 1), and it can be trusted to a degree t, of which the rest is as
// good as no finding:
//
//	L(c) = 1 − t + t Σ π(s) P(s | c) / q(s)
//	P(c | all) ∝ prior(c) Π L(c)
//
// A finding that is not known is left out: it leaves the odds as they were. So does one of
// t = 0. Findings count as independent for each cause, which makes the posterior surer than it
// should be where two of them tell the same; and two causes at once are not thought of.
//
// # Strengths
//
// A row has one of four strengths, for or against, each a range of factors by the limits
// that are used for tests in medicine (Jaeschke1994): slight 1 to 2, fair 2 to 5, strong 5
// to 10, very strong 10 to 40, against the reciprocals. The factor is the geometric mean.
// Priors have four words too, each with a factor of 2 up and down; they are our own, no source.
//
// The table is uncertain: in each of many draws every factor and every prior is lognormal
// with 90 % of it within its range. The band of a posterior is the 5th to 95th percentile.
//
// # Asking
//
// The next question has the highest expected information: the mean fall of the entropy
// of the posterior over the answers that are to be expected (Lindley1956). What would tell
// two causes apart is the same with the posterior of these two alone.
//
// # Sources
//
//   - Jaeschke1994: limits of likelihood ratios.
//   - Lindley1956: expected information.
package diagnosis
