package oracle

import "slices"

// serving are the units that do the job of an item, as far as they are on record.
func (s *scene) serving(item string) []unit {
	var found []unit
	for _, u := range s.units {
		if slices.Contains(u.jobs, item) {
			found = append(found, u)
		}
	}
	return found
}

// atLeast says whether n units of an item work.
func (s *scene) atLeast(n int, item string) truth {
	surely, perhaps := 0, 0
	for _, u := range s.serving(item) {
		switch u.works {
		case yes:
			surely++
			perhaps++
		case unknown:
			perhaps++
		}
	}
	return s.reaches(n, surely, perhaps)
}

// reaches says whether a count that lies between surely and perhaps comes to n, given that units may not be on record.
func (s *scene) reaches(n, surely, perhaps int) truth {
	switch {
	case surely >= n:
		return yes
	case perhaps < n && s.complete() == yes:
		return no
	}
	return unknown
}

// works says whether some unit of an item works.
func (s *scene) works(item string) truth { return s.atLeast(1, item) }

// eachWorks says whether the places 1 to n (engines, tanks, seats) are each served by a unit of the item that works.
func (s *scene) eachWorks(n *int, item string) truth {
	if n == nil {
		return unknown
	}
	result := yes
	for place := 1; place <= *n; place++ {
		surely, perhaps := 0, 0
		for _, u := range s.serving(item) {
			if !slices.Contains(u.Serves, place) && !(len(u.Serves) == 0 && *n == 1) {
				continue
			}
			switch u.works {
			case yes:
				surely++
				perhaps++
			case unknown:
				perhaps++
			}
		}
		result = all(result, s.reaches(1, surely, perhaps))
	}
	return result
}

// seatsServed says whether working units of an item serve n persons. A unit that names no seats serves one.
func (s *scene) seatsServed(n *int, item string) truth {
	if n == nil {
		return unknown
	}
	surely, perhaps := map[int]bool{}, map[int]bool{}
	looseSurely, loosePerhaps := 0, 0
	for _, u := range s.serving(item) {
		if u.works == no {
			continue
		}
		if len(u.Serves) == 0 {
			loosePerhaps++
			if u.works == yes {
				looseSurely++
			}
		}
		for _, seat := range u.Serves {
			perhaps[seat] = true
			if u.works == yes {
				surely[seat] = true
			}
		}
	}
	return s.reaches(*n, len(surely)+looseSurely, len(perhaps)+loosePerhaps)
}

// everyOneWorks says whether all units of an item that are on record work; yes when there is none.
func (s *scene) everyOneWorks(item string) truth {
	result := yes
	for _, u := range s.serving(item) {
		result = all(result, u.works)
	}
	return result
}

// wholeSystemWorks says whether there is a unit of an item and all of them work.
func (s *scene) wholeSystemWorks(item string) truth {
	present := s.reaches(1, len(s.serving(item)), len(s.serving(item)))
	return all(present, s.everyOneWorks(item))
}
