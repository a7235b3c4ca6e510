package oracle

import (
	"slices"

	"tiedown/internal/casefile"
)

// paperRules are the rules about what goes along in the aircraft.
var paperRules = []rule{
	{"14 CFR 91.203(a)", "airworthiness certificate", airworthinessCertificate},
	{"14 CFR 91.203(b)", "display of the airworthiness certificate", certificateDisplayed},
	{"14 CFR 91.203(a)", "registration certificate", registrationCertificate},
	{"14 CFR 91.203(a)", "effective registration", registrationEffective},
	{"14 CFR 91.9(b)", "flight manual", flightManual},
	{"14 CFR 91.9(a)", "weight and balance data", weightAndBalance},
	{"14 CFR 91.9(a)", "weight and balance of the present equipment", weightOfThePresentEquipment},
	{"47 CFR 87.18", "radio licence", radioLicence},
}

func (s *scene) papers() casefile.Papers {
	if s.Papers == nil {
		return casefile.Papers{}
	}
	return *s.Papers
}

// lasts says whether a day is not before the flight has ended, each where it ends.
func (s *scene) lasts(day string) truth {
	if day == "" {
		return unknown
	}
	return certain(s.flight.Arrives.Format("2006-01-02") <= day)
}

// 14 CFR 91.203(a): an appropriate and current airworthiness certificate within the aircraft.
func airworthinessCertificate(s *scene) Verdict {
	return required(yes, known(s.papers().Airworthiness.Aboard))
}

// 14 CFR 91.203(b): displayed, so that passengers or crew can read it.
func certificateDisplayed(s *scene) Verdict {
	return required(yes, known(s.papers().Airworthiness.Displayed))
}

// 14 CFR 91.203(a): a registration certificate within it.
func registrationCertificate(s *scene) Verdict {
	return required(yes, known(s.papers().Registration.Aboard))
}

// 14 CFR 91.203(a): one of the United States is effective through its last day.
func registrationEffective(s *scene) Verdict {
	return required(known(s.USRegistered), s.lasts(s.papers().Registration.Through))
}

// 14 CFR 91.9(b): the flight manual of a US-registered aircraft, or what serves instead.
func flightManual(s *scene) Verdict {
	return required(known(s.USRegistered), known(s.papers().Limitations.Aboard))
}

// 14 CFR 91.9(a): nobody keeps to the limits of weight and balance without the data (inferred).
func weightAndBalance(s *scene) Verdict { return required(yes, known(s.papers().WeightBalance.Aboard)) }

// 14 CFR 91.9(a): data of other equipment say nothing (inferred).
func weightOfThePresentEquipment(s *scene) Verdict {
	data, current := s.papers().WeightBalance, unknown
	if data.Dated != "" && s.own.EquipmentChanged != "" {
		current = certain(data.Dated >= s.own.EquipmentChanged)
	}
	if data.ForRevision != "" && s.own.EquipmentRevision != "" {
		current = certain(data.ForRevision == s.own.EquipmentRevision)
	}
	return required(yes, current)
}

// 47 CFR 87.18 (second-hand): a radio station of the United States that makes international flights is licensed.
func radioLicence(s *scene) Verdict {
	abroad := certain(slices.Contains(s.flight.Operations, "abroad"))
	licence := s.papers().RadioLicence
	return required(all(abroad, known(s.USRegistered)), all(known(licence.Aboard), s.lasts(licence.Through)))
}
