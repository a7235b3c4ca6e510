# The decision of 14 CFR 91.213(d) over rows that stand below, generated from the tables: one rule a row, by its key.
#
# A finding is [defect, step, row, outcome, verdict]. What is in force on the day, what is short of equipment and which
# conditions are known to hold (yes) or not to (no) comes in with the input.
package tiedown

decision := {"verdict": worst({f[4] | some f in findings}), "findings": findings}

worst(verdicts) := "grounded" if "grounded" in verdicts

else := "undetermined" if "undetermined" in verdicts

else := "defer-first" if "defer-first" in verdicts

else := "limited" if "limited" in verdicts

else := "clear"

findings := array.concat(
	array.concat(aircraft, [["", "pilot", "pilot", "noted", "clear"]]),
	[f | some d in input.defects; some f in about(d)],
)

# The aircraft as such: conditions that must hold, and equipment that is not there.

aircraft := array.concat(notes, faults) if count(faults) > 0

aircraft := array.concat(notes, [["", "aircraft", "aircraft", "passed", "clear"]]) if count(faults) == 0

notes := [["", "aircraft", n, "noted", "clear"] | some n in input.notes; applies[n] == "yes"]

faults := [["", s.step, s.id, f[0], f[1]] | some s in input.short; f := found(s)]

# One defect.

about(d) := [[d.id, "nature", "nature", "breached", "grounded"]] if d.equipment == "no"

about(d) := [[d.id, "nature", "nature", "unknown", "undetermined"]] if d.equipment == "unknown"

about(d) := array.concat(opening(d), rows(d)) if {
	d.equipment == "yes"
	input.bound
}

about(d) := array.concat(array.concat(opening(d), rs), array.concat(rest, procedure(d))) if {
	d.equipment == "yes"
	not input.bound
	rs := rows(d)
	covered := {r[1] | some r in rs; covers(r)}
	rest := [[d.id, step, step, f[0], f[1]] | some step, f in d.rest; not step in covered]
}

opening(d) := [
	[d.id, "nature", "nature", "passed", "clear"],
	[d.id, "path", input.path[0], input.path[1], input.path[2]],
]

rows(d) := [[d.id, s.step, s.id, f[0], f[1]] | some s in d.short; f := found(s)]

# A row that lets the flight go says nothing of what the aircraft's own list may yet hold.

covers(r) if input.listed[r[1]]

covers(r) if not r[4] in {"clear", "limited"}

procedure(d) := array.concat(array.concat(open, pairs), passed) if {
	asked := [a | some a in answers(stated(d)); a[2] != "none"; input.procedure[a[1]]]
	open := [[d.id, a[0], a[1], a[2], a[3]] | some a in asked; a[2] != "done"]
	pairs := [[d.id, "hazard", f[0], f[1], f[2]] | some f in together(d)]
	left := {f[1] | some f in open} | {"hazard" | some f in pairs; f[3] != "noted"}
	passed := [[d.id, step, step, "passed", "clear"] | some step in {a[0] | some a in asked}; not step in left]
}

# A hazard determination is good for the set that it was made for. A squawk that was left out is told by the rows on the
# two, where any is in play, and else in general.

stated(d) := object.union(d, {"no": {"hazard-considered": true}}) if astray(d)

stated(d) := object.union(d, {"yes": {"hazard-considered": true}}) if not astray(d)

astray(d) if not d.deferred

astray(d) if {
	some o in d.others
	not o.considered
	count(playing(o)) == 0
}

playing(o) := {r | some r in o.rows; plays[r] != "no"}

together(d) := [] if not d.yes["hazard-determined"]

together(d) := array.concat([told(r, true) | some r in apart], [told(r, false) | some r in beside]) if {
	d.yes["hazard-determined"]
	apart := {r | some o in d.others; not o.considered; some r in playing(o)}
	beside := {r | some o in d.others; o.considered; some r in playing(o)}
}

told(r, true) := [r, "undone", "defer-first"]

told(r, false) := [r, "noted", "clear"] if not binds[r]

told(r, false) := [r, "limited", "limited"] if {
	binds[r]
	plays[r] == "yes"
}

else := [r, "limited", "limited"] if {
	binds[r]
	input.envelope
	plays[r] == "avoidable"
}

else := [r, "unknown", "undetermined"] if binds[r]

# One row that is short: outcome and verdict, or nothing where it asks nothing of this flight.

found(s) := f if {
	a := applies[s.row]
	a != "no"
	f := weigh(a, s)
}

weigh(a, s) := plain(a, s) if not s.reliefs

weigh(a, s) := f if {
	answers := {lifts[r] | some r in s.reliefs}
	f := lifted(answers, a, s)
}

lifted(answers, a, s) := ["relieved", "clear"] if "free" in answers

else := ["relieved", "limited"] if "bound" in answers

else := ["limited", "limited"] if {
	input.envelope
	"claimable" in answers
}

else := open(a, s) if "claimable" in answers

else := open(a, s) if "unknown" in answers

else := plain(a, s)

plain(a, s) := ["breached", "grounded"] if {
	a == "yes"
	s.met == "no"
}

else := open(a, s)

open(a, s) := ["limited", "limited"] if {
	input.envelope
	a == "avoidable"
}

else := ["limited", "limited"] if {
	input.envelope
	s.enough
}

else := ["unknown", "undetermined"]
