// Package identity does what is hard about knowing who somebody is: hashes of passwords that are slow to try out, the
// ceremonies of passkeys, and signing in by way of another provider.
//
// It owns the libraries for these and their settings, and speaks the words of internal/people. It does not own who may
// try how often, what is kept, or anything of HTTP's own sessions.
package identity
