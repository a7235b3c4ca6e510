// Package webhook sends an organization's events to the addresses that it has named.
//
// It owns what is sent and how it is signed, to which addresses a connection is made at all, how often and when a delivery
// is tried, and the order in which a lane's deliveries go out. It does not own the events, the records of webhooks and
// deliveries (that is the store), or who may keep webhooks (that is hangar).
//
// The store turns events into deliveries behind a cursor, in one transaction that holds its lock: none twice, none passed
// over. A lane is what goes to one webhook about one aircraft. The row of a lane says when somebody has to look at it: never,
// as nothing waits in it; from then on; or, with a holder, once that one has had it too long. Whoever adds to a lane and whoever
// finds it empty lock its row, so that nothing is left lying. A courier takes a lane for 15 s, sends its oldest, keeps what came
// of it, and goes on; a retry gives the lane back until it is due. What cannot be delivered holds up its own lane alone. After a day of failures a delivery is given up, and the lane goes on:
// receivers that follow an aircraft then miss one event, which stays listed and can be sent again, and not all that follow.
package webhook
