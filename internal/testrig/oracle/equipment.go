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
	units := s.serving(item)
	return s.reaches(n, working(units), units)
}

func working(units []unit) int {
	n := 0
	for _, u := range units {
		if u.works {
			n++
		}
	}
	return n
}

// reaches says whether a count among units comes to n. That too few are on record does not show that there are too few,
// unless the record is complete; but where one of them is out of action, it is that one which is missing.
func (s *scene) reaches(n, count int, among []unit) truth {
	switch {
	case count >= n:
		return yes
	case s.complete() == yes || working(among) < len(among):
		return no
	}
	return unknown
}

// works says whether some unit of an item works.
func (s *scene) works(item string) truth { return s.atLeast(1, item) }

// eachWorks says whether the places 1 to n (engines, tanks, seats) are each served by a unit of the item that works. A
// unit whose place is not on record may serve any one of them.
func (s *scene) eachWorks(n *int, item string) truth {
	if n == nil {
		return unknown
	}
	units := s.serving(item)
	var loose []unit
	for _, u := range units {
		if len(u.Serves) == 0 {
			loose = append(loose, u)
		}
	}
	without := 0
	for place := 1; place <= *n; place++ {
		if !slices.ContainsFunc(units, func(u unit) bool { return u.works && slices.Contains(u.Serves, place) }) {
			without++
		}
	}
	if without > 0 && working(loose) >= without && working(loose) < len(loose) {
		return unknown // which place the one that is out of action serves is not on record
	}
	return s.reaches(without, working(loose), units)
}

// seatsServed says whether working units of an item serve n persons. A unit that names no seats serves one.
func (s *scene) seatsServed(n *int, item string) truth {
	if n == nil {
		return unknown
	}
	units := s.serving(item)
	seats, loose := map[int]bool{}, 0
	for _, u := range units {
		if !u.works {
			continue
		}
		if len(u.Serves) == 0 {
			loose++
		}
		for _, seat := range u.Serves {
			seats[seat] = true
		}
	}
	return s.reaches(*n, len(seats)+loose, units)
}

// everyOneWorks says whether all units of an item work. Where there is none on record, that is not known.
func (s *scene) everyOneWorks(item string) truth {
	units := s.serving(item)
	switch {
	case working(units) < len(units):
		return no
	case len(units) > 0:
		return yes
	case s.complete() == yes:
		return no
	}
	return unknown
}

// fitted says whether the aircraft is equipped with an item. What has been taken out is not fitted any more.
func (s *scene) fitted(item string) truth {
	units := s.serving(item)
	if slices.ContainsFunc(units, func(u unit) bool { return !s.removed(u) }) {
		return yes
	}
	if len(units) > 0 || s.complete() == yes {
		return no
	}
	return unknown
}

// removed says whether a squawk says of a unit that it has been taken out.
func (s *scene) removed(u unit) bool {
	for _, d := range s.defects {
		if d.Unit == u.ID && d.Deferral != nil && d.Deferral.Method == "removed" && d.Deferral.MethodDone {
			return true
		}
	}
	return false
}
