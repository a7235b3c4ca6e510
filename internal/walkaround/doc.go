// Package walkaround is the preflight inspection of an aircraft: what is checked at which station, what was found, and
// what was not done.
//
// It owns checklists and how an airframe's own is made from its type's, which checks apply to a flight, what a result
// means, the review that ends a walkaround, what a finding is proposed as, and how meters are held against the book. It
// does not own storage, HTTP, the clock or any decision of airworthiness: a finding becomes a squawk, and the squawk is
// judged elsewhere.
package walkaround
