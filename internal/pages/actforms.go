package pages

import (
	"slices"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// How a field of an act is asked for.
const (
	asLine     = "line"
	asText     = "text"
	asDay      = "day"
	asLastDay  = "last-day" // the end of that day at the base, as an instant
	asNumber   = "number"
	asYesNo    = "yes-no"  // true, false, or not said
	asTrue     = "true"    // ticked: true
	asFalse    = "false"   // ticked: false
	asChoice   = "choice"  // one of a list
	asSegments = "segment" // one of a short list
	asList     = "list"    // any of a list
	asParts    = "parts"   // one a line, with its number after the last comma
	asAwaited  = "awaited" // one a line, with the day on which it is expected after the last comma
	asGiven    = "given"   // as it is on record already
)

// actField is one field of an act, as a form asks for it and as what would be signed is read. Name is that of the act's written
// form; a dot leads into a part of it.
type actField struct {
	Name  string
	Label string
	Hint  string
	As    string
	Words string // the list of words that it may take
	May   bool   // it may be left out
	Rare  bool   // it mostly is: it stands folded away as long as it says nothing
}

// actForm is the form of an act.
type actForm struct {
	Title  string
	Lead   string
	Button string   // on what is shown, to sign it
	Rows   []string // rows of the book on which it rests
	Fields []actField
}

// actForms are the forms of acts, by action. What is declared stands apart: it hangs on the certificate.
var actForms = map[string]actForm{
	"out-of-use": {
		"Put out of use", "The entry of its removal or deactivation, with the placard. A deferral rests on it.", "Sign that it is out of use",
		[]string{"out-of-use", "work-description"},
		[]actField{
			{Name: "method", Label: "How it is put out of use", As: asSegments, Words: "method"},
			{Name: "placard", Label: "Words on the placard", Hint: "The placard goes on the item, or on its control in the cockpit.", As: asLine},
			{Name: "done", Label: "What was done", As: asText},
			{Name: "data", Label: "Data that it was done to", As: asLine, May: true, Rare: true},
			{Name: "completed", Label: "Done on", As: asDay},
			{Name: "removed_on", Label: "First removed on", Hint: "Only of an item that was removed.", As: asDay, May: true},
			{Name: "performed_by", Label: "Done by, if not by you", As: asLine, May: true, Rare: true},
			{Name: "entry", Label: "Where else it is entered", Hint: "Such as a page of the log on paper.", As: asLine, May: true, Rare: true},
			{Name: "involves_maintenance", Label: "Does it involve maintenance?", As: asYesNo, May: true, Rare: true},
			{Name: "maintenance_procedure", Label: "The maintenance procedure (M) of the MEL was done", As: asTrue, May: true},
			{Name: "elt.make", Label: "Make of the ELT", As: asLine, May: true},
			{Name: "elt.model", Label: "Model", As: asLine, May: true},
			{Name: "elt.serial_number", Label: "Serial number", As: asLine, May: true},
			{Name: "elt.reason", Label: "Why it was removed", As: asLine, May: true},
		},
	},
	"defer": {
		"Defer it", "You determine that the item, out of use as it is and together with everything else that is open, is no hazard to the aircraft, and for how long it may stay so.",
		"Sign the deferral",
		[]string{"hazard-determination", "deferral-lasts"},
		[]actField{
			{Name: "basis", Label: "Basis", As: asGiven, Words: "basis"},
			{Name: "method", Label: "How it is put out of use", As: asSegments, Words: "method"},
			{Name: "placard", Label: "Words on the placard", As: asLine},
			{Name: "removed_on", Label: "First removed on", As: asDay, May: true},
			{Name: "involves_maintenance", Label: "Does it involve maintenance?", As: asYesNo, May: true, Rare: true},
			{Name: "considered", Label: "What else is open: tick each that you have looked at", As: asList, Words: "beside", May: true},
			{Name: "until", Label: "Last day of the deferral", As: asLastDay},
			{Name: "discovered", Label: "Discovered on", Hint: "The interval of the MEL is counted from this day.", As: asDay, May: true},
			{Name: "entry", Label: "The entry in the maintenance record", As: asText},
		},
	},
	"extend": {
		"Extend it", "The interval of the MEL is extended once, as the approved program allows.", "Sign the extension", nil,
		[]actField{
			{Name: "until", Label: "Last day of the deferral", As: asLastDay},
			{Name: "extended_until", Label: "Last day that the program allows", As: asDay},
			{Name: "data", Label: "What allows it", As: asLine, May: true},
		},
	},
	"carry-on": {
		"Carry it on", "The deferral goes on after the item was inspected, with the hazard determination made anew.", "Sign that it is carried on",
		[]string{"hazard-determination", "deferral-lasts"},
		[]actField{
			{Name: "found", Label: "As it was found", As: asText},
			{Name: "inspection", Label: "At this inspection", As: asChoice, Words: "inspection", May: true},
			{Name: "considered", Label: "What else is open: tick each that you have looked at", As: asList, Words: "beside", May: true},
			{Name: "until", Label: "Last day of the deferral", As: asLastDay},
			{Name: "extended_until", Label: "Extended to, as on record", As: asGiven, May: true},
		},
	},
	"work": {
		"Enter work", "What was found and done, finished or not. The return to service is signed on it.", "Sign the work",
		[]string{"work-description", "work-completed"},
		[]actField{
			{Name: "work", Label: "Kind of work", As: asChoice, Words: "work"},
			{Name: "found", Label: "What was found", As: asText},
			{Name: "done", Label: "What was done", As: asText, May: true},
			{Name: "data", Label: "Data that it was done to", Hint: "Such as the chapter of the maintenance manual.", As: asLine, May: true},
			{Name: "result", Label: "What came of it", As: asChoice, Words: "result", May: true},
			{Name: "completed", Label: "Finished on", As: asDay, May: true},
			{Name: "performed_by", Label: "Done by, if not by you", As: asLine, May: true, Rare: true},
			{Name: "parts_used", Label: "Parts used", Hint: "One a line. A part or serial number goes after a comma.", As: asParts, May: true},
			{Name: "parts_awaited", Label: "Parts awaited", Hint: "One a line. The day on which it is expected goes after a comma, as 2031-05-17.", As: asAwaited, May: true, Rare: true},
		},
	},
	"return-to-service": {
		"Return it to service", "Your signature approves the aircraft for return to service for this work, and for nothing else.", "Sign the return to service",
		[]string{"work-description", "work-completed", "work-performer", "work-signature"},
		[]actField{
			{Name: "done", Label: "The work, as it is approved", As: asText, May: true},
			{Name: "data", Label: "Data that it was done to", As: asLine, May: true},
			{Name: "completed", Label: "Work finished on", As: asDay},
			{Name: "performed_by", Label: "Done by, if not by you", As: asLine, May: true, Rare: true},
			{Name: "form", Label: "Form of the major repair", As: asLine, May: true, Rare: true},
			{Name: "check_flight_required", Label: "Must it be flown and checked before it carries passengers?", As: asYesNo},
			{Name: "ground_tests", Label: "Tests on the ground that were conclusive", As: asText, May: true},
		},
	},
	"check-flight": {
		"Enter the check flight", "You flew the aircraft and checked in the air what the work may have changed.", "Sign the check flight",
		[]string{"check-flight"},
		[]actField{
			{Name: "done", Label: "What was checked, and how it flew", As: asText},
			{Name: "completed", Label: "Flown on", As: asDay},
		},
	},
	"correct": {
		"Correct an entry", "What was signed stays as it is. The correction stands beside it, with your signature.", "Sign the correction", nil,
		[]actField{
			{Name: "corrects", Label: "Entry", As: asGiven},
			{Name: "words", Label: "What is right", As: asText},
		},
	},
	"inspect": {
		"Sign an inspection", "The entry of an inspection or test of the whole aircraft.", "Sign the inspection",
		[]string{"inspection-type", "inspection-statement"},
		[]actField{
			{Name: "inspection", Label: "Inspection", As: asGiven, Words: "inspection"},
			{Name: "extent", Label: "Extent", As: asText},
			{Name: "completed", Label: "Finished on", As: asDay},
			{Name: "total_time_hours", Label: "Total time in service, hours", As: asNumber},
			{Name: "airworthy", Label: "Was it found airworthy?", As: asYesNo},
			{Name: "whole_aircraft", Label: "Is the inspection of the whole aircraft complete with it?", As: asYesNo},
			{Name: "vor_check.kind", Label: "How it was checked", As: asChoice, Words: "vor"},
			{Name: "vor_check.place", Label: "Where", As: asLine},
			{Name: "vor_check.error_degrees", Label: "Error of the bearing, degrees", As: asNumber},
			{Name: "items", Label: "Done with it", As: asList, Words: "items", May: true},
			{Name: "data", Label: "Data that it was done to", As: asLine, May: true, Rare: true},
			{Name: "words", Label: "Statement, or the list of discrepancies", As: asText, May: true},
		},
	},
}

// declarations are what only the signer knows. Part of what is signed, each stands by the words of its condition.
var declarations = []actField{
	{Name: "declared.part", Label: "What was worked on", As: asChoice, Words: "part"},
	{Name: "declared.paragraph", Label: "Paragraph of the list of preventive maintenance", Hint: "1 to 31, and only of preventive maintenance.", As: asNumber, May: true},
	{Name: "declared.did_work", Label: "I did this work, or supervised or inspected it", As: asTrue, May: true},
	{Name: "declared.understands", Label: "I understand the manufacturer's current instructions for it", As: asTrue, May: true},
	{Name: "declared.done_before", Label: "I have done such work before, or shown that I can", As: asTrue, May: true},
	{Name: "declared.within_limits", Label: "It stays within the limits of its paragraph", As: asTrue, May: true},
	{Name: "declared.complex", Label: "It takes no complex assembly", As: asFalse, May: true},
	{Name: "declared.rated", Label: "The station is rated for this very article or test", As: asTrue, May: true},
	{Name: "declared.equipped", Label: "The station has the data, equipment and facilities for it", As: asTrue, May: true},
	{Name: "declared.approved_data", Label: "It was done to data that the authority has approved", As: asTrue, May: true},
	{Name: "declared.approved_product", Label: "Was the product made under an approval of the authority?", As: asYesNo, May: true},
	{Name: "declared.authorized_by_maker", Label: "Its maker authorized the work and gave instructions for it", As: asTrue, May: true},
	{Name: "declared.installed_by_maker", Label: "The maker of the aircraft installed what is tested", As: asTrue, May: true},
	{Name: "declared.limitations_name", Label: "The operating limitations name me for it", As: asTrue, May: true},
	{Name: "declared.in_command", Label: "I am the pilot in command", As: asTrue, May: true},
}

// declaredBy says which declarations may bear on an act that is signed by one of some certificates.
func declaredBy(action string, way string, certificates []techlog.Certificate) []actField {
	holds := func(kinds ...techlog.CertificateKind) bool {
		return slices.ContainsFunc(certificates, func(c techlog.Certificate) bool { return slices.Contains(kinds, c.Kind) })
	}
	one := slices.ContainsFunc(certificates, func(c techlog.Certificate) bool { return c.Kind == techlog.MechanicCertificate && len(c.Ratings) == 1 })
	mechanic := holds(techlog.MechanicCertificate, techlog.InspectionAuthorization, techlog.Repairman)
	station := holds(techlog.RepairStation)
	maintains := action == "out-of-use" || action == "work" || action == "return-to-service" || action == "correct"
	inspects := action == "inspect"
	show := map[string]bool{
		"declared.part":          mechanic && maintains || one && (action == "defer" || action == "carry-on") || inspects && way == "hundred-hour-inspection",
		"declared.paragraph":     holds(techlog.PilotCertificate) && (action == "work" || action == "return-to-service"),
		"declared.did_work":      action != "work" && maintains,
		"declared.understands":   mechanic && (maintains || inspects),
		"declared.done_before":   mechanic && (maintains && action != "work" || inspects),
		"declared.rated":         station,
		"declared.equipped":      station && (maintains || inspects),
		"declared.in_command":    action == "defer" && way == casefile.ByMEL && holds(techlog.PilotCertificate),
		"declared.approved_data": (mechanic || station) && action == "return-to-service" && way == "major-repair",
	}
	show["declared.within_limits"] = show["declared.paragraph"]
	show["declared.complex"] = show["declared.paragraph"]
	show["declared.approved_product"] = show["declared.approved_data"] && mechanic
	show["declared.authorized_by_maker"] = show["declared.approved_product"]
	show["declared.installed_by_maker"] = inspects && way == "transponder-test"
	show["declared.limitations_name"] = inspects && way == "condition-inspection"
	return slices.DeleteFunc(slices.Clone(declarations), func(a actField) bool { return !show[a.Name] })
}

// word is one of a list that a field may take.
type word struct{ Value, Words string }

// actWords are the words of an act as people say them, list by list.
var actWords = map[string][]word{
	"method": {{"deactivated", "Deactivated"}, {"removed", "Removed"}},
	"basis":  {{casefile.ByRule, "By the rule itself: no MEL is authorized"}, {casefile.ByMEL, "By the MEL"}},
	"work": {
		{"repair", "Repair"},
		{"replace", "Removal and replacement"},
		{"preventive-maintenance", "Preventive maintenance"},
		{"major-repair", "Major repair"},
		{"within-limits", "Inspected, nothing to repair"},
	},
	"result": {{"repaired", "Repaired"}, {"within-limits", "Found within limits"}, {"could-not-reproduce", "Could not be reproduced"}},
	"inspection": {
		{"annual-inspection", "Annual inspection"},
		{"hundred-hour-inspection", "100-hour inspection"},
		{"progressive-inspection", "Progressive inspection"},
		{"condition-inspection", "Condition inspection"},
		{"altimeter-and-static-test", "Altimeter and static system test"},
		{"static-system-test", "Static system test"},
		{"transponder-test", "Transponder test"},
		{"elt-inspection", "Inspection of the ELT"},
		{"vor-check", "Check of the VOR receivers"},
	},
	"vor": {
		{"test-signal", "By a test signal"},
		{"ground-checkpoint", "At a checkpoint on the surface"},
		{"airborne-checkpoint", "At a checkpoint in the air"},
		{"airway-radial", "Over a landmark on an airway"},
		{"dual-system", "Against each other"},
	},
	"step": {
		{"report", "Reported"},
		{"note", "Note"},
		{"confirm", "Confirmed"},
		{"duplicate", "Closed as a duplicate"},
		{"expect", "Expected"},
		{"out-of-use", "Put out of use"},
		{"defer", "Deferred"},
		{"extend", "Extended"},
		{"carry-on", "Carried on"},
		{"work", "Work"},
		{"return-to-service", "Returned to service"},
		{"check-flight", "Check flight"},
		{"correct", "Correction"},
		{"close", "Closed from paper"},
		{"reopen", "Reopened"},
	},
	"part": {{"airframe", "Airframe"}, {"powerplant", "Powerplant"}, {"propeller", "Propeller"}, {"instrument", "Instrument"}, {"whole", "The whole aircraft"}},
}

// inWords is a word of a list as people say it.
func inWords(list, value string) string {
	for _, w := range actWords[list] {
		if w.Value == value {
			return w.Words
		}
	}
	return value
}

// formOf is the form of an act with what may be declared by some certificates. way is the kind of inspection, of the work that
// is approved, or the basis of a deferral.
func formOf(action, way string, certificates []techlog.Certificate) []actField {
	fields := slices.Clone(actForms[action].Fields)
	if action == "inspect" {
		fields = slices.DeleteFunc(fields, func(a actField) bool { return !ofInspection(a.Name, way) })
	}
	return append(fields, declaredBy(action, way, certificates)...)
}

// ofInspection says which fields an inspection of a kind has.
func ofInspection(field, kind string) bool {
	whole := slices.Contains([]string{"annual-inspection", "hundred-hour-inspection", "progressive-inspection", "condition-inspection"}, kind)
	switch field {
	case "airworthy", "words", "total_time_hours":
		return whole
	case "whole_aircraft":
		return kind == "progressive-inspection"
	case "vor_check.kind", "vor_check.place", "vor_check.error_degrees":
		return kind == "vor-check"
	}
	return true
}

// leftOut says which fields of an act about a squawk have nothing to say there: those of an ELT of any other item, of a removal
// that is not on record, of an MEL where none is authorized.
func leftOut(s *hangar.Signable, fields []actField) []actField {
	return slices.DeleteFunc(fields, func(a actField) bool {
		switch a.Name {
		case "elt.make", "elt.model", "elt.serial_number", "elt.reason":
			return !s.Subject.ELT
		case "maintenance_procedure":
			return !s.Procedure
		case "discovered":
			return s.Basis != casefile.ByMEL
		case "considered":
			return s.Basis == casefile.ByMEL || len(s.Beside) == 0
		case "ground_tests":
			return !s.CheckFlight
		}
		return false
	})
}
