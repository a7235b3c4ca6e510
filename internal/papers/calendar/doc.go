// Package calendar writes availability down as iCalendar (RFC 5545): a feed of events that calendar programs subscribe
// to, and the times at which something is free or busy.
//
// It owns how what is known is said in that form: which properties an event has, that it is recognised and replaced as it
// changes, and what becomes of letters that the form has no room for. It does not own the records, a rule, a verdict, the
// clock or HTTP: plain values in, text out. The same values give the same bytes.
package calendar
