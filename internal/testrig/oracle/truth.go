package oracle

// truth has three values. The zero value is unknown, so that what nobody set is never taken for a yes or a no.
type truth int8

const (
	unknown truth = iota
	no
	yes
)

// known is the truth of a fact that may be absent.
func known(fact *bool) truth {
	if fact == nil {
		return unknown
	}
	return certain(*fact)
}

// certain is the truth of something that is known.
func certain(b bool) truth {
	if b {
		return yes
	}
	return no
}

// not turns yes and no round; the unknown stays unknown.
func not(t truth) truth {
	switch t {
	case yes:
		return no
	case no:
		return yes
	case unknown:
	}
	return unknown
}

// all is yes when every one is yes, no when some one is no.
func all(ts ...truth) truth {
	result := yes
	for _, t := range ts {
		if t == no {
			return no
		}
		if t == unknown {
			result = unknown
		}
	}
	return result
}

// some is yes when some one is yes, no when every one is no.
func some(ts ...truth) truth {
	result := no
	for _, t := range ts {
		if t == yes {
			return yes
		}
		if t == unknown {
			result = unknown
		}
	}
	return result
}

// either is the answer that holds whichever way an unsettled question comes out.
func either(question, ifYes, ifNo truth) truth {
	switch {
	case question == yes:
		return ifYes
	case question == no:
		return ifNo
	case ifYes == ifNo:
		return ifYes
	}
	return unknown
}
