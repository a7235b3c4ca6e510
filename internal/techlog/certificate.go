package techlog

import "time"

// CertificateKind is what sort of certificate the organization keeps of a person. A repair station is a person too.
type CertificateKind string

// The kinds of certificate.
const (
	PilotCertificate        CertificateKind = "pilot"
	MechanicCertificate     CertificateKind = "mechanic"
	InspectionAuthorization CertificateKind = "inspection-authorization"
	RepairStation           CertificateKind = "repair-station"
	Repairman               CertificateKind = "repairman"
)

// CertificateKinds lists every kind.
func CertificateKinds() []CertificateKind {
	return []CertificateKind{PilotCertificate, MechanicCertificate, InspectionAuthorization, RepairStation, Repairman}
}

// Certificate is one version of what is kept of a certificate. Versions are never changed, only followed, and an ended
// one is followed by none. Dates are YYYY-MM-DD.
type Certificate struct {
	ID      ID
	Version int
	Person  ID
	Name    string // of the person
	Kind    CertificateKind
	Number  string
	Grade   string   // of a pilot certificate
	Ratings []string // category and class, airframe and powerplant, or those of a station or repairman
	Trained []string // of a repairman: category and class (65.107)
	From    string
	Until   string // its last day; empty: it does not run out by itself
	// RecentFrom and RecentUntil are the days through which the experience that the organization has seen satisfies
	// 14 CFR 65.83. Outside of them nothing is known of it.
	RecentFrom  string
	RecentUntil string
	Ended       bool // surrendered, revoked or superseded
	EnteredBy   ID
	By          string
	At          time.Time
}

// InForce says whether the certificate holds on a day, YYYY-MM-DD.
func (c *Certificate) InForce(day string) bool { return !c.Ended && within(day, c.From, c.Until) }

// Recent says whether the experience on record covers a day.
func (c *Certificate) Recent(day string) bool {
	return c.RecentFrom != "" && c.RecentUntil != "" && within(day, c.RecentFrom, c.RecentUntil)
}

// within compares dates as they are written: YYYY-MM-DD sorts as the days do.
func within(day, from, until string) bool { return from <= day && (until == "" || day <= until) }

// StandingKind is how a person stands to an aircraft.
type StandingKind string

// The kinds of standing.
const (
	Owns         StandingKind = "owns"
	Operates     StandingKind = "operates"
	Built        StandingKind = "built"
	Manufactured StandingKind = "manufactured"
	Flies        StandingKind = "flies"
	Maintains    StandingKind = "maintains"
)

// StandingKinds lists every kind.
func StandingKinds() []StandingKind {
	return []StandingKind{Owns, Operates, Built, Manufactured, Flies, Maintains}
}

// Standing is one version of how a person stands to an aircraft, or to the whole fleet.
type Standing struct {
	ID        ID
	Version   int
	Person    ID
	Name      string
	Aircraft  ID // zero: every aircraft of the organization
	Kind      StandingKind
	From      string
	Until     string
	Ended     bool
	EnteredBy ID
	By        string
	At        time.Time
}

// Covers says whether the standing holds for an aircraft on a day.
func (s *Standing) Covers(aircraft ID, day string) bool {
	return !s.Ended && within(day, s.From, s.Until) && (s.Aircraft.IsZero() || s.Aircraft == aircraft)
}
