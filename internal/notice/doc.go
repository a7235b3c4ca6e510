// Package notice tells others of what has happened: it writes events down as programs take them, and wakes whoever follows
// an organization's events when there may be a new one.
//
// It owns the written form of an event (CloudEvents 1.0) and who is woken when. It does not own the events, who may see
// them, HTTP or the database: it asks a source for no more than the place of the newest event.
package notice
