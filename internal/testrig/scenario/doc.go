// Package scenario reads and checks stories: what a pilot, a mechanic or an inspector would say about an aircraft with
// something wrong with it, and what the regulation says must come of it.
//
// It owns the story format and the comparison of a story with a determination. It does not own the aircraft, the rules
// or the determination itself.
//
// # The format
//
// A file holds many stories. Every line is a keyword, a colon and its value; a story begins with the line "story:".
// A line that begins with # is a comment, and so is everything from " # " on. Empty lines separate.
//
//	story: The landing light is out, and the night flight is for hire
//	source: 14 CFR 91.205(c)(4), eCFR title 14 issue 2026-08-24
//	aircraft: trainer
//	given: landing-light inoperative
//	flight: night vfr, for-hire
//	then: grounded
//	because: 91.205-c-4 breached
//
// Who and what:
//
//	story:        the story in one sentence; no two stories of a file are the same
//	source:       what the outcome rests on, and where it was read; "from memory" where it was not
//	aircraft:     one of the demonstration aircraft
//
// Changes to the aircraft, in the order of their lines:
//
//	fact:         NAME = VALUE, or NAME = unknown; a field of the aircraft's facts. Lists are written a/b
//	without:      a unit that is not installed after all
//	add:          ID = ITEM [also ITEM/ITEM] [serves N/N] [needs ID/ID]; a further unit
//	units:        complete, incomplete or unknown: whether the list of units is the whole list
//	document:     NAME = on-record, none or unknown; NAME is type_certification, equipment_list, koel or directives.
//	              A document that is none or unknown has no rows. The type_certification list may also be unconfirmed:
//	              on record with its rows, but no rated person has confirmed it
//	inspections:  WORD VALUE, separated by commas; the words are annual, condition, altimeter, transponder, elt and
//	              elt-battery with a date, hours (since the last annual or 100-hour inspection) and elt-battery-hours
//	              with a number, each or unknown. What is not named here is in order on the day of the flight: annual
//	              and condition inspection and that of the ELT 90 days before, altimeter and transponder tested 300 days
//	              before, 41.5 hours since, the ELT's battery good for 400 days more and used for 0.2 hours
//	papers:       WORD VALUE, separated by commas; airworthiness, displayed, registration, limitations, weight and radio are
//	              aboard, missing or unknown; registration-through, weight-dated, weight-for (a revision) and radio-through
//	              have a value. Where inspections are in order, so are the papers on the day of the flight, but for a radio
//	              licence, which there is none: the equipment is of revision 7 and of 500 days before
//	upkeep:       complete, incomplete or unknown: whether the items are all directives and life limits that there are
//	item:         KIND ID, then separated by commas: through DATE, left HOURS, cycles-left N (due first), done DATE,
//	              days N (an interval), ended, permit barred or permit allowed, stops FLIGHTS (of the own kind)
//	on-list:      NAME = ITEM N [for KIND/KIND]; a further row of a document
//	on-list:      directives = ITEM N, permit barred or permit allowed: whether it allows a special flight permit
//	off-list:     NAME = ITEM; the rows of that item are struck
//	mel:          on-record (aboard, with no rows yet, and nothing else said), none or unknown; not aboard; authority letter, 91.213(c) or
//	              unknown; letter aboard, not aboard or unknown; without ITEM: its row is struck; ITEM = installed N,
//	              required N, category A, days N, operations, maintenance, only-when CONDITIONS, proviso WORDS: the row of
//	              that item, with those parts only. A row asks for no procedure unless it says so; "operations unknown"
//	              and "maintenance unknown" leave it open
//
// What has been reported, one line a squawk:
//
//	given:        SUBJECT inoperative, SUBJECT condition or SUBJECT unstated. The subject is the id of an installed unit,
//	              or else an item of the catalog. Then, separated by commas, what has been done: deactivated,
//	              removed [DATE], to be deactivated, to be removed, out of use, placarded, recorded, hazard determined,
//	              until DATE (that day included), maintenance procedure done, discovered DATE, extended, extended until DATE. The squawk is
//	              known by its subject; a second one on the same subject by the subject and "-2". A deactivation involves maintenance or has no maintenance; else nobody has said
//	policy:       strict or rule-text: when a deactivation is entered in the maintenance record
//
//	considered:   all: every hazard determination was made in view of every other squawk of the story. Or
//	              SUBJECT = OTHER/OTHER: that of one squawk in view of these others. Without, in view of none
//
// The organization's own rules:
//
//	company:      ID = ITEM QUANTITY, ID = must CONDITION or ID = note, then "when CONDITIONS", "from DATE", "to DATE" as
//	              far as wanted; the id begins with "company-"
//
//	found:        SUBJECT repaired or SUBJECT within-limits, of a squawk given above. Then, separated by commas, rated,
//	              data WORDS, approved
//
// The flight, on one line:
//
//	flight:       LIGHT RULES, then words separated by commas. LIGHT is day, dusk (from sunset to the end of civil
//	              twilight: no longer daylight, not yet night), night, day-and-night or unlit (nobody has said).
//	              RULES is vfr, ifr or unruled (nobody has said).
//
// The further words are those of the flight's facts. A fact alone is so, after "not" it is not so, and before "unknown"
// nobody has said: for-hire, over-water, controlled-airspace, below-2500-agl, in-alaska, dark,
// over-30-minutes-above-12500, instruction-provided-aircraft. A claim is made or not: only-required-crew, training-within-50nm, to-place-of-repair,
// repair-impossible, under-way, to-place-of-inspection,
// newly-acquired-to-installation. Followed by a number or "unknown": occupants (aged two or more), persons (all aboard),
// required-crew, altitude (ft MSL), cabin (ft), hours (time in service). Followed by a list a/b, "none" or "unknown": airspace, navigates,
// atc-authorized, operations. Followed by a date: date (departure), ends.
//
// A flight that says nothing else leaves by day under VFR on 2027-01-15 and lands two hours later. It is not for hire,
// not over water, not in Alaska, no instruction in an aircraft that the instructor provides, outside designated and controlled airspace, no higher than 3,000 ft, with one occupant,
// who is the one required crewmember. Persons are as many as occupants unless stated. What is not named here is unknown.
//
// The special flight permit, if the flight claims one, on one line:
//
//	permit:       NUMBER, then, separated by commas, issued DATE, from DATE HH:MM and until DATE HH:MM (UTC), covers
//	              SQUAWK/SQUAWK, kinds KIND/KIND, only-required-crew or others allowed, limitation WORDS
//
// What must come of it:
//
//	then:         the verdict
//	because:      ROW OUTCOME [by RELIEF] [for SUBJECT]; a finding that must be there
//	because-not:  ROW [OUTCOME] [for SUBJECT]; a finding that must not be there
//	missing:      a fact that the answer asks for
//	limited-to:   a limitation of the answer, in its own words
//	refused:      instead of a verdict: a field of the input that is at fault
//
//	to-do:        ROW [for SUBJECT]; something to do that must be there
//	to-do-not:    ROW [for SUBJECT]; something to do that must not be there
//
// A story about people, work and records may stand beside a verdict or alone:
//
//	person:       who would act, in phrases separated by commas: GRADE pilot [RATING/RATING], mechanic [airframe/powerplant],
//	              inspection authorization [until DATE], repair station RATING/RATING, KIND repairman, and what the person
//	              is or has done: owner, operator, builder, pilot in command, recent, understands, done before, did the
//	              work, trained, rated, equipped, manufacturer, program, competent, observed, available; after "not" it is
//	              not so. A certificate that is not named is not held, unless the first phrase is "somebody"; anything
//	              else that is not named is unknown
//	supervisor:   the person under whom the person works, likewise
//	work:         what is known of the work: on PART, within limits, complex, approved data, approved product, authorized by
//	              maker, installed by maker, limitations name, from flight deck, disassembly, tools, by instructions,
//	              involves maintenance, policy rule-text, or on a DATE: dated DATE
//	may:          VERB ACTION [NUMBER] [of ITEM/ITEM] ANSWER [because ROW/ROW] [without ROW/ROW]
//	              [missing CONDITION/CONDITION]; the answer is yes, no or unknown, for each of the items; the rows after
//	              "because" say so, those after "without" do not
//	but:          PHRASE, PHRASE = and the same as may:, asked of the same person and work with these changes; a phrase about
//	              the work begins with "work"; airframe, powerplant and authorization are phrases here too
//	task:         STEP OUTCOME [about ITEM] = ROW/ROW; what the tables ask to be done about such a finding
//	entry:        RECORD [with ELEMENT/ELEMENT] = complete, unknown or lacks ROW/ROW
//	discard:      RECORD, PHRASES = ANSWER [because ROW]; the phrases are done DATE, on DATE and superseded, repaired,
//	              approved, transferred
//
// A story about the catalog alone has no aircraft and no verdict:
//
//	nature:       ITEM NATURE; the item is equipment, a condition or a furnishing, and a report that it is inoperative is
//	              taken as one about instruments and equipment, or not, accordingly
package scenario
