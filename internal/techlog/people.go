package techlog

import (
	"slices"
	"strings"
	"time"
)

// Role is what somebody is in an organization.
type Role string

// The roles.
const (
	Pilot              Role = "pilot"
	Mechanic           Role = "mechanic"
	Scheduler          Role = "scheduler"
	MaintenanceControl Role = "maintenance-control"
	Administrator      Role = "administrator"
)

// Roles lists every role.
func Roles() []Role { return []Role{Pilot, Mechanic, Scheduler, MaintenanceControl, Administrator} }

// Action is something that changes records.
type Action string

// The actions. Reading is open to every role of the organization.
const (
	FileSquawk        Action = "file-squawk"
	AddNote           Action = "add-note"
	PlanFlight        Action = "plan-flight"
	KeepAircraft      Action = "keep-aircraft" // enter or change an aircraft and its configuration
	KeepBases         Action = "keep-bases"
	KeepCompanyRules  Action = "keep-company-rules" // what the organization asks beyond the regulation
	KeepDetermination Action = "keep-determination" // keep what somebody was told about a flight
	CarryOverRecord   Action = "carry-over-record"  // enter a deferral or repair that was signed on paper
	KeepPeople        Action = "keep-people"        // say who is in the organization, as what, and take back any token
	KeepTokens        Action = "keep-tokens"        // make tokens no wider than oneself, and take one's own back
	KeepCertificates  Action = "keep-certificates"  // what others hold, and how they stand to the aircraft
	ConfirmSquawk     Action = "confirm-squawk"     // say what a squawk is about, or that another one says the same
	ReopenSquawk      Action = "reopen-squawk"
	KeepChecklists    Action = "keep-checklists" // of types, and what an airframe's own has otherwise
	WalkAround        Action = "walk-around"     // start a walkaround, report on it, complete it
	EnterMeters       Action = "enter-meters"    // what the meters show, into the book
	KeepBlocks        Action = "keep-blocks"     // keep an aircraft from flying for a time
	KeepWebhooks      Action = "keep-webhooks"   // to which addresses events are sent
)

// mayDo is the table of authority: action and who may do it. Signing is not among them: it needs a certificate, not a
// role.
var mayDo = map[Action][]Role{
	FileSquawk:        Roles(),
	AddNote:           Roles(),
	PlanFlight:        {Pilot, Scheduler, Administrator},
	KeepAircraft:      {MaintenanceControl, Administrator},
	KeepBases:         {Scheduler, Administrator},
	CarryOverRecord:   {Administrator},
	KeepCompanyRules:  {MaintenanceControl, Administrator},
	KeepDetermination: {Pilot, Scheduler, Administrator},
	KeepPeople:        {Administrator},
	KeepTokens:        Roles(),
	KeepCertificates:  {MaintenanceControl, Administrator},
	ConfirmSquawk:     {Mechanic, MaintenanceControl, Administrator},
	ReopenSquawk:      {Pilot, Mechanic, MaintenanceControl, Administrator},
	KeepChecklists:    {MaintenanceControl, Administrator},
	WalkAround:        {Pilot, Mechanic, MaintenanceControl, Administrator},
	EnterMeters:       {Pilot, Mechanic, MaintenanceControl, Administrator},
	KeepBlocks:        {Mechanic, Scheduler, MaintenanceControl, Administrator},
	KeepWebhooks:      {Scheduler, Administrator},
}

// Actions lists every action.
func Actions() []Action {
	return []Action{
		FileSquawk, AddNote, PlanFlight, KeepAircraft, KeepBases, CarryOverRecord, KeepCompanyRules, KeepDetermination, KeepPeople, KeepTokens,
		KeepCertificates, ConfirmSquawk, ReopenSquawk,
		KeepChecklists, WalkAround, EnterMeters, KeepBlocks, KeepWebhooks,
	}
}

// May reports whether a role may do an action.
func (r Role) May(a Action) bool { return slices.Contains(mayDo[a], r) }

// RoleSet is what somebody is in an organization: a person may hold several roles, and may do what one of them may.
type RoleSet []Role

// As gives the set of some roles.
func As(roles ...Role) RoleSet { return roles }

// May reports whether one of the roles may do an action.
func (r RoleSet) May(a Action) bool {
	return slices.ContainsFunc(r, func(role Role) bool { return role.May(a) })
}

// Within reports whether another set has every role of this one.
func (r RoleSet) Within(other RoleSet) bool {
	return !slices.ContainsFunc(r, func(role Role) bool { return !slices.Contains(other, role) })
}

// String lists the roles: "pilot, mechanic".
func (r RoleSet) String() string {
	names := make([]string, len(r))
	for i, role := range r {
		names[i] = string(role)
	}
	return strings.Join(names, ", ")
}

// Principal is who asks, in one organization.
type Principal struct {
	Organization ID
	Person       ID // whose hand it is; zero: a program's, which signs nothing
	Token        ID // by which requests that are sent twice are told apart: the token's, or of a session its person's
	Name         string
	Roles        RoleSet
	Scope        Scope     // of the token
	Until        time.Time // when what was presented runs out; zero: it does not
}

// May reports whether the principal may do an action.
func (p Principal) May(a Action) bool { return p.Roles.May(a) && p.Scope.Has(a) }

// Require returns an error of kind forbidden unless the principal may do the action.
func (p Principal) Require(a Action) error {
	switch {
	case p.May(a):
		return nil
	case p.Roles.May(a):
		return Errorf(KindForbidden, "this token is not for %s", a)
	case len(p.Roles) == 0:
		return Errorf(KindForbidden, "somebody without a role may not %s", a)
	case len(p.Roles) == 1:
		return Errorf(KindForbidden, "the role %s may not %s", p.Roles, a)
	}
	return Errorf(KindForbidden, "the roles %s may not %s", p.Roles, a)
}

// Organization is a club, school or rental fleet.
type Organization struct {
	ID   ID
	Name string
}
