// Package notice says what people are told, when, and in which words.
//
// It owns the kinds of note, what a person wants to hear of, quiet hours and the hour of the digest by the clock on the
// person's wall, how many days ahead a warning is given, and how a letter reads. It does not own what happened, whom an
// organization has, how a letter is sent or where it is kept.
package notice
