// Package airworthiness decides whether an aircraft may make a flight with what is wrong with it.
//
// It owns the words of the decision (facts, conditions, requirements, findings, verdicts) and the order of
// 14 CFR 91.213(d); and, for what a finding asks of people, who may do what, what is to be done, and what a record must
// hold. It does not own the regulation itself: the rows come in as a Ruleset. It reads no file, no clock
// and no database, keeps no state between calls and never fails: a bad aircraft is a finding, not an error.
//
// The verdict is an aid, not an approval. The pilot in command decides last (14 CFR 91.7(b)).
package airworthiness
