package postgres

// The records that the log vouches for. A table that is added has a line here, or a reason in the test that walks the
// catalogue why it has none. Columns stand in the order of the arguments of the statements that write them; what is
// worked out from other records, and may be worked out anew, is not covered.
var (
	organizations = ledger{table: "organization", columns: []column{
		{name: "organization", sql: "id", kind: uuids, part: key}, covers("name", texts),
	}}
	tokens = ledgerOf("token", named("id", uuids), covers("digest", digests), covers("name", texts), covers("roles", words),
		covers("maker", uuids), covers("own", truths), covers("actions", lists), covers("made_at", instants), covers("until", instants))
	revocations = ledgerOf("token_revocation", named("token", uuids), covers("at", instants), covers("by", texts))
	memberships = ledgerOf("membership", named("person", uuids), covers("name", texts), covers("roles", words), covers("since", instants),
		covers("until", instants), counted())
	membershipHistories = ledgerOf("membership_history", named("person", uuids), named("number", integers), covers("at", instants),
		covers("by", texts), covers("name", texts), covers("roles", words), covers("until", instants))
	bases = ledgerOf("base", named("id", uuids), covers("code", texts), covers("name", texts), covers("lat", numbers),
		covers("lon", numbers), covers("zone", texts), counted())
	fleet = ledgerOf("aircraft", named("id", uuids), covers("registration", texts), covers("type", texts), covers("base", uuids),
		covers("facts", documents), covers("revision", integers), counted())
	configurations = ledgerOf("aircraft_configuration", named("aircraft", uuids), named("revision", integers), covers("at", instants),
		covers("by", texts), covers("document", documents))
	squawks = ledgerOf("squawk", named("id", uuids), covers("aircraft", uuids), covers("number", integers), covers("kind", texts),
		covers("unit", texts), covers("item", texts), covers("words", texts), covers("state", texts), covers("deferral", uuids),
		covers("reported_by", texts), covers("reported_at", instants), counted(), covers("confirmed", truths),
		covers("duplicate_of", uuids), covers("progress", documents), later(covers("expected_on", dates), "null"), later(covers("expected_words", texts), `""`))
	histories = ledgerOf("squawk_history", named("squawk", uuids), named("number", integers), covers("at", instants), covers("by", texts),
		covers("step", texts), covers("state", texts), covers("words", texts), covers("signature", uuids),
		later(covers("expected_on", dates), "null"))
	deferrals = ledger{table: "deferral", once: true, columns: []column{
		covers("organization", uuids), named("id", uuids), covers("squawk", uuids), covers("basis", texts), covers("method", texts),
		covers("placard", texts), covers("entry", texts), covers("determined_by", texts), covers("determined_at", instants),
		covers("removed_on", dates), covers("until", instants), covers("considered", lists),
		covers("signature", uuids), covers("discovered", dates), covers("extended_until", dates),
		covers("involves_maintenance", truths), covers("maintenance_done", truths),
	}}
	certificates = ledgerOf("certificate", named("id", uuids), named("version", integers), covers("person", uuids), covers("name", texts),
		covers("kind", texts), covers("number", texts), covers("grade", texts), covers("ratings", lists), covers("trained", lists),
		covers("valid_from", dates), covers("valid_until", dates), covers("recent_from", dates), covers("recent_until", dates),
		covers("ended", truths), covers("entered_by", uuids), covers("by", texts), covers("at", instants))
	standings = ledgerOf("standing", named("id", uuids), named("version", integers), covers("person", uuids), covers("name", texts),
		covers("aircraft", uuids), covers("kind", texts), covers("valid_from", dates), covers("valid_until", dates), covers("ended", truths),
		covers("entered_by", uuids), covers("by", texts), covers("at", instants))
	signatures = ledgerOf("signature", named("id", uuids), covers("aircraft", uuids), covers("squawk", uuids), covers("action", texts),
		covers("person", uuids), covers("name", texts), covers("certificate", uuids), covers("certificate_version", integers),
		covers("certificate_kind", texts), covers("certificate_number", texts), covers("ratings", lists), covers("authority", documents),
		covers("digest", digests), covers("text", texts), covers("proven", texts), covers("day", dates), covers("at", instants),
		covers("corrects", uuids))
	flights = ledgerOf("flight", named("id", uuids), covers("aircraft", uuids), covers("from_base", uuids), covers("to_base", uuids),
		covers("departs", instants), covers("arrives", instants), covers("rules", texts), covers("facts", documents),
		covers("purpose", texts), covers("state", texts), covers("planned_by", texts), covers("light_day", truths),
		covers("light_night", truths), covers("light_sunset_to_sunrise", truths), covers("in_alaska", truths), covers("zone", texts),
		counted(), later(covers("legs", documents), "null"), later(covers("series", uuids), "null"))
	rulebooks = ledgerOf("company_rules", named("version", integers), covers("rules", documents), covers("policy", documents),
		covers("at", instants), covers("by", texts))
	determinations = ledgerOf("determination", named("id", uuids), covers("flight", uuids), covers("at", instants), covers("by", texts),
		covers("verdict", texts), covers("record", texts))

	templates = ledgerOf("checklist_template", named("id", uuids), named("version", integers), covers("type", texts),
		covers("checks", documents), covers("at", instants), covers("by", texts))
	airframeChecklists = ledgerOf("airframe_checklist", named("aircraft", uuids), named("version", integers), covers("template", uuids),
		covers("template_version", integers), covers("serial", texts), covers("changes", documents), covers("at", instants),
		covers("by", texts))
	checklists = ledger{table: "checklist", once: true, columns: []column{
		covers("organization", uuids), named("digest", texts), covers("document", documents),
	}}
	walkarounds = ledgerOf("walkaround", named("id", uuids), covers("aircraft", uuids), covers("flight", uuids),
		covers("checklist", texts), covers("place", texts), covers("moisture", truths), covers("state", texts),
		covers("started_by", texts), covers("started_at", instants), covers("completed_by", texts), covers("completed_at", instants),
		covers("left_open", lists), counted())
	reports = ledgerOf("walkaround_report", named("walkaround", uuids), named("number", integers), covers("at", instants),
		covers("by", texts), covers("late", truths), covers("ids", uuidLists), covers("results", texts))
	filings = ledgerOf("walkaround_squawk", named("walkaround", uuids), named("result", uuids), covers("squawk", uuids),
		covers("at", instants), covers("by", texts))
	meterEntries = ledgerOf("meter_entry", named("aircraft", uuids), named("meter", texts), named("number", integers),
		covers("hours", numbers), covers("at", instants), covers("by", texts), covers("walkaround", uuids), covers("flight", uuids),
		covers("because", texts))
	photos = ledgerOf("photo", named("id", uuids), covers("squawk", uuids), covers("walkaround", uuids), covers("result", uuids),
		covers("signature", uuids), covers("type", texts), covers("digest", digests), covers("thumbnail", digests),
		covers("size", integers), covers("width", integers), covers("height", integers), covers("at", instants), covers("by", texts))
	webhooks = ledgerOf("webhook", named("id", uuids), covers("url", texts), covers("kinds", lists), covers("aircraft", uuids),
		covers("state", texts), covers("by", texts), covers("at", instants), counted())
	feeds = ledgerOf("calendar_feed", named("id", uuids), covers("digest", digests), covers("name", texts), covers("aircraft", uuids),
		covers("maker", uuids), covers("at", instants))
	blocks = ledgerOf("block", named("id", uuids), covers("aircraft", uuids), covers("begins", instants), covers("ends", instants),
		covers("kind", texts), covers("words", texts), covers("by", texts), covers("at", instants), covers("cancelled", truths), counted())
	showings = ledgerOf("flight_shown", named("id", uuids), covers("flight", uuids), covers("person", uuids), covers("name", texts),
		covers("at", instants), covers("by", texts), covers("verdict", texts), covers("shown", texts))
	feedRevocations = ledgerOf("calendar_feed_revocation", named("feed", uuids), covers("at", instants), covers("by", texts))
)

// ledgers are all of them.
var ledgers = []ledger{
	organizations, tokens, revocations, memberships, membershipHistories, bases, fleet, configurations, squawks, histories, deferrals, certificates, standings,
	signatures, flights, rulebooks, determinations,
	templates, airframeChecklists, checklists, walkarounds, reports, filings, meterEntries, photos,
	feeds, feedRevocations, blocks, showings,
	webhooks,
}

// ledgerNamed finds the ledger of a table.
func ledgerNamed(table string) (ledger, bool) {
	for _, l := range ledgers {
		if l.table == table {
			return l, true
		}
	}
	return ledger{}, false
}
