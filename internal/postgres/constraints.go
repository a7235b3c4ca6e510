package postgres

import (
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// meaning is what the failure of a constraint tells whoever asked.
type meaning struct {
	kind techlog.Kind
	says string

	field, rule, remedy string // for the kind invalid
}

// error makes the error. cause is for the log.
func (m meaning) error(cause error) error {
	switch m.kind {
	case again:
		return errAgain
	case techlog.KindInvalid:
		return casefile.Faults{{Field: m.field, Rule: m.rule, Says: m.says, Remedy: m.remedy}}
	default:
		return &techlog.Error{Kind: m.kind, Says: m.says, Cause: cause}
	}
}

// again is the kind of a failure that goes when the change is run again. It never leaves this package.
const again techlog.Kind = "again"

func fault(field, rule, says, remedy string) meaning {
	return meaning{techlog.KindInvalid, says, field, rule, remedy}
}

func required(field, says, remedy string) meaning { return fault(field, "required", says, remedy) }

func conflict(says string) meaning { return meaning{kind: techlog.KindConflict, says: says} }

func missing(what string) meaning {
	return meaning{kind: techlog.KindNotFound, says: "there is no such " + what}
}

// Failures that only a mistake of the program or a hand on psql can bring about.
var (
	taken = conflict("there is a record of this identifier already")
	kept  = conflict("what is on record stays: add a new entry instead")

	younger = conflict("it has not ended for 30 days: until then it stays")

	unsigned  = conflict("nobody has signed this")
	ownRecord = meaning{kind: techlog.KindForbidden, says: "nobody enters what concerns oneself: somebody else looks at the paper and does"}
	notHeld   = meaning{kind: techlog.KindForbidden, says: "the certificate is not in force on this day, or has been changed meanwhile"}
)

// meanings is every named constraint, unique index and refusing trigger of the schema, with what its failure means.
var meanings = map[string]meaning{
	// The closed sets of words.
	"role_known":             fault("role", "known-role", "there is no such role", "use one of the roles"),
	"squawk_kind_known":      fault("kind", "known-kind", "there is no such kind of squawk", "use inoperative or condition"),
	"squawk_state_known":     fault("state", "known-state", "there is no such state", "use reported, deferred or closed"),
	"squawk_step_known":      fault("step", "known-step", "there is no such step", "use one of the steps of a squawk"),
	"deferral_method_known":  fault("deferral.method", "known-method", "there is no such method", "use removed or deactivated"),
	"flight_rules_known":     fault("rules", "known-rules", "there are no such flight rules", "use vfr or ifr"),
	"flight_state_known":     fault("state", "known-state", "there is no such state", "use planned or cancelled"),
	"certificate_kind_known": fault("kind", "known-kind", "there is no such kind of certificate", "use one of the kinds of the contract"),
	"standing_kind_known":    fault("kind", "known-kind", "there is no such standing", "use one of the kinds of the contract"),
	"signed_action_known":    fault("act.action", "known-action", "it is nothing that is signed", "use one of the actions of the contract"),
	"proof_known":            fault("proof", "known-proof", "there is no such proof", "use password or passkey"),
	"verdict_known":          fault("hold.verdict", "known-verdict", "there is no such verdict", "use one of the verdicts"),

	"organization_pkey":       taken,
	"organization_name_given": required("name", "the name is missing", "give the organization a name"),

	"token_pkey":               taken,
	"token_digest_key":         conflict("this token is in use already"),
	"token_organization_fkey":  missing("organization"),
	"token_maker_fkey":         missing("member"),
	"token_roles_given":        required("roles", "there is no role", "give at least one role"),
	"token_of_a_person_ends":   required("until", "it is not said when the token runs out", "give an instant within a year"),
	"token_ends_within_a_year": fault("until", "within-a-year", "it would last longer than a year", "give an instant within a year"),
	"token_own_has_a_maker":    conflict("a token stands for the person who made it"),
	"token_append_only":        kept,
	"token_digest_is_sha256":   fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"token_name_given":         required("name", "nobody is named", "say who bears the token"),

	"token_revocation_pkey":        conflict("the token has been taken back"),
	"token_revocation_token_fkey":  missing("token"),
	"token_revocation_append_only": kept,

	"calendar_feed_pkey":                   taken,
	"calendar_feed_digest_key":             conflict("this address is in use already"),
	"calendar_feed_aircraft_fkey":          missing("aircraft"),
	"calendar_feed_maker_fkey":             missing("member"),
	"calendar_feed_digest_is_sha256":       conflict("a calendar is found by a SHA-256 digest"),
	"calendar_feed_name_given":             required("name", "the name is missing", "say what the calendar is for"),
	"calendar_feed_append_only":            kept,
	"calendar_feed_revocation_pkey":        conflict("the calendar has been taken back"),
	"calendar_feed_revocation_feed_fkey":   missing("calendar"),
	"calendar_feed_revocation_append_only": kept,

	// Somebody made the account of this address at the same moment: it is found next.
	"account_email_key":              {kind: again},
	"account_pkey":                   taken,
	"account_email_given":            required("email", "the e-mail address is missing", "give one"),
	"account_email_digest_is_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"account_name_given":             required("name", "the name is missing", "give the person's name"),
	"account_append_only":            kept,

	// Two administrators added the same person at the same moment: the second finds the membership.
	"membership_pkey":               {kind: again},
	"membership_organization_fkey":  missing("organization"),
	"membership_person_fkey":        missing("person"),
	"membership_name_given":         required("name", "the name is missing", "give the person's name"),
	"membership_roles_given":        required("roles", "there is no role", "give at least one role"),
	"membership_ends_later":         fault("until", "after-since", "the membership ends before it begins", "give a later instant"),
	"membership_kept":               kept,
	"membership_moves_by_versions":  conflict("a membership moves version by version"),
	"membership_last_administrator": conflict("the organization would be without an administrator: make somebody else one first"),
	"membership_entry_fkey":         conflict("a membership does not change without an entry in its history"),

	"membership_history_pkey":        conflict("the membership has an entry of this number already"),
	"membership_history_person_fkey": missing("member"),
	"membership_history_append_only": kept,

	"password_pkey":        taken,
	"password_person_fkey": missing("person"),
	"password_is_hashed":   fault("password", "hashed", "it is no hash by argon2id", "keep the hash in the PHC form"),
	"password_kept":        kept,

	"password_link_pkey":             taken,
	"password_link_person_fkey":      missing("person"),
	"password_link_digest_is_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"password_link_kept":             kept,
	"password_link_made_kept":        kept,
	"password_link_stays_used":       conflict("the link is spent"),

	"session_pkey":              taken,
	"session_digest_key":        taken,
	"session_person_fkey":       missing("person"),
	"session_organization_fkey": missing("member"),
	"session_digest_is_sha256":  fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"session_kept":              kept,
	"session_made_kept":         kept,
	"session_stays_ended":       conflict("the session has ended"),

	"attempt_pkey":              taken,
	"attempt_subject_is_sha256": fault("subject", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"attempt_kept":              kept,

	"passkey_pkey":          taken,
	"passkey_handle_key":    conflict("this passkey is registered already"),
	"passkey_person_fkey":   missing("person"),
	"passkey_name_given":    required("name", "the name is missing", "say which passkey it is"),
	"passkey_kept":          kept,
	"passkey_made_kept":     kept,
	"passkey_stays_removed": conflict("the passkey has been removed"),

	"recovery_code_pkey":             taken,
	"recovery_code_person_fkey":      missing("person"),
	"recovery_code_digest_is_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"recovery_code_kept":             kept,
	"recovery_code_made_kept":        kept,
	"recovery_code_stays_used":       conflict("the code is spent"),

	"challenge_pkey":                    taken,
	"challenge_ticket_key":              taken,
	"challenge_person_fkey":             missing("person"),
	"challenge_proof_is_about_a_digest": fault("about", "sha-256", "a proof is about a digest, and nothing else is", "give its 32 bytes"),
	"challenge_sign_in_has_a_ticket":    fault("ticket", "sha-256", "signing in has a ticket, and nothing else has", "give its digest"),
	"challenge_kept":                    kept,
	"challenge_made_kept":               kept,
	"challenge_stays_used":              conflict("the challenge is spent"),

	"linked_identity_pkey":             conflict("this identity is linked already"),
	"linked_identity_person_fkey":      missing("person"),
	"linked_identity_digest_is_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"linked_identity_append_only":      kept,

	"security_event_pkey":         taken,
	"security_event_is_somebodys": required("person", "it happened to nobody", "say to whom, or in which organization"),
	"security_event_append_only":  kept,
	"security_event_kind_known":   fault("kind", "known-kind", "there is no such kind", "use one of the kinds"),
	"challenge_purpose_known":     fault("purpose", "known-purpose", "there is no such purpose", "use sign-in, register or proof"),

	"base_pkey":              taken,
	"base_code_key":          conflict("another base has this code"),
	"base_organization_fkey": missing("organization"),
	"base_lat_range":         fault("lat", "range", "the latitude is out of range", "lat goes from -90 to 90"),
	"base_lon_range":         fault("lon", "range", "the longitude is out of range", "lon goes from -180 to 180"),
	"base_kept":              kept,

	"aircraft_pkey":             taken,
	"aircraft_registration_key": conflict("another aircraft has this registration"),
	"aircraft_base_fkey":        fault("base", "known-base", "there is no such base", "take an id from GET /v1/bases, or add the base first"),
	"aircraft_revision_fkey":    conflict("the aircraft has no configuration of this revision"),
	"aircraft_kept":             kept,

	"aircraft_configuration_pkey":          conflict("the aircraft has a configuration of this revision already"),
	"aircraft_configuration_aircraft_fkey": missing("aircraft"),
	"aircraft_configuration_append_only":   kept,

	"company_rules_pkey":              {kind: techlog.KindStale, says: "the rules were changed meanwhile"},
	"company_rules_organization_fkey": missing("organization"),
	"company_rules_version_counts":    fault("version", "range", "versions count from 1", "leave the version to the program"),
	"company_rules_append_only":       kept,

	"determination_pkey":        taken,
	"determination_flight_fkey": missing("flight"),
	"determination_append_only": kept,

	"squawk_pkey":                   taken,
	"squawk_number_key":             conflict("the aircraft has a squawk of this number already"),
	"squawk_aircraft_fkey":          missing("aircraft"),
	"squawk_words_given":            required("words", "nothing is written about it", "say in a sentence what was seen"),
	"squawk_deferral_when_deferred": fault("deferral", "deferred", "a squawk is deferred with its deferral and one unit or item that it names, and only then", "name what is inoperative, and give its deferral"),
	"squawk_deferral_fkey":          conflict("the squawk has no such deferral"),
	"squawk_entry_fkey":             conflict("a squawk does not move without an entry in its history"),
	"squawk_one_open_deferral":      conflict("another squawk about the same item is deferred already"),
	"squawk_kept":                   kept,
	"squawk_moves_by_versions":      conflict("a squawk moves version by version"),
	"squawk_report_kept":            kept,
	"squawk_duplicate_fkey":         fault("of", "known-squawk", "there is no such squawk", "name another squawk of the aircraft"),
	"squawk_expected":               fault("expected", "open-squawk", "what is expected has a day and words, and its squawk is open", "give both, or neither"),
	"squawk_duplicate_closed":       conflict("a duplicate is closed, and is another squawk's"),
	"squawk_progress_signed":        unsigned,

	"squawk_history_pkey":           conflict("the squawk has an entry of this number already"),
	"squawk_history_squawk_fkey":    missing("squawk"),
	"squawk_history_append_only":    kept,
	"squawk_history_signature_fkey": unsigned,
	"squawk_history_signed":         unsigned,
	"squawk_history_expected":       conflict("only the step expect says when"),
	"squawk_history_signature_once": conflict("a signature makes one step"),

	"deferral_pkey":                 conflict("there is another deferral of this identifier: a deferral is never changed, only followed by a new one"),
	"deferral_squawk_key":           taken,
	"deferral_squawk_fkey":          missing("squawk"),
	"deferral_basis_given":          required("deferral.basis", "the basis is missing", "cite the rule of the path taken"),
	"deferral_placard_given":        required("deferral.placard", "there is no placard", "give the words on the placard"),
	"deferral_entry_given":          required("deferral.entry", "there is no maintenance record entry", "give the reference of the entry"),
	"deferral_determination_signed": required("deferral.determined_by", "nobody has determined that it is no hazard", "name who did, with the certificate"),
	"deferral_determination_dated":  required("deferral.determined_at", "the determination has no date", "say when it was made"),
	"deferral_removal_dated":        fault("deferral.removed_on", "removed-only", "there is a date of removal, but the item was not removed", "leave the date out"),
	"deferral_ends_later":           fault("deferral.until", "after-determination", "the deferral ends before it begins", "give an end after the determination"),
	"deferral_append_only":          kept,
	"deferral_signature_key":        conflict("a signature makes one deferral"),
	"deferral_signed":               unsigned,

	"certificate_pkey":              {kind: techlog.KindStale, says: "the certificate was changed meanwhile"},
	"certificate_signed_key":        taken,
	"certificate_organization_fkey": missing("organization"),
	"certificate_version_counts":    fault("version", "range", "versions count from 1", "leave the version to the program"),
	"certificate_number_given":      required("number", "the number is missing", "give the number that stands on the certificate"),
	"certificate_name_given":        required("name", "nobody is named", "name the person who holds it"),
	"certificate_window":            fault("valid_until", "after-from", "it ends before it begins", "give a last day on or after the first"),
	"certificate_recency":           fault("recent_until", "after-from", "the experience covers no day", "give both days, in order, or neither"),
	"certificate_by_another":        ownRecord,
	"certificate_append_only":       kept,
	"certificate_follows":           conflict("a certificate is followed version by version, until it is ended"),

	"standing_pkey":              {kind: techlog.KindStale, says: "the standing was changed meanwhile"},
	"standing_organization_fkey": missing("organization"),
	"standing_aircraft_fkey":     missing("aircraft"),
	"standing_version_counts":    fault("version", "range", "versions count from 1", "leave the version to the program"),
	"standing_name_given":        required("name", "nobody is named", "name the person"),
	"standing_window":            fault("valid_until", "after-from", "it ends before it begins", "give a last day on or after the first"),
	"standing_by_another":        ownRecord,
	"standing_append_only":       kept,
	"standing_follows":           conflict("a standing is followed version by version, until it is ended"),

	"signature_pkey":                 taken,
	"signature_squawk_key":           taken,
	"signature_aircraft_key":         taken,
	"signature_aircraft_fkey":        missing("aircraft"),
	"signature_squawk_fkey":          missing("squawk"),
	"signature_certificate_fkey":     notHeld,
	"signature_certificate_in_force": notHeld,
	"signature_corrects_fkey":        missing("signature"),
	"signature_name_given":           required("name", "nobody is named", "say who signs"),
	"signature_authority_given":      conflict("no rule says that this may be signed"),
	"signature_digest_of_text":       conflict("the digest is not that of what is signed"),
	"signature_says_what_it_is":      conflict("the signature says something else than what is signed"),
	"signature_correction_corrects":  conflict("a correction names what it corrects, and only a correction does"),
	"signature_about_squawk":         conflict("it is signed about a squawk"),
	"signature_append_only":          kept,

	"flight_pkey":          taken,
	"flight_aircraft_fkey": missing("aircraft"),
	"flight_from_fkey":     fault("from", "known-base", "there is no such base", "take an id from GET /v1/bases, or add the base first"),
	"flight_to_fkey":       fault("to", "known-base", "there is no such base", "take an id from GET /v1/bases, or add the base first"),
	"flight_window":        fault("arrives", "after-departs", "the flight ends before it starts", "give an arrival after the departure"),
	"flight_legs":          fault("legs", "length", "the flight has no leg, or too many", "give 1 to 20 legs"),
	"flight_hold_legs":     fault("legs", "length", "the hold is not that of the flight's legs", "give each leg its hold"),
	"flight_kept":          kept,

	"airport_pkey":             taken,
	"airport_lat_range":        fault("latitude_deg", "range", "the latitude is out of range", "lat goes from -90 to 90"),
	"airport_lon_range":        fault("longitude_deg", "range", "the longitude is out of range", "lon goes from -180 to 180"),
	"airport_name_given":       required("name", "the name is missing", "give the airport a name"),
	"airport_kept":             kept,
	"block_kind_known":         fault("kind", "known-kind", "there is no such kind of block", "use maintenance, away, reserved or other"),
	"block_pkey":               taken,
	"block_aircraft_fkey":      missing("aircraft"),
	"block_window":             fault("until", "after-from", "the block ends before it begins", "give an end after the beginning, or none"),
	"block_words_given":        required("words", "the words are missing", "say what the block is for"),
	"block_kept":               kept,
	"flight_shown_pkey":        taken,
	"flight_shown_flight_fkey": missing("flight"),
	"flight_shown_append_only": kept,

	"event_pkey":           taken,
	"event_append_only":    kept,
	"event_place_from_one": taken,

	// A number of the log is given out under the lock of its head.
	"log_entry_pkey":             kept,
	"log_entry_digest_is_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"log_entry_append_only":      kept,
	"log_head_pkey":              taken,
	"log_head_organization_fkey": missing("organization"),
	"log_head_kept":              kept,
	"log_head_only_grows":        kept,
	"log_checkpoint_pkey":        taken,
	"log_checkpoint_append_only": kept,

	// Somebody sent the same request at the same moment and was first: its answer is read next.
	"idempotency_pkey": {kind: again},

	"meter_known":            fault("meter", "known-meter", "there is no such meter", "use hobbs, tach or time-in-service"),
	"walkaround_state_known": fault("state", "known-state", "there is no such state", "use open or completed"),

	"checklist_template_pkey":              {kind: techlog.KindStale, says: "the checklist was changed meanwhile"},
	"checklist_template_organization_fkey": missing("organization"),
	"checklist_template_version_counts":    fault("version", "range", "versions count from 1", "leave the version to the program"),
	"checklist_template_type_given":        required("type", "the type is missing", "name the type as its type certificate does"),
	"checklist_template_append_only":       kept,

	"airframe_checklist_pkey":           {kind: techlog.KindStale, says: "the aircraft's checklist was changed meanwhile"},
	"airframe_checklist_aircraft_fkey":  missing("aircraft"),
	"airframe_checklist_template_fkey":  fault("template", "known-template", "there is no such template", "take an id from GET /v1/checklist-templates, or add the template first"),
	"airframe_checklist_version_counts": fault("version", "range", "versions count from 1", "leave the version to the program"),
	"airframe_checklist_append_only":    kept,

	"checklist_pkey":             taken,
	"checklist_digest_is_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 64 digits"),
	"checklist_append_only":      kept,

	"walkaround_pkey":                  conflict("another walkaround has this identifier; make a new one"),
	"walkaround_aircraft_fkey":         missing("aircraft"),
	"walkaround_flight_fkey":           missing("flight"),
	"walkaround_checklist_fkey":        missing("checklist"),
	"walkaround_completed_by_somebody": conflict("a walkaround is completed by somebody at some time, or it is open"),
	"walkaround_kept":                  kept,
	"walkaround_start_kept":            kept,
	"walkaround_moves_by_versions":     conflict("a walkaround moves version by version"),
	"walkaround_completion_kept":       kept,

	// Reports are numbered under the lock of their walkaround.
	"walkaround_report_pkey":            taken,
	"walkaround_report_walkaround_fkey": missing("walkaround"),
	"walkaround_report_number_counts":   fault("number", "range", "reports count from 1", "leave the number to the program"),
	"walkaround_report_append_only":     kept,
	"walkaround_report_result_once":     conflict("one of these results is on record already"),
	"walkaround_report_measures_its_results": fault("results", "known-result", "something was measured that no result says",
		"leave what is measured to the program"),

	"walkaround_squawk_pkey":            conflict("a squawk has been filed of this finding already"),
	"walkaround_squawk_walkaround_fkey": missing("walkaround"),
	"walkaround_squawk_of_a_result":     missing("result"),
	"walkaround_squawk_squawk_fkey":     missing("squawk"),
	"walkaround_squawk_append_only":     kept,

	// Somebody entered the same meter at the same moment and was first: the book is read again.
	"meter_entry_pkey":             {kind: again},
	"meter_entry_aircraft_fkey":    missing("aircraft"),
	"meter_entry_walkaround_fkey":  missing("walkaround"),
	"meter_entry_flight_fkey":      missing("flight"),
	"meter_entry_hours_range":      fault("hours", "range", "the hours are out of range", "give hours between 0 and 200,000"),
	"meter_entry_append_only":      kept,
	"meter_entry_follows_the_book": conflict("the entry does not follow the book, and nothing says why"),

	"webhook_state_known":             fault("state", "known-state", "there is no such state", "use on, off, broken or ended"),
	"webhook_pkey":                    taken,
	"webhook_organization_fkey":       missing("organization"),
	"webhook_aircraft_fkey":           fault("aircraft", "known-aircraft", "there is no such aircraft", "take an id from GET /v1/aircraft, or leave it out"),
	"webhook_version_from_one":        fault("version", "range", "versions count from 1", "begin with 1"),
	"webhook_kept":                    kept,
	"webhook_secret_pkey":             taken,
	"webhook_secret_webhook_fkey":     missing("webhook"),
	"webhook_secret_kept":             kept,
	"webhook_relay_pkey":              taken,
	"webhook_relay_organization_fkey": missing("organization"),
	"webhook_relay_kept":              kept,
	"delivery_state_known":            fault("state", "known-state", "there is no such state", "use pending, delivered or dead"),
	"delivery_pkey":                   taken,
	"delivery_attempts_from_zero":     fault("attempts", "range", "attempts count from 0", "begin with 0"),
	"delivery_kept":                   kept,
	"delivery_lane_pkey":              taken,
	"delivery_lane_held_until":        conflict("whoever holds a lane says until when"),
	"delivery_lane_kept":              kept,

	"photo_type_known":         fault("body", "known-type", "there is no such type", "send a picture or a PDF file"),
	"photo_pkey":               taken,
	"photo_squawk_fkey":        missing("squawk"),
	"photo_walkaround_fkey":    missing("walkaround"),
	"photo_of_a_result":        missing("result"),
	"photo_signature_fkey":     missing("signature"),
	"photo_of_one_thing":       conflict("a photo belongs to one thing"),
	"photo_digests_are_sha256": fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"photo_size_range":         fault("body", "size", "it is too large", "send at most 10 MiB"),
	"photo_is_seen":            conflict("a picture has a size and a thumbnail, and a file has neither"),
	"photo_append_only":        kept,

	"content_pkey":              taken, // putting it again is no conflict
	"content_organization_fkey": missing("organization"),
	"content_digest_of_bytes":   conflict("the digest is not that of the content"),
	"content_size":              fault("body", "size", "it is too large", "send at most 10 MiB"),
	"content_kept":              kept,
	"content_bytes_kept":        kept,
	"content_in_use":            conflict("a photo has this content"),

	"session_kept_for_a_month":     younger,
	"challenge_kept_for_a_month":   younger,
	"attempt_kept_for_a_month":     younger,
	"idempotency_kept":             kept,
	"idempotency_kept_for_a_month": younger,

	"note_kind_known":                     fault("kind", "known-kind", "there is no such kind of note", "use one of the kinds of note"),
	"note_state_known":                    fault("state", "known-state", "there is no such state", "use one of the states of a note"),
	"warning_leads_pkey":                  conflict("they were changed meanwhile"),
	"warning_leads_organization_fkey":     missing("organization"),
	"warning_leads_version_counts":        fault("version", "counts", "it is no version", "count versions from 1"),
	"warning_leads_range":                 fault("days_ahead", "range", "they are no days ahead", "give at most 10 numbers from 0 to 365"),
	"warning_leads_append_only":           kept,
	"warning_pkey":                        taken,
	"warning_given_once":                  conflict("it was told ahead already"),
	"warning_aircraft_fkey":               missing("aircraft"),
	"warning_squawk_fkey":                 missing("squawk"),
	"warning_append_only":                 kept,
	"notice_preference_pkey":              conflict("it was changed meanwhile"),
	"notice_preference_person_fkey":       missing("member"),
	"notice_preference_kept":              kept,
	"notice_preference_moves_by_versions": conflict("versions follow each other"),
	"note_cursor_pkey":                    taken,
	"note_cursor_organization_fkey":       missing("organization"),
	"note_cursor_kept":                    kept,
	"note_cursor_goes_on":                 conflict("what has been told of is not told of again"),
	"note_pkey":                           taken,
	"note_written_once":                   conflict("there is a note of this cause already"),
	"note_person_fkey":                    missing("member"),
	"note_says_something":                 conflict("a note has a letter, unless there was nothing to tell"),
	"note_sent_at_an_instant":             conflict("a note was sent at an instant, or not at all"),
	"note_kept":                           kept,
	"note_words_kept":                     kept,
	"note_ends_once":                      conflict("what has become of the note stays"),
	"stop_link_pkey":                      taken,
	"stop_link_person_fkey":               missing("member"),
	"stop_link_digest_is_sha256":          fault("digest", "sha-256", "it is no SHA-256 digest", "give its 32 bytes"),
	"stop_link_append_only":               kept,
}
