// Package papers makes the papers that belong in the aircraft or in its log, as PDF: the placard of an inoperative item,
// the list of deferred items for the pilot, and a maintenance entry to sign by hand.
//
// It owns what stands on each paper and where, the sizes of labels, and what is printed for a letter that the font does
// not have. Nothing is cut off: text is wrapped, then made smaller down to a stated size, and then goes to a further
// page, or the label is refused. The same values give the same bytes. It does not own the records, a rule, a file, the
// clock or HTTP: plain values in, bytes out.
package papers
