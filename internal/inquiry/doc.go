// Package inquiry answers what a pilot, an inspector or a scheduler asks beyond the verdict: which facts would settle a
// case that is undetermined, and which flights an aircraft may make as it stands.
//
// It owns the questions, the search for their answers, and the bounds of that search. It does not own a rule, a verdict
// or the written form of a case: every answer comes from judging with the engine, or from what the engine says of its
// own findings.
package inquiry
