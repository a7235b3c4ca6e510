// Package oracle answers the question of a case a second time, slowly and readably, so that a test can hold the engine
// against it: may this aircraft, with these squawks, make this flight, and which rules stand in the way?
//
// It owns a plain reading of the rules: one small function a rule, in the order of the regulation, three-valued
// throughout. It does not own the facts (casefile), the names of items (the catalog, which is handed in), or the light
// along a route (daylight). It shares neither tables nor code with the engine that it checks.
package oracle
