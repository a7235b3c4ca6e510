// Package webhook sends an organization's events to the addresses that it has named.
//
// It owns what is sent and how it is signed, to which addresses a connection is made at all, how often and when a delivery
// is tried, and the order in which a lane's deliveries go out. It does not own the events, the records of webhooks and
// deliveries (that is the store), or who may keep webhooks (that is hangar).
//
// A lane is what goes to one webhook about one aircraft: it is worked on by one courier at a time, oldest first, and what
// cannot be delivered holds up its own lane alone. After a day of failures a delivery is given up, and the lane goes on:
// receivers that follow an aircraft then miss one event, which stays listed and can be sent again, and not all that follow.
package webhook
