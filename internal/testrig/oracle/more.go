package oracle

import (
	"encoding/json"
	"time"

	"tiedown/internal/casefile"
)

// more is what a case says beyond the written form of today: minimum equipment lists, special flight permits, cleared
// conditions, hazards considered together, inspections, policies and company rules. It is read from the case's JSON by
// name, so that a field which the written form does not have yet is simply absent.
type more struct {
	Aircraft struct {
		Facts         inspections `json:"facts"`
		Configuration struct {
			MEL               *mel     `json:"mel"`
			TypeCertification listMore `json:"type_certification"`
			Directives        listMore `json:"directives"`
		} `json:"configuration"`
	} `json:"aircraft"`
	Defects []squawkMore `json:"defects"`
	Flight  flightMore   `json:"flight"`
	Policy  struct {
		Deactivation string `json:"deactivation"`
	} `json:"policy"`
	CompanyRules []companyRule `json:"company_rules"`
}

// inspections are the facts about inspections; dates are YYYY-MM-DD.
type inspections struct {
	AnnualInspected      string   `json:"annual_inspected"`
	ConditionInspected   string   `json:"condition_inspected"`
	HoursSinceInspection *float64 `json:"hours_since_inspection"` // time in service, at departure
	AltimeterTested      string   `json:"altimeter_tested"`
	TransponderTested    string   `json:"transponder_tested"`
	ELTInspected         string   `json:"elt_inspected"`
	ELTBatteryDue        string   `json:"elt_battery_due"`
	ELTBatteryHours      *float64 `json:"elt_battery_hours"`
}

type listMore struct {
	Confirmed *struct {
		By string `json:"by"`
	} `json:"confirmed"`
	Rows []struct {
		PermitBarred *bool `json:"permit_barred"`
	} `json:"rows"`
}

type squawkMore struct {
	ID    string `json:"id"`
	Found *struct {
		Result   string `json:"result"`
		Rated    bool   `json:"rated"`
		Data     string `json:"data"`
		Approved bool   `json:"approved"`
	} `json:"found"`
	Deferral struct {
		HazardConsidered         []string `json:"hazard_considered"`
		MaintenanceProcedureDone bool     `json:"maintenance_procedure_done"`
		Discovered               string   `json:"discovered"`
		Extended                 bool     `json:"extended"`
		InvolvesMaintenance      *bool    `json:"involves_maintenance"`
	} `json:"deferral"`
}

type flightMore struct {
	Hours                       *float64 `json:"hours"`
	InstructionProvidedAircraft *bool    `json:"instruction_provided_aircraft"`
	ToPlaceOfInspection         bool     `json:"to_place_of_inspection"`
	NewlyAcquired               bool     `json:"newly_acquired_to_installation"`
	Operations                  []string `json:"operations"`
	Permit                      *permit  `json:"special_flight_permit"`
}

// JudgeWritten answers a case as it is written, with all that the written form of today leaves out.
func (o Oracle) JudgeWritten(raw []byte) (Answer, error) {
	var c casefile.Case
	if err := json.Unmarshal(raw, &c); err != nil {
		return Answer{}, err
	}
	m := &more{}
	if err := json.Unmarshal(raw, m); err != nil {
		return Answer{}, err
	}
	a := o.Aircraft(c.Aircraft)
	a.more = m
	return a.Judge(c.Defects, c.Flight), nil
}

// said is what a case says of a squawk beyond the written form of today.
func (s *scene) said(d casefile.Defect) squawkMore {
	if s.more != nil {
		for _, m := range s.more.Defects {
			if m.ID == d.ID {
				return m
			}
		}
	}
	return squawkMore{}
}

// withinMonths says whether something was done on a date, not after the day of departure, and whether the flight ends by
// the last day of the calendar month so many months later.
func (s *scene) withinMonths(months int, date string) truth {
	done, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return unknown
	}
	firstDayAfter := time.Date(done.Year(), done.Month()+time.Month(months)+1, 1, 0, 0, 0, 0, time.UTC)
	return certain(!done.After(dateOf(s.flight.Departs)) && dateOf(s.flight.Arrives).Before(firstDayAfter))
}
