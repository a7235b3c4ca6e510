// Package engines writes one decision three ways over the same tables: as the airworthiness engine has it, in cel-go,
// and in Open Policy Agent. It holds that all three give the same answers, and measures what each takes to give them.
//
// It owns the two baselines and the workload. It does not own the decision, which is the engine's.
package engines
