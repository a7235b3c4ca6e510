package airworthiness

// Papers are the documents that go along with an aircraft. Every field that is not known is left at its zero value.
type Papers struct {
	Airworthiness     Truth // an appropriate and current airworthiness certificate is aboard (91.203(a))
	Displayed         Truth // it is displayed at the entrance of cabin or cockpit, to be read (91.203(b))
	Registration      Truth // an effective registration certificate is aboard (91.203(a))
	Limitations       Truth // the current approved flight manual or, where none is required, what serves instead (91.9(b))
	WeightBalance     Truth // weight and balance data are aboard
	WeightBalanceFits Truth // they are those of the equipment that is installed now
	RadioLicence      Truth // the licence of the aircraft's radio station is aboard

	RegistrationThrough Fact[Date] // the last day of the registration
	RadioThrough        Fact[Date] // the last day of the radio licence
}
